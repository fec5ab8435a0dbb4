"""A letter for each receipt: what entered, what was held and why, and how to mend it. Written once."""

import datetime as dt
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path
from typing import Any

from pipeline.decided import Decision
from pipeline.differing import Difference
from pipeline.faults import Fault
from pipeline.ledger.entry import Entry, Receipt
from pipeline.outputs.decisions import letter_lines
from pipeline.outputs.differing_told import NOTHING, Differing, lines_of
from pipeline.outputs.letter_places import letter_place
from pipeline.outputs.paper import CAUSE, FACT, HEAD, ITEM, POINT, SMALL, TITLE, UNDER, Line, Paper
from pipeline.outputs.read_anew_told import STILL_WAITS, UNCHANGED, changed_lines
from pipeline.outputs.values import NOBODYS, Theirs
from pipeline.outputs.waiting_told import taking_back, waiting_lines
from pipeline.outputs.whom import whom
from pipeline.outputs.words import Post, words
from pipeline.unsettled import Waiting
from schemas.kinds import all_kinds

LONGEST = 200  # characters of a cell that are shown
SEEN = 16  # characters of its entry's hash that a letter carries
STANDING = "standing.html"  # beside the letters: what is open now
DECIDED = "settled/"  # how files begin that the lead's own decisions make
ROWS_LISTED = 200  # of one cause; the rest are counted, and the whole list stands in the .csv beside the letter


@dataclass(frozen=True)
class Vanished:
    """A row that an earlier file of the same name had, and this one has not."""

    kind: str
    key: str
    row_before: int
    held: bool = False


@dataclass(frozen=True)
class Returned:
    """The workbook of held rows beside a letter: its name, and how many held rows are not in it."""

    name: str
    left_out: int = 0


def letter(
    entry: Entry, faults: Sequence[Fault], vanished: Sequence[Vanished], programme: str,
    decided: Sequence[Decision] = (), differing: Differing = NOTHING, language: str = "en",
    returned: Returned | None = None, trial: bool = False, theirs: Theirs = NOBODYS, waits: Sequence[Waiting] = (),
    still: Sequence[Waiting] = (), changed: Sequence[Difference] = (), contact: str = "",
) -> Paper:  # fmt: skip
    """The letter. faults: in the order of sheet and row. decided: what a drop of decisions decided.

    differing: what held rows say otherwise than another row, another partner or what counts. returned: the workbook
    beside it. trial: nothing was entered; the letter says what would be. theirs: the partner's own words for ours. waits:
    what its rows told that was taken in and does not count yet; still: what its held rows would wait for once they are mended.
    changed: what its rows say otherwise for having been read again. contact: where the programme is written to, "" where it says nowhere.
    """
    _, r = words(language), entry.receipt
    ours, alike = entry.name.startswith(DECIDED), entry.retaken and not (r.entered or r.held or vanished)
    lines = [Line(_("{programme} to {partner}", programme=programme, partner=entry.partner), TITLE)]
    lines.append(Line(_about(_, entry, ours, trial)))
    if entry.unreadable:
        lines.append(Line(_.again(entry.unreadable), gap=True))
        kept = "Nothing of it entered. The file is kept as it came; please hand it in anew."
        lines.append(Line(_("Nothing of it would enter.") if trial else _(kept)))
    else:
        lines += _sums(_, r, trial)
        if entry.notes:
            lines.append(Line(_("How it was read:"), gap=True))
            lines += [Line(_.again(note), POINT) for note in entry.notes]
        lines += changed_lines(_, changed, theirs) if entry.retaken else []
        lines += letter_lines(_, decided)
        lines += (
            _held(_, faults, differing, theirs, trial, _listing(entry, trial))
            if r.held
            else [Line(_fine(_, ours, trial, waits, alike), gap=True)]
        )
        lines += _still(_, still)
        lines += _waits(_, waits, trial)
    if vanished:
        lines += _asked(_, vanished, entry.retaken)
    return Paper(language, [*lines, *_ending(_, entry, r.held > 0, returned, trial, contact)])


