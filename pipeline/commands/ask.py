"""Commands that ask: the answers, one figure, where it came from, what is held, what waits."""

import argparse
import sys
from dataclasses import asdict
from pathlib import Path

from pipeline import look
from pipeline.commands.common import FINE, HELD, Adder, as_of_flags, asked_for, find, plain_figure, told
from pipeline.programme import open_programme
from pipeline.run import LATEST


def add(command: Adder) -> None:
    """Register them."""
    c = command("show", _show, "Show the three answers for every site, or one figure in full")
    c.add_argument("figure", nargs="?", default="", help="a figure's id, or the beginning of it")
    c.add_argument("--all", action="store_true", help="every figure, a line each")
    as_of_flags(c)
    c = command("home", _home, "Lead a figure home: to every drop, sheet and row it rests on")
    c.add_argument("figure", help="a figure's id, or the beginning of it")
    as_of_flags(c)
    c = command("evidence", _evidence, "Make a programme of only the rows a figure rests on; it gives the same figure")
    c.add_argument("figure", help="a figure's id, or the beginning of it")
    c.add_argument("folder", type=Path, help="a new folder for it")
    as_of_flags(c)
    c = command("held", _held, "List what is held, by partner and cause")
    c.add_argument("--rows", action="store_true", help="every held part, with its name")
    as_of_flags(c)
    as_of_flags(command("waiting", _waiting, "List conflicts and questions that wait for a ruling, and what was said"))
    as_of_flags(command("standing", _standing, "List what waits or carries a caution, and why"))


def _show(args: argparse.Namespace) -> int:
    from pipeline.outputs import screen

    figures, as_of = look.figures(args.programme, asked_for(args))
    behind = look.behind(args.programme)
    if behind and not args.recorded:
        print(f"wrackline: {behind}", file=sys.stderr)
    if args.figure:
        f = find(figures, args.figure)
        told(args, plain_figure(f), screen.one_figure(f, as_of))
        return FINE
    if args.all:
        rows = [
            [
                f.id,
                f.indicator,
                " ".join(v for _, v in f.scope),
                screen.value_text(f.estimate),
                screen.interval_text(f.estimate),
                f.estimate.unit,
            ]
            for f in figures
        ]
        text = "\n".join(screen.table(["figure", "indicator", "of", "value", "interval", "unit"], rows, (3, 4))) + "\n"
    else:
        text = screen.summary(figures, as_of, open_programme(args.programme).rules.name)
    told(args, [plain_figure(f) for f in figures], text)
    return FINE


def _home(args: argparse.Namespace) -> int:
    from pipeline.outputs import screen

    asked = asked_for(args)
    figures, _ = look.figures(args.programme, asked)
    homes = look.lead_home(args.programme, find(figures, args.figure), asked or LATEST)
    told(args, [asdict(h) for h in homes], screen.rows_home(homes))
    return FINE


def _evidence(args: argparse.Namespace) -> int:
    asked = asked_for(args)
    figures, _ = look.figures(args.programme, asked)
    figure = find(figures, args.figure)
    same = look.evidence(args.programme, figure, args.folder, asked)
    gives = "the same figure" if same else "ANOTHER figure: please report this"
    told(args, {"figure": figure.id, "same": same}, f"Made {args.folder} of only those rows; it gives {gives}.\n")
    return FINE if same else 1


def _held(args: argparse.Namespace) -> int:
    from pipeline.outputs import screen

    if args.rows:
        parts = look.held_rows(args.programme, asked_for(args) or LATEST)
        lines = screen.table(
            ["part", "partner", "file", "row", "kind", "why"],
            [[h.name, h.partner, h.file, str(h.row), h.kind, h.why] for h in parts],
            (3,),
        )
        told(args, [asdict(h) for h in parts], "\n".join(lines) + "\n")
        return HELD if parts else FINE
    rows = look.held(args.programme, asked_for(args) or LATEST)
    names = ("partner", "file", "kind", "column", "why", "for_instance", "parts")
    told(
        args,
        [dict(zip(names, r, strict=True)) for r in rows],
        screen.held_parts(rows) if rows else "Nothing is held.\n",
    )
    return HELD if rows else FINE


def _waiting(args: argparse.Namespace) -> int:
    from pipeline.outputs import screen

    said = look.waiting(args.programme, asked_for(args) or LATEST)
    rows = [[q.identity[:8], q.kind, q.key, q.content[:8], q.said_as, q.partner, q.file, str(q.row)] for q in said]
    names = ("waits", "kind", "key", "said", "as", "partner", "file", "row")
    text = (
        "\n".join(screen.table(names, rows, (7,)))
        + "\n\nTo rule: wrackline settle WAITS SAID --by NAME --reason TEXT\n"
    )
    told(args, [asdict(q) for q in said], text if rows else "Nothing waits for a ruling.\n")
    return HELD if rows else FINE


def _standing(args: argparse.Namespace) -> int:
    from pipeline.outputs import screen

    rows = look.standing(args.programme, asked_for(args) or LATEST)
    names = ("kind", "effect", "rule", "for_instance", "events")
    text = (
        "\n".join(screen.table(names, [[*r[:4], str(r[4])] for r in rows], (4,))) + "\n"
        if rows
        else "Every event stands without caution.\n"
    )
    told(args, [dict(zip(names, r, strict=True)) for r in rows], text)
    return FINE
