"""Commands by which a person decides: a ruling, a held part closed, an event taken back. Each asks for a reason."""

import argparse
from dataclasses import asdict
from typing import TYPE_CHECKING

from pipeline.commands.common import Adder, took, width
from pipeline.outputs.layout import paragraph

if TYPE_CHECKING:
    from pipeline.settle import Settled

AFTER = "It is on record. Figures, `held` and `waiting` follow with the next `wrackline measure`.\n"
RULED = "It is on record. Figures follow with the next `wrackline measure`.\n"


def add(command: Adder) -> None:
    """Register them."""
    c = command("settle", _settle, "Put a ruling on a conflict or question")
    c.add_argument("identity", help="as `waiting` shows it, or the beginning of it; or its whole key")
    c.add_argument("choice", help="what counts, as `waiting` shows it, or the beginning of it; or: none")
    _signed(c)
    c = command("settle-file", _settle_file, "Put one ruling on every question that a receipt left")
    c.add_argument("receipt", type=int, help="its number, as `waiting` shows it")
    c.add_argument(
        "choice", choices=["new", "none"], help="new: what the file says counts; none: what counted before stays"
    )
    _signed(c)
    c = command("dismiss", _dismiss, "Close a held part for good")
    c.add_argument("part", help="its name, as `held --rows` shows it")
    _signed(c)
    c = command("withdraw", _withdraw, "Take an event back in its partner's name. The history stays.")
    c.add_argument("partner")
    c.add_argument("kind")
    c.add_argument("key", help="as `home` shows it")
    _signed(c)


def _signed(c: argparse.ArgumentParser) -> None:
    c.add_argument("--by", required=True, help="who decides")
    c.add_argument("--reason", required=True)


def _settle(args: argparse.Namespace) -> int:
    from pipeline.settle import settle

    return _settled(args, settle(args.programme, args.identity, args.choice, args.by, args.reason))


def _settle_file(args: argparse.Namespace) -> int:
    from pipeline.settle import settle_file

    return _settled(args, settle_file(args.programme, args.receipt, args.choice, args.by, args.reason))


def _settled(args: argparse.Namespace, done: "Settled") -> int:
    """What was ruled, what counts now, which earlier rulings hold no more, and who is told of it."""
    from pipeline.outputs.decisions import answer_lines
    from pipeline.settle import tell

    made = tell(args.programme, done)
    said = [
        f"It replaces the ruling of receipt {r.receipt} on {r.kind} {r.key}: {r.says or r.choice}, by {r.by}: {r.reason}"
        for r in done.replaced
    ]
    lines = [*answer_lines(made, width()), *(line for sentence in said for line in paragraph("", sentence, 0, width()))]
    beside = {"replaces": [asdict(r) for r in done.replaced], "decided": [asdict(d) for d in made]}
    return took(args, done.took, "\n".join([*lines, RULED]), brief=True, **beside)


def _dismiss(args: argparse.Namespace) -> int:
    from pipeline.settle import dismiss

    return took(args, dismiss(args.programme, args.part, args.by, args.reason), AFTER)


def _withdraw(args: argparse.Namespace) -> int:
    from pipeline.settle import withdraw

    return took(args, withdraw(args.programme, args.partner, args.kind, args.key, args.reason, args.by), AFTER)
