"""Where letters go: out/letters/<partner>/<receipt>-<file>.txt and .html, with the whole list of held rows beside them,
and the partner's page of what is open now, standing.txt and .html."""

from collections.abc import Mapping, Sequence
from pathlib import Path

import pyarrow.parquet as pq

from pipeline import disk
from pipeline.decided import Decision
from pipeline.differing import CODES, Difference, as_decided
from pipeline.ledger.entry import Entry
from pipeline.outputs.differing_told import NOTHING, Differing
from pipeline.outputs.given_back import HeldSheet, workbook
from pipeline.outputs.held_list import list_of
from pipeline.outputs.letter_places import letter_place
from pipeline.outputs.letters import DECIDED, Returned, Vanished, faults_from, letter
from pipeline.outputs.paper import Paper
from pipeline.outputs.values import NOBODYS, Theirs
from pipeline.outputs.words import words
from pipeline.unsettled import Waiting

PAGE = "standing.txt"


def _path(out: Path, entry: Entry) -> Path:
    return out.parent / letter_place(entry.partner, entry.number, entry.name)


def is_written(out: Path, entry: Entry) -> bool:
    """Whether the receipt's letter is there, as text and as a page: before there were pages it was text alone."""
    path = _path(out, entry)
    return path.is_file() and path.with_suffix(".html").is_file()


def shows_decisions(entry: Entry) -> bool:
    """Whether the receipt's letter says what was decided: its drop holds the lead's rulings, or was put on record for it."""
    return entry.name.startswith(DECIDED) or (entry.partner == "programme" and entry.segment("ruling") is not None)


def shows_differences(segments: Mapping[str, Path]) -> bool:
    """Whether the receipt's letter says what held rows say otherwise than others."""
    if "fault" not in segments:
        return False
    return not set(CODES).isdisjoint(pq.read_table(segments["fault"], columns=["code"]).column("code").to_pylist())


def shows_waiting(entry: Entry) -> bool:
    """Whether the receipt's letter says what was taken in and waits: a drop that somebody handed in, of which something is known."""
    return not entry.name.startswith(DECIDED) and entry.receipt.entered + entry.receipt.repeated > 0


def write_letter(
    out: Path, entry: Entry, segments: Mapping[str, Path], programme: str, decided: Sequence[Decision] = (),
    differing: Differing = NOTHING, language: str = "en", back: Sequence[HeldSheet] = (), left_out: int = 0,
    theirs: Theirs = NOBODYS, waits: Sequence[Waiting] = (), still: Sequence[Waiting] = (),
    changed: Sequence[Difference] = (), contact: str = "",
) -> None:  # fmt: skip
    """Write the receipt's letter as text and as a page, and when rows are held their whole list as CSV.

    decided: what a drop of decisions decided. differing: what held rows say otherwise than others. back: the held rows
    that its partner may mend and hand in again as a workbook; left_out: how many are not on it. theirs: its words for ours.
    waits: what its rows told that was taken in and does not count yet; still: what its held rows would wait for once mended.
    changed: what its rows say otherwise for having been read again. contact: where the programme is written to.
    """
    faults = faults_from(pq.read_table(segments["fault"]).to_pylist()) if "fault" in segments else []
    faults = as_decided(faults, differing.values())
    asked = pq.read_table(segments["asked"]).to_pylist() if "asked" in segments else []
    vanished = [Vanished(a["kind"], a["key"], a["row_before"], bool(a.get("held"))) for a in asked]
    path = _path(out, entry)
    disk.make_folder(path.parent)
    if faults:
        disk.replace(path.with_suffix(".csv"), list_of(faults, words(language)))
    returned = Returned(path.with_suffix(".xlsx").name, left_out) if back else None
    if back:
        disk.replace(path.with_suffix(".xlsx"), workbook(back, words(language)))
    paper = letter(
        entry,
        faults,
        vanished,
        programme,
        decided,
        differing,
        language,
        returned,
        False,
        theirs,
        waits,
        still,
        changed,
        contact,
    )
    disk.replace(path.with_suffix(".html"), paper.page().encode())
    disk.replace(path, paper.text().encode())  # last: where it is, all of the letter is there


def write_page(out: Path, partner: str, page: Paper) -> None:
    """Replace a partner's page of what is open, unless it says the same already."""
    folder = out / "letters" / partner
    for name, text in ((PAGE, page.text()), (Path(PAGE).with_suffix(".html").name, page.page())):
        path = folder / name
        if not path.is_file() or path.read_bytes() != text.encode():
            disk.make_folder(folder)
            disk.replace(path, text.encode())
