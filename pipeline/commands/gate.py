"""The command that checks an archive before it leaves, ours or anybody's."""

import argparse
import os
from pathlib import Path
from typing import Any

from pipeline.commands.common import FINE, Adder, told, width
from pipeline.errors import BadUsage, KeptBack
from pipeline.gate.rule import EFFECT_WORDS, REPOSITORIES, Finding, Verdict
from pipeline.plural import n_of

STANDARDS = "WRACKLINE_STANDARDS"


def add(command: Adder) -> None:
    """Register it."""
    c = command(
        "gate",
        _gate,
        "Check a Darwin Core Archive by what OBIS and GBIF do with it. Nothing in it is changed",
        folder=False,
    )
    c.add_argument("archive", type=Path, help="a zip file or a folder")
    names = [r.lower() for r in REPOSITORIES]
    c.add_argument("--for", dest="repository", default="", choices=names, help="ask about this repository alone")


def _gate(args: argparse.Namespace) -> int:
    from pipeline.gate.check import check
    from pipeline.run import this_instant

    if not args.archive.exists():
        raise BadUsage(f"{args.archive}: there is nothing. Name a zip file or a folder.")
    asked = (args.repository.upper(),) if args.repository else REPOSITORIES
    folder = os.environ.get(STANDARDS)
    verdict = check(args.archive, this_instant().date(), Path(folder) if folder else None, asked)
    told(args, _plain(verdict), _text(verdict))
    return FINE if verdict.may_leave else KeptBack.exit_code


def _plain(verdict: Verdict) -> dict[str, Any]:
    """The verdict for programs."""
    return {
        "archive": verdict.path,
        "may_leave": verdict.may_leave,
        "rows": dict(verdict.rows),
        "unchecked": verdict.unchecked,
        "findings": [
            {
                "rule": f.rule.name,
                "rows": f.rows,
                "file": f.example.file,
                "row": f.example.row,
                "id": f.example.id,
                "value": f.example.value,
                "wanted": f.rule.wanted,
                "effects": {r: e.name.lower() for r, e in f.rule.effects(verdict.repositories)},
                "source": f.rule.source,
            }
            for f in verdict.findings
        ],
    }


def _text(verdict: Verdict) -> str:
    """The verdict as a table, a line of sums, and what was not looked at."""
    from pipeline.outputs.layout import paragraph, table

    lines = []
    if verdict.findings:
        headings = ("Rule", "Rows", "For instance", "Wanted", "What comes of it")
        rows = [
            (f.rule.name, f"{f.rows:,}", _example(f), f.rule.wanted, _effect(f, verdict.repositories))
            for f in verdict.findings
        ]
        lines = [*table(headings, rows, right=(1,), width=width()), ""]
    lines += paragraph("", _sum(verdict), 0, width())
    for sentence in verdict.unchecked:
        lines += paragraph("Not checked: ", sentence, 13, width())
    return "\n".join(lines) + "\n"


def _example(f: Finding) -> str:
    e = f.example
    where = f"{e.file} row {e.row:,}" if e.row else e.file
    return ": ".join(part for part in (f"{where}, {e.id}" if e.id and e.id != e.value else where, e.value) if part)


def _effect(f: Finding, repositories: tuple[str, ...]) -> str:
    effects = f.rule.effects(repositories)
    if len(effects) == len(repositories) > 1 and len({e for _, e in effects}) == 1:
        return f"{' and '.join(repositories)}: {EFFECT_WORDS[effects[0][1]]}"
    return "; ".join(f"{r}: {EFFECT_WORDS[e]}" for r, e in effects)


def _sum(verdict: Verdict) -> str:
    """What was read, what was found, and whether it may leave."""
    read = ", ".join(f"{n_of(rows, 'row')} of {file}" for file, rows in verdict.rows) or "no row"
    found = n_of(len(verdict.findings), "rule")
    for_whom = " and ".join(verdict.repositories)
    if verdict.stops:
        stops = n_of(len(verdict.stops), "rule")
        return (
            f"Read {read}. {found} hit. By {stops}, rows would be dropped or the dataset refused: "
            f"it may not leave for {for_whom} yet."
        )
    return f"Read {read}. {found} hit, none of them a reason to keep it back: it may leave for {for_whom}."
