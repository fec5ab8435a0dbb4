"""The command that makes blank sheets for a partner."""

import argparse
from pathlib import Path

from pipeline import disk
from pipeline.commands.common import FINE, Adder, told
from pipeline.errors import BadUsage


def add(command: Adder) -> None:
    """Register it."""
    c = command(
        "blank",
        _blank,
        "Make a blank workbook for a partner: its headings, drop-down lists, checks, instructions. Filled in and laid into "
        "the partner's inbox under any name, it is taken in without a mapping.",
    )
    c.add_argument("partner", help="who will fill it in")
    c.add_argument(
        "kinds", nargs="*", metavar="KIND", help="kinds of event, a sheet each (`wrackline columns` lists them)"
    )
    c.add_argument(
        "--visit", default="", metavar="SITE", help="for the next visit to a site: its units and frames are given"
    )
    c.add_argument(
        "--language", default="", metavar="CODE", help="en, es, pt, fr or nb; the partner's own if not given"
    )
    c.add_argument(
        "--out", type=Path, default=None, metavar="FILE", help="where to write instead of out/blanks/PARTNER/"
    )


def _blank(args: argparse.Namespace) -> int:
    from pipeline.blank_visits import VISIT, blank_visit
    from pipeline.blanking import blank, desk

    at = desk(args.programme, args.partner, args.language)
    if args.visit:
        kinds = args.kinds or list(VISIT)
        data, name = blank_visit(args.programme, at, args.visit, kinds), f"visit {args.visit}"
    elif args.kinds:
        data, name = blank(at, list(dict.fromkeys(args.kinds))), " ".join(dict.fromkeys(args.kinds))
    else:
        raise BadUsage("Name the kinds of event, such as `check survey`, or a site with --visit.")
    plain = "".join(c if c.isalnum() or c in " -_" else "_" for c in name)[:80]
    path = args.out or at.programme.places.out / "blanks" / args.partner / f"{plain}.xlsx"
    if args.out is None:
        disk.make_folder(path.parent)
    elif not path.parent.is_dir():
        raise BadUsage(f"{path.parent} is no folder. Make it, or name another file with --out.")
    disk.replace(path, data)
    told(
        args,
        {"written": path, "language": at.said.language},
        f"Wrote {path}. Filled in, it goes into inbox/{args.partner}/ under any name.\n",
    )
    return FINE
