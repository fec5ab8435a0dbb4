"""Commands about no programme: the kinds' columns, and what each indicator means."""

import argparse
from dataclasses import asdict

from pipeline.commands.common import FINE, Adder, told, width
from pipeline.errors import BadUsage


def add(command: Adder) -> None:
    """Register them."""
    c = command("columns", _columns, "Print a kind's columns; without a kind, the kinds", folder=False)
    c.add_argument("kind", nargs="?", default="")
    c.add_argument("--table-schema", action="store_true", help="as a Frictionless Table Schema")
    command(
        "catalogue", _catalogue, "Print what each indicator means, how it is made and what it cannot say", folder=False
    )


def _columns(args: argparse.Namespace) -> int:
    from pipeline.outputs import forms, screen
    from schemas.kinds import all_kinds

    kinds = all_kinds()
    if not args.kind:
        rows = {k.name: (" | ".join(k.key), k.doc) for k in kinds.values()}
        told(args, {name: doc for name, (_, doc) in rows.items()}, screen.kinds(rows, width()))
        return FINE
    if args.kind not in kinds:
        raise BadUsage(f"{args.kind!r} is no kind. The kinds are: {', '.join(kinds)}.")
    args.json = args.json or args.table_schema
    told(args, forms.table_schema(kinds[args.kind]), forms.columns_text(kinds[args.kind], width()))
    return FINE


def _catalogue(args: argparse.Namespace) -> int:
    from pipeline.indicators.catalogue import CATALOGUE
    from pipeline.outputs import screen

    told(args, [asdict(i) for i in CATALOGUE.values()], screen.catalogue(width()))
    return FINE
