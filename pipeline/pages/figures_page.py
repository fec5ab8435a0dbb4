"""Figures told in full, a page for each site, topic and round, with the rows behind them.

A row stands once on a page, marked with the sets of rows it belongs to; a link to a figure hides, by CSS alone, every
row that is not behind it. What rests on very many rows names files and row numbers instead: nothing is left out.
"""

from collections import defaultdict
from collections.abc import Sequence
from typing import Any

from pipeline.pages.shell import Shell, in_order

LISTED = 1500  # rows behind one figure that are listed one by one
MOST = 2000  # rows listed on one page


def figures_page(shell: Shell, path: str) -> bytes:
    """The page of all figures that the shell's values hold."""
    told, figures = shell.told, in_order(shell.told.figures)
    sets: dict[tuple[int, ...], int] = {}
    listed: dict[int, list[int]] = defaultdict(list)
    shown = []
    for f in figures:
        behind = told.behind.get(f.id, ())
        entry: dict[str, Any] = {"figure": f, "rows": len(behind), "set": None, "spans": []}
        if behind in sets:
            entry["set"] = sets[behind]
        elif behind and len(behind) <= LISTED and len(listed.keys() | set(behind)) <= MOST:
            entry["set"] = sets[behind] = len(sets)
            for at in behind:
                listed[at].append(sets[behind])
        elif behind:
            entry["spans"] = _spans(shell, behind)
        many = told.spans.get(f.id, ())
        entry["rows"] += sum(s.count for s in many)
        entry["spans"] += [(s.partner, s.file, s.sheet, s.receipt, f"{s.first}–{s.last}") for s in many]
        shown.append(entry)
    rows = [(told.rows[at], " ".join(f"s{n}" for n in marks)) for at, marks in sorted(listed.items())]
    first = figures[0]
    of = (shell.words("all sites") if first.of("site") in ("", "all") else first.of("site"), shell.topic_of(first))
    heading = ", ".join(t for t in (*of, shell.words.when(first.of("survey") or first.of("season"))) if t)
    return shell.page("figures.html", path, shown=shown, rows=rows, site=first.of("site"), heading=heading)


def _spans(shell: Shell, behind: Sequence[int]) -> list[tuple[str, str, str, int, str]]:
    """Partner, file, sheet, receipt and row numbers, runs as from–to."""
    files: dict[tuple[str, str, str, int], list[int]] = defaultdict(list)
    for at in behind:
        r = shell.told.rows[at]
        files[r.partner, r.file, r.sheet, r.receipt].append(r.row)
    return [(*key, _runs(rows)) for key, rows in sorted(files.items())]


def _runs(numbers: Sequence[int]) -> str:
    runs: list[list[int]] = []
    for n in sorted(set(numbers)):
        if runs and n == runs[-1][-1] + 1:
            runs[-1].append(n)
        else:
            runs.append([n])
    return ", ".join(f"{r[0]}–{r[-1]}" if len(r) > 1 else str(r[0]) for r in runs)
