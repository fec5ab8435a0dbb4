"""A letter for each receipt: what entered, what was held and why, and how to mend it. Written once."""

import hashlib
import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from pathlib import PurePosixPath
from typing import Any

from pipeline.amended import Change
from pipeline.decided import Decision
from pipeline.faults import Fault
from pipeline.ledger.entry import Entry
from pipeline.outputs.decisions import letter_lines
from pipeline.outputs.layout import paragraph
from pipeline.plural import n_of
from schemas.kinds import all_kinds

WIDTH = 96
LONGEST = 200  # characters of a cell that are shown
SEEN = 16  # characters of its entry's hash that a letter carries
DECIDED = "settled/"  # how files begin that the lead's own decisions make
ROWS_LISTED = 200  # of one cause; the rest are counted, and the whole list stands in the .csv beside the letter


@dataclass(frozen=True)
class Vanished:
    """A row that an earlier file of the same name had, and this one has not."""

    kind: str
    key: str
    row_before: int
    held: bool = False


def letter_place(partner: str, number: int, name: str) -> str:
    """Where a receipt's letter is, from the programme's folder: out/letters/<partner>/<receipt>-<file>.txt.

    A partner's file name is never used as a path: only its plain letters and digits are.
    """
    plain = re.sub(r"[^A-Za-z0-9._-]+", "_", PurePosixPath(name).stem)[:60].strip("._") or "file"
    return f"out/letters/{partner}/{number:06d}-{plain}.txt"


def letter(
    entry: Entry, faults: Sequence[Fault], vanished: Sequence[Vanished], programme: str,
    decided: Sequence[Decision] = (), changed: Sequence[Change] = (),
) -> str:  # fmt: skip
    """The letter as plain text. faults: in the order of sheet and row. decided: what a drop of decisions decided.

    changed: of the first rows that would amend too much, what they say otherwise than what counts.
    """
    r = entry.receipt
    day, again = entry.recorded[:10], " and read again under a mended mapping" if entry.retaken else ""
    ours = entry.name.startswith(DECIDED)
    about = (
        f"The programme put “{entry.name}” on record in your name, {day}: "
        + ("it takes back what you once told." if "withdrawal" in entry.name else "it is a decision of its own.")
        if ours
        else f"About your file “{entry.name}”, received {day}{again}."
    )
    lines = [f"{programme} to {entry.partner}", about, ""]
    if entry.unreadable:
        lines += [
            entry.unreadable,
            "Nothing of it entered. The file is kept as it came; please hand it in anew.",
        ]
    else:
        lines += [
            f"It has {n_of(r.lines, 'line')}: {n_of(r.furniture, 'line')} of titles and headings, {r.blank} blank, {n_of(r.records, 'row')} of data.",
            f"They make {n_of(r.parts, 'statement')}: {r.entered} entered"
            + (f" ({r.amended} of them change what stood before)" if r.amended else "")
            + f", {r.held} held, {r.repeated} already known.",
        ]
        if entry.notes:
            lines += [
                "",
                "How it was read:",
                *(line for note in entry.notes for line in paragraph("   - ", note, 5, WIDTH)),
            ]
        lines += ["", *letter_lines(decided)] if decided else []
        fine = "If this is not right, please tell the programme." if ours else "Thank you: everything could be used."
        lines += [""] + (_held(faults, changed) if r.held else [fine])
    if vanished:
        lines += ["", *_asked(vanished, entry.retaken)]
    lines += [
        "",
        "Nothing you hand in is lost: your file is kept as it came, and held rows wait until they are mended.",
        "To mend a row, change it in your own sheet and hand the sheet in again under the same name; rows that",
        "are already known are recognised and do no harm.",
        "",
        f"Receipt {entry.number}, entry hash {_hash_of(entry)[:SEEN]}, drop {entry.drop[:12]}.",
    ]
    return "\n".join(lines) + "\n"


def _hash_of(entry: Entry) -> str:
    """The hash by which the next entry names this one: whoever keeps the letter can tell when it was exchanged."""
    return hashlib.sha256(entry.to_bytes()).hexdigest()


