"""python -m seeds_demo FOLDER [--units N | --events N] [--seed S] [--one-night]"""

import argparse
import sys
from pathlib import Path

from seeds_demo.world import SEED, UNITS, make


def main(args: list[str] | None = None) -> int:
    """Write a demo into a folder; gives the exit code."""
    parser = argparse.ArgumentParser(prog="seeds_demo", description=__doc__)
    parser.add_argument("folder", type=Path, help="where to write; made if need be")
    size = parser.add_mutually_exclusive_group()
    size.add_argument("--units", type=int, default=UNITS, help=f"units put down, {UNITS} or more")
    size.add_argument("--events", type=int, help="about how many events, instead of units")
    parser.add_argument("--seed", type=int, default=SEED, help="another seed, another programme")
    parser.add_argument("--one-night", action="store_true", help="everything at once, without slips of the pen")
    given = parser.parse_args(args)
    try:
        make(given.folder, units=given.units, events=given.events, seed=given.seed, nights=not given.one_night)
    except (ValueError, FileExistsError) as e:
        sys.stderr.write(f"{e}\n")
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main())
