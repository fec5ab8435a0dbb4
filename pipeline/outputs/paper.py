"""A letter or page to a partner: lines of a few sorts, written out as plain text and as a page that prints.

The page asks for nothing from outside; everything in it is escaped.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from itertools import groupby

from pipeline.outputs.layout import paragraph, plain

WIDTH = 96
TITLE, TEXT, HEAD, CAUSE, FACT, ITEM, POINT, BELOW, UNDER, SMALL = (
    "title", "text", "head", "cause", "fact", "item", "point", "below", "under", "small",
)  # fmt: skip
_WRAPPED = {TEXT, HEAD, POINT, BELOW}  # a fault's row stays on one line, however long
_LISTED = {ITEM, POINT, BELOW, UNDER}

STYLE = """:root { --ink: #16262b; --soft: #4a5a60; --line: #b9c4c6; --sand: #f4f1ea; }
html { font: 16px/1.5 "Atkinson Hyperlegible", "Source Sans 3", "Segoe UI", "Noto Sans", "DejaVu Sans", sans-serif; color: var(--ink); background: #fff; }
body { margin: 0 auto; max-width: 46rem; padding: 0 1.2rem 3rem; }
h1 { font-size: 1.5rem; line-height: 1.25; margin: 1.4rem 0 0.4rem; }
h2 { font-size: 1.15rem; margin: 2rem 0 0.4rem; padding-top: 0.5rem; border-top: 2px solid var(--ink); }
h3 { font-size: 1.02rem; margin: 1.4rem 0 0.2rem; }
p, ul { margin: 0.3rem 0 0.7rem; } ul { padding-left: 1.3rem; } li { margin: 0.15rem 0; overflow-wrap: anywhere; }
p.fact { margin: 0.15rem 0; padding: 0.1rem 0.7rem; border-left: 4px solid var(--line); background: var(--sand); }
li.under { list-style: none; color: var(--soft); } .small { font-size: 0.85rem; color: var(--soft); }
a { color: #0b4a6f; text-underline-offset: 0.15em; } a:focus-visible { outline: 3px solid #0b4a6f; outline-offset: 2px; }
@media print { @page { size: A4; margin: 16mm; } html { font-size: 10.5pt; } body { max-width: none; padding: 0; } h2, h3 { break-after: avoid; } li, p { break-inside: avoid; } }"""


@dataclass(frozen=True)
class Line:
    """One line. sort: how it is set; to: the file beside it that it leads to; gap: a blank line stands before it in plain text."""

    text: str
    sort: str = TEXT
    to: str = ""
    gap: bool = False


@dataclass(frozen=True)
class Paper:
    """A letter or page in one language."""

    language: str
    lines: Sequence[Line]

    def text(self) -> str:
        """As plain text."""
        made: list[str] = []
        for line in self.lines:
            made += [""] if line.gap else []
            made += _plain(line)
        return "\n".join(made) + "\n"

    def page(self) -> str:
        """As a page of its own."""
        title = next(line.text for line in self.lines if line.sort == TITLE)
        body = []
        for is_list, group in groupby(self.lines, key=lambda line: line.sort in _LISTED):
            told = [_marked(line) for line in group]
            body += ["<ul>", *told, "</ul>"] if is_list else told
        return "\n".join([
            "<!doctype html>", f'<html lang="{self.language}">', "<head>", '<meta charset="utf-8">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">', f"<title>{escape(plain(title))}</title>",
            f"<style>\n{STYLE}\n</style>", "</head>", "<body>", *body, "</body>", "</html>", "",
        ])  # fmt: skip


def _plain(line: Line) -> list[str]:
    label, indent = {ITEM: ("   - ", 5), POINT: ("   - ", 5), BELOW: ("     ", 5), UNDER: ("", 8), FACT: ("", 3)}.get(
        line.sort, ("", 0)
    )
    if line.sort in _WRAPPED:
        return paragraph(label, line.text, indent, WIDTH)
    return [(label or " " * indent) + plain(line.text)]


def _marked(line: Line) -> str:
    text = escape(plain(line.text))
    if line.sort == HEAD:  # what it is called is the heading; what is to be known of it stands below
        head, __, rest = text.partition(". ")
        return f"<h2>{head.removesuffix('.')}</h2>" + (f"\n<p>{rest}</p>" if rest else "")
    if line.to:
        name = escape(line.to)
        there = re.sub(r"\.txt$", ".html", name)  # every letter lies there in both forms
        text = text.replace(name, f'<a href="{there}">{there}</a>', 1)
    tag, sort = {
        TITLE: ("h1", ""), CAUSE: ("h3", ""), ITEM: ("li", ""), POINT: ("li", ""), BELOW: ("li", UNDER), UNDER: ("li", UNDER), FACT: ("p", FACT),
        SMALL: ("p", SMALL),
    }.get(line.sort, ("p", ""))  # fmt: skip
    return f"<{tag}>{text}</{tag}>" if not sort else f'<{tag} class="{sort}">{text}</{tag}>'
