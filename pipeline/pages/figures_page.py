"""Figures told in full, a page for each site, topic and round, with the rows behind them.

A row stands once on a page, marked with the sets of rows it belongs to; a link to a figure hides, by CSS alone, every
row that is not behind it. What rests on very many rows names files and row numbers instead; where those are many as well, how
many of which rows they are, and by which command each is told.
"""

from collections import defaultdict
from collections.abc import Sequence
from typing import Any

from pipeline.pages.shell import Shell, in_order
from pipeline.pages.told import Row, Span, runs_of

LISTED = 1500  # rows behind one figure that are listed one by one
MOST = 2000  # rows listed on one page
RUNS = 500  # runs of rows of one file that are told one by one


def figures_page(shell: Shell, path: str) -> bytes:
    """The page of all figures that the shell's values hold."""
    behind, figures = shell.told.behind, in_order(shell.told.figures)
    sets: dict[tuple[int, ...], int] = {}
    listed: dict[int, list[int]] = defaultdict(list)
    shown = []
    for f in figures:
        mine, spans = behind.places.get(f.id, ()), list(behind.spans.get(f.id, ()))
        entry: dict[str, Any] = {"figure": f, "rows": len(mine) + sum(s.count for s in spans), "set": None}
        if mine in sets:
            entry["set"] = sets[mine]
        elif mine and len(listed.keys() | set(mine)) <= MOST:
            entry["set"] = sets[mine] = len(sets)
            for at in mine:
                listed[at].append(sets[mine])
        elif mine:
            spans = [*_spans([behind.rows[at] for at in mine]), *spans]
        entry["spans"] = [(s, _told(s.runs)) for s in spans]
        shown.append(entry)
    rows = [(behind.rows[at], " ".join(f"s{n}" for n in marks)) for at, marks in sorted(listed.items())]
    first = figures[0]
    of = (shell.words("all sites") if first.of("site") in ("", "all") else first.of("site"), shell.topic_of(first))
    heading = ", ".join(t for t in (*of, shell.words.when(first.of("survey") or first.of("season"))) if t)
    return shell.page("figures.html", path, shown=shown, rows=rows, site=first.of("site"), heading=heading)


def _spans(rows: Sequence[Row]) -> list[Span]:
    """Rows told by their files and numbers."""
    files: dict[tuple[str, str, str, int], list[int]] = defaultdict(list)
    for r in rows:
        files[r.partner, r.file, r.sheet, r.receipt].append(r.row)
    return [Span(*key, len(numbers), runs_of(numbers)) for key, numbers in sorted(files.items())]


def _told(runs: Sequence[tuple[int, int]]) -> str:
    """Row numbers, runs as from–to; "" where these are too many to be read."""
    return ", ".join(f"{a}–{b}" if b > a else str(a) for a, b in runs) if len(runs) <= RUNS else ""
