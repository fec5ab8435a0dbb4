"""What every topic of commands shares: how one is registered, how an answer is told, how progress is shown."""

import argparse
import datetime as dt
import json
import shutil
import sys
from collections.abc import Callable, Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any, Protocol

from pipeline import run
from pipeline.errors import BadUsage
from pipeline.outputs.layout import WIDTH
from pipeline.plural import n_of

if TYPE_CHECKING:
    from pipeline.indicators.figure import Figure

FINE, HELD = 0, 3

Do = Callable[[argparse.Namespace], int]


class Adder(Protocol):
    """Registers one command: its name, what it does, its help. folder=False: it is about no programme yet."""

    def __call__(self, name: str, do: Do, says: str, folder: bool = True) -> argparse.ArgumentParser:
        """The command's parser, for flags of its own."""


def say(args: argparse.Namespace) -> run.Say:
    """Progress for a person at a terminal; silence in a pipe or beside JSON."""
    if args.json or not sys.stderr.isatty():
        return run.silent
    return lambda text: print(f"  {text}", file=sys.stderr)


def tick(args: argparse.Namespace) -> Callable[[int, int], None]:
    """A running count on a terminal."""
    if args.json or not sys.stderr.isatty():
        return lambda *_: None
    return lambda done, of: print(
        f"\r  {done} of {n_of(of, 'file')}", end="\n" if done == of else "", file=sys.stderr, flush=True
    )


def width() -> int:
    """How wide tables may be: the terminal's own columns, at least 80; in a pipe 120."""
    return max(80, shutil.get_terminal_size().columns) if sys.stdout.isatty() else WIDTH


def told(args: argparse.Namespace, plain: Any, text: str) -> None:
    """The answer: `plain` as JSON where a program asks, `text` where a person does."""
    print(
        json.dumps(plain, indent=1, sort_keys=True, default=str, ensure_ascii=False) if args.json else text,
        end="\n" if args.json else "",
    )


def took(args: argparse.Namespace, done: run.TakeIn, after: str = "", brief: bool = False, **beside: Any) -> int:
    """What a take-in did, a line a drop; after: what is said below; beside: what JSON tells besides.

    brief: where it took in one drop alone, `after` says all of it.
    """
    if brief and sum(bool(e.drop) for e in done.entries) == 1:
        text = ""
    elif any(e.drop for e in done.entries):
        from pipeline.outputs import screen  # a night without news need not wait for it

        text = screen.receipts(done.entries, width())
    else:
        text = f"Nothing new in {n_of(done.looked_at, 'file')}.\n"
    entries = [{"number": e.number, **asdict(e)} for e in done.entries]
    text += "".join(f"Left for the next run: {sentence}\n" for sentence in done.left)
    text += "".join(f"{sentence}\n" for sentence in done.advice)
    text += (
        "What is held and why: `wrackline held`, and the letters in out/letters/ once `measure` has run.\n"
        if done.held
        else ""
    )
    text += after
    plain = {"looked_at": done.looked_at, "entries": entries, "left": done.left, "advice": done.advice, **beside}
    told(args, plain, text)
    return HELD if done.held else FINE


def plain_figure(f: "Figure") -> dict[str, Any]:
    """A figure as JSON tells it."""
    return {"id": f.id, "indicator": f.indicator, **dict(f.scope), **asdict(f.estimate)}


def as_of_flags(c: argparse.ArgumentParser) -> None:
    """The flags that ask as of a past day; without any of them the published figures answer."""
    c.add_argument("--as-of", default="", metavar="DAY", help="count only what happened by this day")
    c.add_argument(
        "--recorded",
        default="",
        metavar="WHEN",
        help="as the ledger knew it then: a day (its end), an instant, or the number of an entry",
    )
    c.add_argument("--rules", default="", choices=("then", "today"), help="judged by the rules of then, or by today's")


def day_named(text: str) -> dt.date | None:
    """The day that `--day` names, None for none; BadUsage when it is no day."""
    try:
        return dt.date.fromisoformat(text) if text else None
    except ValueError:
        raise BadUsage(f"--day {text!r} is no day; one such as 2025-04-18 is wanted.") from None


def asked_for(args: argparse.Namespace) -> run.Asked | None:
    """What those flags ask, None when none was given."""
    if not (args.as_of or args.recorded or args.rules):
        return None
    from pipeline.when import asked_from

    return asked_from(args.programme, args.as_of, args.recorded, args.rules)


def find(figures: "Sequence[Figure]", beginning: str) -> "Figure":
    """The one figure whose id begins so; BadUsage when there is none or several."""
    found = [f for f in figures if beginning and f.id.startswith(beginning)]
    if len(found) != 1:
        why = "no figure's id begins so" if not found else f"the ids of {n_of(len(found), 'figure')} begin so"
        raise BadUsage(f"{beginning!r}: {why}. `wrackline show --all` lists them.")
    return found[0]