def _about(_: Post, entry: Entry, ours: bool, trial: bool) -> str:
    day = _.day(dt.date.fromisoformat(entry.recorded[:10])) if entry.recorded else ""
    if trial:
        return _("About your file “{file}”: a trial. Nothing was entered, and nothing is kept.", file=entry.name)
    if ours and "withdrawal" in entry.name:
        return _(
            "The programme put “{file}” on record in your name, {day}: it takes back what you once told.",
            file=entry.name, day=day,
        )  # fmt: skip
    if ours:
        told = "The programme put “{file}” on record in your name, {day}: it is a decision of its own."
        return _(told, file=entry.name, day=day)
    if entry.retaken:
        told = "About your file “{file}”: it was read again on {day}, since the way in which your sheets are read was mended."
        return _(told, file=entry.name, day=day)
    return _("About your file “{file}”, received {day}.", file=entry.name, day=day)


def _fine(_: Post, ours: bool, trial: bool, waits: Sequence[Waiting], retaken_alike: bool) -> str:
    """What is said where nothing is held."""
    if ours:
        return _("If this is not right, please tell the programme.")
    if retaken_alike:
        return _(STILL_WAITS if waits else UNCHANGED)
    if waits:
        return _("Nothing of it would be held.") if trial else _("Thank you: nothing of it is held.")
    return _("Everything could be used.") if trial else _("Thank you: everything could be used.")


def _sums(_: Post, r: Receipt, trial: bool) -> list[Line]:
    lines = _(
        "It has {lines}: {furniture} of titles and headings, {blank} blank, {records} of data.",
        lines=_.count(r.lines, "line"), furniture=_.count(r.furniture, "line"), blank=_.whole(r.blank),
        records=_.count(r.records, "row"),
    )  # fmt: skip
    told = "They make {parts}: {entered} entered, {held} held, {repeated} already known."
    if r.amended:
        change = "change" if r.amended > 1 else "changes"
        told = told.replace(" entered,", f" entered ({{amended}} of them {change} what stood before),")
    if trial:
        told = "They would make {parts}: {entered} would enter, {held} would be held, {repeated} are known already."
        if r.amended:
            told = told.replace(" enter,", " enter ({amended} of them changing what stands now),")
    parts = _(
        told, parts=_.count(r.parts, "statement"), entered=_.whole(r.entered), amended=_.whole(r.amended),
        held=_.whole(r.held), repeated=_.whole(r.repeated),
    )  # fmt: skip
    return [Line(lines, gap=True), Line(parts)]


def _ending(_: Post, entry: Entry, held: bool, returned: Returned | None, trial: bool, contact: str) -> list[Line]:
    name, every = (
        _listing(entry, trial),
        "Every held row, with what to mend, stands in {list} beside this letter too, as a table.",
    )
    asked = [whom(_, contact)] if entry.partner != "programme" else []
    listing = [Line(_(every, list=name), to=name)] if held else []
    lines = [
        _("Nothing you hand in is lost: your file is kept as it came, and held rows wait until they are mended."),
        _("To mend a row, change it in your own sheet and hand the sheet in again under the same name; rows that are "
          "already known are recognised and do no harm."),
    ]  # fmt: skip
    if trial:
        told = (
            "The rows that would be held are in {workbook} beside this letter, with what to mend in each. Mend them in your "
            "own sheet before you hand it in."
        )
        back = [Line(_(told, workbook=returned.name), to=returned.name, gap=True)] if returned and held else []
        return [*back, *listing, *asked]
    made = [Line(lines[0], gap=True), Line(lines[1])]
    if returned and held:
        told = (
            "Or mend only these rows: {workbook} beside this letter holds them, with what to mend in each. Save it "
            "under any name and hand it in; every row finds its place. Mend your own sheet too: what it still says as "
            "before is held again when it is handed in."
        )
        made.append(Line(_(told, workbook=returned.name), to=returned.name))
        if returned.left_out:
            told = "Not all held rows are in it: {n} are to be mended in your own sheet."
            made.append(Line(_(told, n=_.whole(returned.left_out))))
    made += listing
    made.append(Line(_("Whether anything of yours is open now stands in {page}.", page=STANDING), to=STANDING))
    # by the numbers of the last line `verify` knows a letter, in whatever language: `about.letters_seen`
    end = _(
        "Receipt {receipt}, entry hash {hash}, drop {drop}.", receipt=entry.number, hash=_hash_of(entry)[:SEEN],
        drop=entry.drop[:12],
    )  # fmt: skip
    return [*made, *asked, Line(end, SMALL, gap=True)]