def _held(faults: Sequence[Fault], changed: Sequence[Change]) -> list[str]:
    """Faults grouped by cause, the commonest first, each row with what stands in it."""

    def cause(f: Fault) -> tuple[str, str, str, str, str]:
        return (f.kind, f.column, f.heading, f.code, f.wanted)

    groups = [list(g) for _, g in groupby(sorted(faults, key=cause), key=cause)]
    lines = ["These rows are held. The commonest cause comes first."]
    for n, group in enumerate(sorted(groups, key=lambda g: (-len(g), cause(g[0]))), 1):
        first = group[0]
        lines += [
            "",
            f"{n}. {_title(first)} ({n_of(len(group), 'row')})",
            f"   Wanted: {first.wanted}.",
            f"   What to do: {first.advice}",
        ]
        differ = _differing(changed) if first.code == "amends much" else {}
        listed = [f for f in group if _place(f) in differ] or group[:ROWS_LISTED]
        for f in listed:
            told = _one_line(f.found)
            found = f" found “{told}”" if told and f.column else (f" {told}" if told else "")
            lines.append(f"   - {_where(f)}{':' if found else ''}{found}")
            lines += differ.get(_place(f), [])
        if len(group) > len(listed):
            lines.append(
                f"   ... and {len(group) - len(listed)} more; all of them stand in the list beside this letter."
            )
    return lines


def _place(told: Fault | Change) -> tuple[str, int, int]:
    return told.sheet, told.row, told.part


def _differing(changed: Sequence[Change]) -> dict[tuple[str, int, int], list[str]]:
    """Below the first rows that would amend: each column, what counts of it now, and the new value."""
    return {
        _place(c): [
            f"        {title}: “{_one_line(now)}” counts now, “{_one_line(new)}” is new" for title, now, new in c.values
        ]
        for c in changed
    }


_TITLES = {
    "no mapping": "Headings not known",
    "heading twice": "Headings not clear",
    "heading renamed": "Headings not clear",
}


def _title(f: Fault) -> str:
    if f.column:
        return f"Column “{_named(f)}”"
    return _TITLES.get(f.code, "The whole row")


def _named(f: Fault) -> str:
    """The partner's heading; where its sheet has none for it, what the column is called, not our name for it."""
    kind = all_kinds().get(f.kind)
    return f.heading or next((c.title for c in (kind.columns if kind else ()) if c.name == f.column), f.column)


def _where(f: Fault) -> str:
    sheet = f"sheet “{f.sheet}”, " if f.sheet else ""
    column = f", column “{_named(f)}”" if f.column else ""
    return f"{sheet}row {f.row}{column}"


def _asked(vanished: Sequence[Vanished], retaken: bool) -> list[str]:
    counted, held = [v for v in vanished if not v.held], [v for v in vanished if v.held]
    lines = []
    if counted and retaken:
        lines += [
            f"Read anew, your rows no longer tell of {n_of(len(counted), 'thing')} that they told of before. These stop counting,",
            "unless another file tells of them. Please tell the programme if one should still count.",
            *_listed(counted),
        ]
    elif counted:
        lines += [
            f"An earlier file of this name had {n_of(len(counted), 'row')} that this one has not. They still count.",
            "If they should not, please hand in a withdrawal for each; if they were cut off by mistake, do nothing.",
            *_listed(counted),
        ]
    if held:
        lines += [
            f"An earlier file of this name had {n_of(len(held), 'row')} that were held and that this one has not, mended or not.",
            "If they tell of something, please hand them in mended.",
            *_listed(held),
        ]
    return lines


def _listed(vanished: Sequence[Vanished]) -> list[str]:
    return [f"   - {v.kind} {_one_line(v.key)} (row {v.row_before} then)" for v in vanished[:ROWS_LISTED]]


def _one_line(text: str) -> str:
    """A partner's own text, so that no line break or control character in it can look like a line of ours."""
    plain = "".join(c if c.isprintable() else " " for c in text)
    return plain if len(plain) <= LONGEST else plain[:LONGEST] + " ..."


def faults_from(rows: Sequence[dict[str, Any]]) -> list[Fault]:
    """Faults from the rows of a fault segment."""
    filled: list[dict[str, Any]] = [{k: ("" if v is None else v) for k, v in r.items()} for r in rows]
    return [Fault(**r) for r in filled]
