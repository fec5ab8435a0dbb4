"""The command that tries a file before it is handed in."""

import argparse
from collections.abc import Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.commands.common import FINE, HELD, Adder, told, width

if TYPE_CHECKING:
    from pipeline.outputs.words import Post
    from pipeline.trying import Fate, Tried

WOULD = {
    "entered": "would enter", "amends": "would change what stood before", "repeated": "already known",
    "faulty": "would be held", "conflict": "would wait as a contradiction", "question": "would be asked about",
    "waits": "would enter and not count yet",
}  # fmt: skip


def add(command: Adder) -> None:
    """Register it."""
    c = command("try", _try, "Say what would become of each row of a file, and write its letter. Nothing is entered")
    c.add_argument("file", type=Path, help="the file, in an inbox or anywhere else")
    c.add_argument("--partner", required=True, metavar="NAME", help="as if this partner handed it in")
    c.add_argument(
        "--to", type=Path, default=None, metavar="FOLDER", help="write the letter and the held rows there, do not print"
    )


def _try(args: argparse.Namespace) -> int:
    from pipeline.outputs.layout import table
    from pipeline.outputs.words import words
    from pipeline.trying import try_file, write_tried

    tried = try_file(args.programme, args.file, args.partner)
    _ = words(tried.letter.language)  # it is shown to who handed the file in
    written = write_tried(tried, args.to) if args.to else []
    headings = (_("Rows"), _("What would become of them"), _("Sort of fault"))
    lines = table(headings, _told(_, _waiting_apart(tried)), width=width()) if tried.fates else []
    if tried.known_as:
        says = "These very bytes are in already, as receipt {receipt}; without it this would come of them."
        lines.insert(0, _(says, receipt=tried.known_as))
    end = "".join(_("Wrote {path}", path=path) + "\n" for path in written) if written else "\n" + _printed(_, tried)
    r = tried.entry.receipt
    plain = {
        "receipt": asdict(r), "rows": [asdict(f) for f in tried.fates], "faults": [asdict(f) for f in tried.faults],
        "waits": [asdict(w) for w in tried.waits], "once_mended": [asdict(w) for w in tried.still],
        "unreadable": tried.entry.unreadable, "notes": tried.entry.notes, "known_as": tried.known_as, "written": written,
    }  # fmt: skip
    told(args, plain, "\n".join(lines) + "\n" + end)
    return HELD if r.held or tried.entry.unreadable else FINE


def _waiting_apart(tried: "Tried") -> "list[Fate]":
    """What would become of each part, with those that would wait told from those that would count."""
    waits = {(w.sheet, w.row, w.kind, w.key) for w in tried.waits}
    return [replace(f, fate="waits") if (f.sheet, f.row, f.kind, f.key) in waits else f for f in tried.fates]


def _told(_: "Post", fates: "Sequence[Fate]") -> list[tuple[str, str, str]]:
    """One line for each sheet, fate and reason, with the rows that it is of."""
    from pipeline.outputs.layout import plain, ranges

    alike: dict[tuple[str, str, str], list[int]] = {}
    for f in fates:
        alike.setdefault((f.sheet, f.fate, f.why), []).append(f.row)
    return [
        (
            " ".join([*([_.quoted(plain(sheet))] if sheet else []), ranges(rows).replace(",", ", ")]),
            _(WOULD[fate]),
            _.again(why),
        )
        for (sheet, fate, why), rows in alike.items()
    ]


def _printed(_: "Post", tried: "Tried") -> str:
    """The letter without what it says of files beside it, since there are none; and how to get them."""
    letter = replace(tried.letter, lines=[line for line in tried.letter.lines if not line.to])
    hint = _("`--to FOLDER` writes it there, with a workbook of the held rows.")
    return letter.text() + (f"\n{hint}\n" if tried.back else "")
