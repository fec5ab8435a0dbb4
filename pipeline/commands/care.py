"""Commands that care for the ledger: is it whole?"""

import argparse
from dataclasses import asdict

from pipeline import look
from pipeline.commands.common import FINE, Adder, tick, told
from pipeline.errors import LedgerDamaged


def add(command: Adder) -> None:
    """Register them."""
    c = command("verify", _verify, "Look at every byte of the ledger, and at its end")
    c.add_argument("--light", action="store_true", help="names and sizes of files, not their bytes")


def _verify(args: argparse.Namespace) -> int:
    verdict = look.verify(args.programme, args.light, tick(args))
    lines = [f"Looked at {verdict.entries} entries, {verdict.drops} drops and {verdict.segments} segments."]
    lines += [f"WRONG: {w}" for w in verdict.wrong] + [f"Note: {n}." for n in verdict.notes]
    lines += [] if verdict.wrong else ["The ledger is whole."]
    told(args, asdict(verdict), "\n".join(lines) + "\n")
    return LedgerDamaged.exit_code if verdict.wrong else FINE
