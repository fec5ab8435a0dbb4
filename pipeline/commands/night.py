"""Commands of the nights: play one, and print how they are run by themselves."""

import argparse
import sys
from pathlib import Path

from pipeline import alerts, night, run
from pipeline.commands.common import FINE, Adder, day_named, told
from pipeline.errors import BadUsage
from pipeline.programme import open_programme


def add(command: Adder) -> None:
    """Register them."""
    c = command(
        "night",
        _night,
        "Do all that a night does: take in, verify, measure, write letters, tell what changed. For cron or a timer; "
        "out/changed.html and out/changed.txt tell what changed, out/alerts/ what somebody must hear of.",
    )
    c.add_argument("--day", default="", help="whose night it is, such as 2025-04-18; today if not given")
    c.add_argument("--quiet", action="store_true", help="do not say each step on standard error")
    c.add_argument("--dagster", action="store_true", help="play the same steps through Dagster, in this process")
    c = command("recipe", _recipe, "Print how nights are run by themselves, filled in for this programme")
    c.add_argument("which", choices=("cron", "systemd", "container", "dagster"))
    c.add_argument("--into", type=Path, default=None, metavar="FOLDER", help="write the files there instead")


def _night(args: argparse.Namespace) -> int:
    def say(text: str) -> None:
        if not args.quiet:
            print(text, file=sys.stderr)

    root, day = args.programme, day_named(args.day)
    if day and day > run.tonight(open_programme(root)):
        raise BadUsage(
            f"--day {day} is still to come, and an embargo would end before its day. Name one that has been."
        )
    if args.dagster:
        from pipeline.definitions import play
    else:
        play = night.play
    code: int = play(root, day, say)
    text = (open_programme(root).places.out / "changed.txt").read_text()
    standing = alerts.standing(root)
    plain = {"exit": code, "changed": text, "alerts": standing}
    told(args, plain, text + "".join(f"ALERT {name}: {words}" for name, words in standing.items()))
    return code


def _recipe(args: argparse.Namespace) -> int:
    from pipeline.recipes import recipe, write

    if args.into is not None:
        made = write(args.programme, args.which, args.into)
        told(args, {"written": [str(p) for p in made]}, "".join(f"Wrote {p}\n" for p in made))
        return FINE
    files = recipe(args.programme, args.which)
    told(args, files, "\n".join(f"# --- {name} ---\n{text}" for name, text in files.items()))
    return FINE