def _hash_of(entry: Entry) -> str:
    """The hash by which the next entry names this one: whoever keeps the letter can tell when it was exchanged."""
    return hashlib.sha256(entry.to_bytes()).hexdigest()


def _waits(_: Post, waits: Sequence[Waiting], trial: bool) -> list[Line]:
    if not waits:
        return []
    parts = _.count(len({(w.kind, w.identity) for w in waits}), "statement")
    if trial:
        told = "Would enter and not count yet: {parts}. Each would count as soon as what it waits for is mended or handed in."
    else:
        told = (
            "Taken in, but not counted yet: {parts}. Each counts as soon as what it waits for is mended or handed in. This is "
            "told as it was when the file came in."
        )
    return [Line(_(told, parts=parts), HEAD, gap=True), *waiting_lines(_, waits, file=False)]


def _still(_: Post, still: Sequence[Waiting]) -> list[Line]:
    if not still:
        return []
    told = "Held rows that would wait even when that is mended: {rows}. Mend this in the same go."
    rows = _.count(len({(w.sheet, w.row) for w in still}), "row")
    return [Line(_(told, rows=rows), HEAD, gap=True), *waiting_lines(_, still, file=False)]


def _held(
    _: Post, faults: Sequence[Fault], differing: Differing, theirs: Theirs, trial: bool, listing: str
) -> list[Line]:
    """Faults grouped by cause, the commonest first, each row with what stands in it. listing: the file that has them all."""

    def cause(f: Fault) -> tuple[str, str, str, str, str, str]:
        return (f.kind, f.column, f.heading, f.code, f.wanted, f.advice)

    groups = [list(g) for __, g in groupby(sorted(faults, key=cause), key=cause)]
    told = "These rows are held. The commonest cause comes first."
    would = "These rows would be held. The commonest cause comes first."
    lines = [Line(_(would) if trial else _(told), HEAD, gap=True)]
    for n, group in enumerate(sorted(groups, key=lambda g: (-len(g), cause(g[0]))), 1):
        first, rows = group[0], len({(f.sheet, f.row) for f in group})  # a row of many parts is one row
        lines += [
            Line(f"{n}. {_title(_, first)} ({_.count(rows, 'row')})", CAUSE, gap=True),
            Line(_("Wanted: {wanted}.", wanted=_.again(first.wanted)), FACT),
            Line(_("What to do: {advice}", advice=_.again(first.advice)), FACT),
        ]
        few = [f for f in group if _place(f) in differing] if first.code == "amends much" else []
        once = {_row(_, f): f for f in reversed(group)}  # its parts at fault for the same cell are told of once
        listed = few or list(once.values())[: -ROWS_LISTED - 1 : -1]
        for f in listed:
            unlike = lines_of(_, None if f.column else differing.get(_place(f)), theirs)
            lines += [Line(_row(_, f), ITEM), *(Line(text, UNDER) for text in unlike)]
        if len(once) > len(listed):
            told = "... and {n} more; all of them stand in {list} beside this letter."
            lines.append(Line(_(told, n=_.whole(len(once) - len(listed)), list=listing), FACT))
    return lines


