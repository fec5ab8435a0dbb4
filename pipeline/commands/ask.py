"""Commands that ask: the answers, one figure, where it came from, what is held, what waits."""

import argparse
import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline import look
from pipeline.commands.common import FINE, HELD, Adder, as_of_flags, asked_for, find, plain_figure, told, width
from pipeline.errors import BadUsage
from pipeline.programme import open_programme
from pipeline.run import LATEST

if TYPE_CHECKING:
    from pipeline.indicators.figure import Figure

NOTHING_HELD = "Nothing is held.\n"


def add(command: Adder) -> None:
    """Register them."""
    c = command("show", _show, "Show the three answers for every site, or one figure in full")
    c.add_argument("figure", nargs="?", default="", help="a figure's id, or the beginning of it")
    c.add_argument("--all", action="store_true", help="every figure, a line each")
    c.add_argument(
        "--methods", action="store_true", help="a table a method: recruits, retention and costs side by side"
    )
    c.add_argument("--site", default="", metavar="KEY", help="only the figures of this site")
    as_of_flags(c)
    c = command(
        "home", _home, "Lead a figure, or a record of an archive, home: to every drop, sheet and row it rests on"
    )
    c.add_argument("figure", help="a figure's id, or the beginning of it; or an identifier of an archive, in full")
    c.add_argument(
        "--beside", action="store_true", help="also every row that stands beside it: days, areas, comparisons"
    )
    as_of_flags(c)
    c = command("evidence", _evidence, "Make a programme of only the rows a figure rests on; it gives the same figure")
    c.add_argument("figure", help="a figure's id, or the beginning of it")
    c.add_argument("folder", type=Path, help="a new folder for it")
    as_of_flags(c)
    c = command("held", _held, "List what is held, by partner and cause")
    c.add_argument("--rows", action="store_true", help="every held part, with its name")
    as_of_flags(c)
    c = command("waiting", _waiting, "List conflicts and questions that wait for a ruling, and what was said")
    c.add_argument("thing", nargs="?", default="", help="one of them in full: as the list shows it, or its whole key")
    c.add_argument("--rows", action="store_true", help="every one of the questions that one file left")
    c.add_argument("--settled", action="store_true", help="the rulings that were put instead: what, by whom, why")
    as_of_flags(c)
    as_of_flags(command("standing", _standing, "List what waits or carries a caution, and why"))


def _show(args: argparse.Namespace) -> int:
    from pipeline.outputs import screen
    from pipeline.outputs.methods import compared, methods
    from pipeline.outputs.summary import summary

    asked = asked_for(args)
    figures, as_of = look.figures(args.programme, asked)
    behind = look.behind(args.programme)
    if behind and not args.recorded:
        print(f"wrackline: {behind}", file=sys.stderr)
    if args.site:
        figures = _of_site(figures, args.site)
    if args.figure:
        f = find(figures, args.figure)
        told(args, plain_figure(f), screen.one_figure(f, as_of, width()))
        return FINE
    if args.methods:
        figures = compared(figures) if args.json else figures
    if args.json:
        text = ""
    elif args.methods:
        text = methods(figures, as_of, open_programme(args.programme).rules.name, width())
    elif args.all:
        text = screen.every_figure(figures, width())
    else:
        name, sites = open_programme(args.programme).rules.name, look.sites(args.programme, asked or LATEST)
        text = summary(figures, as_of, name, sites, width(), "" if asked else look.still_open(args.programme))
    told(args, [plain_figure(f) for f in figures], text)
    return FINE


def _of_site(figures: "list[Figure]", site: str) -> "list[Figure]":
    found = [f for f in figures if f.of("site") == site]
    if not found:
        known = ", ".join(sorted({f.of("site") for f in figures} - {""})) or "none"
        raise BadUsage(f"--site {site}: no figure is of it. Sites with figures: {known}.")
    return found


def _home(args: argparse.Namespace) -> int:
    from pipeline.outputs import screen
    from pipeline.outputs.layout import paragraph

    asked = asked_for(args)
    if ":" in args.figure:  # no figure's id has one
        homes, said = look.lead_archived_home(args.programme, args.figure), look.said_of_archived(args.figure)
    else:
        figures, _ = look.figures(args.programme, asked)
        homes, said = look.lead_home(args.programme, find(figures, args.figure), asked or LATEST), ""
    first = "\n".join([*paragraph("", said, 0, width()), "", ""]) if said else ""
    told(args, [asdict(h) for h in homes], first + screen.rows_home(homes, beside=args.beside, width=width()))
    return FINE


def _warn(args: argparse.Namespace) -> None:
    """Say so when what is told is older than the ledger, and nobody asked for older."""
    behind = "" if args.recorded else look.unprojected(args.programme)
    if behind:
        print(f"wrackline: {behind}", file=sys.stderr)


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

    _warn(args)
    asked = asked_for(args) or LATEST
    if args.rows:
        rows = look.held_rows(args.programme, asked)
        told(args, [asdict(h) for h in rows], screen.held_rows(rows, width()) if rows else NOTHING_HELD)
        return HELD if rows else FINE
    causes = look.held(args.programme, asked)
    told(args, [asdict(h) for h in causes], screen.held_causes(causes, width()) if causes else NOTHING_HELD)
    return HELD if causes else FINE


def _waiting(args: argparse.Namespace) -> int:
    from pipeline.outputs import screen, side_by_side

    _warn(args)
    if args.settled:
        made = look.rulings(args.programme, asked_for(args) or LATEST)
        told(args, [asdict(r) for r in made], screen.rulings(made, width()) if made else "Nothing was ruled on yet.\n")
        return FINE
    said = look.waiting(args.programme, asked_for(args) or LATEST)
    if args.thing:
        said = look.one_that_waits(said, args.thing)
        text = side_by_side.in_full(said, width())
    else:
        text = side_by_side.waiting(said, args.rows, width()) if said else "Nothing waits for a ruling.\n"
    told(args, [asdict(q) for q in said], text)
    return HELD if said else FINE


def _standing(args: argparse.Namespace) -> int:
    from pipeline.outputs import screen

    _warn(args)
    rows = look.standing(args.programme, asked_for(args) or LATEST)
    names = ("kind", "effect", "rule", "for_instance", "events")
    text = screen.standing(rows, width()) if rows else "Every event stands without caution.\n"
    told(args, [dict(zip(names, r, strict=True)) for r in rows], text)
    return FINE
