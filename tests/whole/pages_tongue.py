"""Finds what was left English on a page of another language: runs of words that its English twin holds too."""

import re
from collections.abc import Mapping
from functools import cache, lru_cache
from html.parser import HTMLParser

RUN = 3  # words in a row that two languages do not share by chance

# What stays as it is in every language, with the reason.
KEPT = {
    "names": ("Outer Reach kelp programme", "Harbour Office of the Outer Reach"),
    "the programme's and its partners' own words": (
        "a quarter of the forest", "recruits came", "rock with urchins", "two bolts and a mark buoy", "by six belts",
        "mark buoy gone, searched", "marks overgrown after the winter, site not found again", "invented for the demo",
        "bags, cotton and bolts", "cool room lent by the harbour", "evenings of planning", "insurance of the works",
        "mark buoys and bolts", "skipper and crane", "survived a week at up to", "new fixing plate", "cotton and jute",
        "permits and notices", "units put down",
    ),
    "names of files and commands": ("wrackline home", "out/letters/", "standing.txt"),
    "standard terms and units": ("EUR per ha", "per m2", "per m²"),
}  # fmt: skip
_KEPT = re.compile("|".join(re.escape(k) for kept in KEPT.values() for k in sorted(kept, key=len, reverse=True)))
_CITED = re.compile(r"[^;|]*\b(19|20)\d\d, [A-Z][^;|]*")  # what was published stands as its title does


# of files, behind figures: most of a page, and not ours; the first of a run stays for the labels of its cells
_ROWS = re.compile(r'(<tr class="r .*?</tr>)(?:\s*<tr class="r .*?</tr>)+', re.S)


class _Texts(HTMLParser):
    """The texts of a page, but for styles, species' names, and the rows of files behind figures."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self.aside = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Opens a part; what a screen reader says of it counts as text."""
        told = dict(attrs)
        if tag in ("style", "i") or (tag == "tr" and (told.get("class") or "").startswith("r ")):
            self.aside += 1
        self.found += [text for name in ("aria-label", "data-label") if (text := told.get(name))]

    def handle_endtag(self, tag: str) -> None:
        """Closes it."""
        if self.aside and tag in ("style", "i", "tr"):
            self.aside -= 1

    def handle_data(self, data: str) -> None:
        """A text."""
        if not self.aside and data.strip():
            self.found.append(" ".join(data.split()))


@lru_cache(maxsize=512)  # a page is looked through in several ways, and its English twin for every language
def texts(html: str) -> tuple[str, ...]:
    """The texts of a page that are ours to translate."""
    reader = _Texts()
    reader.feed(_ROWS.sub(r"\1", html))
    return tuple(reader.found)


@cache  # most texts stand on many pages
def _runs(text: str) -> frozenset[str]:
    found = set[str]()
    for part in re.split(r"[|;:.,()·“”«»]", _CITED.sub("|", _KEPT.sub("|", text))):
        words = re.findall(r"(?<![\w-])[^\W\d_]{2,}(?:'[a-z]+)?(?![\w-])", part)
        runs = (words[i : i + RUN] for i in range(len(words) - RUN + 1))
        found |= {" ".join(run).lower() for run in runs if all(w.islower() for w in run)}
    return frozenset(found)


_ISO = re.compile(r"(?<![\w.-])\d{4}-(0[1-9]|1[0-2])(-\d\d)?(?![\w-])(?! \d+ \|)")  # but in a dive's own name


def left_iso(page: str) -> list[str]:
    """Texts of a page that tell a day or a month as computers do."""
    return [text for text in texts(page) if _ISO.search(text)]


def left_codes(page: str, words: Mapping[str, str]) -> list[str]:
    """Texts of a page of which a part is a word of our columns, told in English. words: what each is called."""
    foreign = {code for code, said in words.items() if said != code}
    return [text for text in texts(page) if {part.strip() for part in re.split("[,;:·()]", text)} & foreign]


def left_english(page: str, english: str) -> list[str]:
    """Texts of a page that hold a run of words of its English twin."""
    theirs = {run for text in texts(english) for run in _runs(text)}
    return sorted({text for text in texts(page) if _runs(text) & theirs})
