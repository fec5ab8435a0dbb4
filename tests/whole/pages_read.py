"""What a browser makes of a folder of pages, without one: tags, attributes, links and the texts of figures."""

from html.parser import HTMLParser
from pathlib import Path

VOID = {"meta", "link", "br", "hr", "img", "input", "col", "line", "rect", "circle", "path"}


class Page(HTMLParser):
    """One page: its ids, links, tags that stay open, texts of its articles by id."""

    def __init__(self, path: Path) -> None:
        super().__init__()
        self.ids: list[str] = []
        self.links: list[str] = []
        self.tags: set[str] = set()
        self.handlers: list[str] = []
        self.open: list[str] = []
        self.broken: list[str] = []
        self.articles: dict[str, str] = {}
        self.classes: dict[str, list[str]] = {}
        self._article = ""
        self._row: list[str] | None = None
        self.text = ""
        self.rows: list[tuple[str, list[str]]] = []
        self.feed(path.read_text(encoding="utf-8"))
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        told = dict(attrs)
        self.tags.add(tag)
        self.handlers += [n for n, _ in attrs if n.startswith("on")]
        self.ids += [told["id"]] if told.get("id") else []
        self.links += [told[n] or "" for n in ("href", "src") if told.get(n)]
        if tag not in VOID:
            self.open.append(tag)
        if tag == "article":
            self._article = told.get("id") or ""
        if tag == "tr":
            self.rows.append((told.get("class") or "", []))
        if tag in ("td", "th") and self.rows:
            self.rows[-1][1].append("")

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.open.pop()

    def handle_endtag(self, tag: str) -> None:
        if tag in VOID:
            return
        if not self.open or self.open.pop() != tag:
            self.broken.append(tag)
        if tag == "article":
            self._article = ""

    def handle_data(self, data: str) -> None:
        self.text += data
        if self._article:
            self.articles[self._article] = self.articles.get(self._article, "") + data
        if self.open and self.open[-1] in ("td", "th") and self.rows and self.rows[-1][1]:
            self.rows[-1][1][-1] += data


def read(folder: Path) -> dict[str, Page]:
    """Every page of a folder by its path in it."""
    return {p.relative_to(folder).as_posix(): Page(p) for p in sorted(folder.rglob("*.html"))}


def dangling(folder: Path, pages: dict[str, Page]) -> list[str]:
    """Links that lead to no file or to no place in it, and those that lead outside."""
    wrong = []
    for name, page in pages.items():
        for link in page.links:
            path, _, anchor = link.partition("#")
            if link.startswith("data:"):
                continue
            to = (folder / name).parent / path if path else folder / name
            there = "://" not in link and to.is_file()
            if not there or (anchor and anchor not in pages[to.resolve().relative_to(folder.resolve()).as_posix()].ids):
                wrong.append(f"{name}: {link}")
    return wrong
