"""The command that makes the package a biodiversity repository takes."""

import argparse
from dataclasses import asdict
from pathlib import Path

from pipeline import run
from pipeline.commands.common import FINE, Adder, say, told, width
from pipeline.outputs.layout import paragraph
from pipeline.plural import n_of


def add(command: Adder) -> None:
    """Register it."""
    c = command(
        "archive",
        _archive,
        "Write what may be published as a Darwin Core Archive, with the same as a data package and maps",
    )
    c.add_argument("out", nargs="?", type=Path, default=None, metavar="OUT", help="a folder (out/archive if not given)")


def _archive(args: argparse.Namespace) -> int:
    done = run.archive(args.programme, say(args), args.out)
    rows = ", ".join(n_of(n, f"row of {name}", f"rows of {name}") for name, n in done.rows.items())
    news = (
        f"{done.added} added, {done.changed} changed, {done.deleted} deleted (changes.csv)"
        if done.added or done.changed or done.deleted
        else "nothing changed since it was made"
    )
    lines = [f"Wrote {done.folder}/archive.zip, version {done.version}: {news}.", f"{rows}.", ""]
    for heading, sentences in (
        ("LEFT OUT", done.left_out),
        ("FOR YOUR EYES ALONE, IN NO FILE", done.inside),
        ("TO BEWARE OF", done.cautions),
    ):
        lines += [heading, *(line for s in sentences for line in paragraph(" ", s, 2, width()))] if sentences else []
    told(args, asdict(done), "\n".join(lines) + "\n")
    return FINE
