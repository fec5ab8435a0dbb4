"""`wrackline`: the parser made of every topic in `commands/`, one command run, an exit code for each outcome."""

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

from pipeline import disk
from pipeline.commands import archive, ask, blank, care, decide, flow, forms, gate, night, suggest, trial
from pipeline.commands.common import FINE, Do
from pipeline.errors import Stop

ABOUT = """From partners' spreadsheets of kelp restoration to honest numbers, each traceable to its row.

A programme is a folder. Partners' files lie in its inbox; every night `take` reads what is new,
`measure` makes the figures, and `show` and `home` tell what they are and where they came from."""

CODES = """exit codes: 0 fine   2 the command or one of the programme's own files is not as it must be
            3 fine, but parts are held: see the letters   4 the ledger is damaged   5 another run is at work
            6 the disk, its permissions or memory stopped the run
            7 an archive may not leave: a planting would pass as wild, or repositories would drop rows or refuse it
            8 a figure moved and nothing explains it"""

TOPICS = (flow, night, suggest, blank, trial, ask, decide, archive, gate, care, forms)


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; gives its exit code."""
    argv = sys.argv[1:] if argv is None else argv
    args = _parser().parse_args(argv or ["--help"])
    try:
        with disk.privately():  # what a programme holds is its owner's: partners' rows, people's codes
            done: int = args.do(args)
        return done
    except Stop as e:
        print(f"wrackline: {e}", file=sys.stderr)
        return e.exit_code
    except BrokenPipeError:
        sys.stderr.close()
        return FINE


def _parser() -> argparse.ArgumentParser:
    shape = argparse.RawDescriptionHelpFormatter
    parser = argparse.ArgumentParser(prog="wrackline", description=ABOUT, epilog=CODES, formatter_class=shape)
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", dest="command", required=True)

    def command(name: str, do: Do, says: str, folder: bool = True) -> argparse.ArgumentParser:
        short = says.split(". ", maxsplit=1)[0].rstrip(".")
        made = commands.add_parser(name, help=short, description=says, epilog=CODES, formatter_class=shape)
        if folder:
            made.add_argument(
                "-p",
                "--programme",
                type=Path,
                default=Path(),
                metavar="FOLDER",
                help="the programme's folder (this one if not given)",
            )
        made.add_argument("--json", action="store_true", help="for programs: one JSON text instead of tables")
        made.set_defaults(do=do)
        return made

    for topic in TOPICS:
        topic.add(command)
    return parser


if __name__ == "__main__":
    sys.exit(main())