def _listing(entry: Entry, trial: bool) -> str:
    """The name of the list of held rows that stands beside the letter."""
    if trial:
        return f"{Path(entry.name).stem}.held.csv"
    return Path(letter_place(entry.partner, entry.number, entry.name)).with_suffix(".csv").name


def _row(_: Post, f: Fault) -> str:
    """Where a fault is, and what stands there."""
    told = _one_line(f.found)
    if not told:
        return _where(_, f)
    what = _.found(f.code, told) if f.column else _.again(told)
    return _("{where}: {what}", where=_where(_, f), what=what)


def _place(f: Fault) -> tuple[str, int, int]:
    return f.sheet, f.row, f.part


_TITLES = {
    "no mapping": "Headings not known",
    "heading twice": "Headings not clear",
    "heading renamed": "Headings not clear",
    "merged heading not there": "Headings not clear",
}


def _title(_: Post, f: Fault) -> str:
    if f.column:
        return _("Column “{heading}”", heading=_named(_, f))
    return _(_TITLES.get(f.code, "The whole row"))


def _named(_: Post, f: Fault) -> str:
    """The partner's heading; where its sheet has none for it, what the column is called, not our name for it."""
    kind = all_kinds().get(f.kind)
    title = next((c.title for c in (kind.columns if kind else ()) if c.name == f.column), f.column)
    return _one_line(f.heading) or _.title(title)


def _where(_: Post, f: Fault) -> str:
    sheet = [_("sheet “{sheet}”", sheet=_one_line(f.sheet))] if f.sheet else []
    column = [_("column “{heading}”", heading=_named(_, f))] if f.column else []
    return ", ".join([*sheet, _("row {row}", row=f.row), *column])


def _asked(_: Post, vanished: Sequence[Vanished], retaken: bool) -> list[Line]:
    counted, held = [v for v in vanished if not v.held], [v for v in vanished if v.held]
    lines = []
    if counted and retaken:
        told = (
            "Read anew, your rows no longer tell of {things} that they told of before. These stop counting, unless another "
            "file tells of them. Please tell the programme if one should still count."
        )
        lines += [Line(_(told, things=_.count(len(counted), "thing")), gap=True), *_listed(_, counted)]
    elif counted:
        told = (
            "An earlier file of this name had {rows} that this one has not. They still count. If they should not, take them back: ask the "
            "programme for the blank sheet “{sheet}” and fill it in. If they were cut off by mistake, do nothing."
        )
        lines += [
            Line(_(told, rows=_.count(len(counted), "row"), sheet=taking_back(_)), gap=True),
            *_listed(_, counted),
        ]
    if held:
        told = (
            "An earlier file of this name had {rows} that were held and that this one has not, mended or not. If they tell "
            "of something, please hand them in mended."
        )
        lines += [Line(_(told, rows=_.count(len(held), "row")), gap=True), *_listed(_, held)]
    return lines


def _listed(_: Post, vanished: Sequence[Vanished]) -> list[Line]:
    told = "{kind} {key} (row {row} then)"
    return [
        Line(_(told, kind=_.again(v.kind), key=_one_line(v.key), row=v.row_before), ITEM)
        for v in vanished[:ROWS_LISTED]
    ]


def _one_line(text: str) -> str:
    """A partner's own text, so that no line break or control character in it can look like a line of ours."""
    plain = "".join(c if c.isprintable() else " " for c in text)
    return plain if len(plain) <= LONGEST else plain[:LONGEST] + " ..."


def faults_from(rows: Sequence[dict[str, Any]]) -> list[Fault]:
    """Faults from the rows of a fault segment."""
    filled: list[dict[str, Any]] = [{k: ("" if v is None else v) for k, v in r.items()} for r in rows]
    return [Fault(**r) for r in filled]
