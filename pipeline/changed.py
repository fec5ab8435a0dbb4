"""What changed in a night, from the ledger and from what was published when the night before ended.

A night is a day of the programme: everything recorded since the night before ended, until this one does. A second run
of the same night tells of all of it again. The day is told by the caller; nothing here reads the clock, so the same
ledger and the same night give the same bytes.
"""

import datetime as dt
import json
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from pipeline import disk, publishing, run
from pipeline.indicators.figure import Figure
from pipeline.ledger.entry import Entry
from pipeline.ledger.store import Ledger
from pipeline.moved import Moved, Since, explained, moved
from pipeline.outputs import about
from pipeline.outputs.tables import figure_from, read_figures
from pipeline.overdue import LateLook, LatePartner, late_looks, late_partners
from pipeline.programme import Places, open_programme
from pipeline.session import Asked, entry_at, figures_of, session
from warehouse.asking import Asking

FOLDER, NOTE = "nights", "last.json"
OTHER_RULES, OTHER_CODE = "a change of the programme's rules", "another version of Wrackline"


@dataclass(frozen=True)
class Remark:
    """A rule of standing that speaks of what entered: its effect (waits or caution), an instance, how many events."""

    kind: str
    effect: str
    rule: str
    why: str
    events: int


@dataclass(frozen=True)
class Changed:
    """All that a night changed, from the entry `base` (not counted) to the entry `head`.

    entries: of this night. held, waiting: parts held and things waiting for a ruling now. appeared, gone: new figures
    and figures that are no more, by indicator. unlike_inputs: figures whose inputs did not change and whose numbers did.
    """

    programme: str
    day: dt.date
    base: int
    head: int
    entries: tuple[Entry, ...]
    held: int
    waiting: int
    moved: tuple[Moved, ...]
    unlike_inputs: tuple[Figure, ...]
    appeared: Mapping[str, int]
    gone: Mapping[str, int]
    figures: int
    partners: tuple[LatePartner, ...]
    looks: tuple[LateLook, ...]
    remarks: tuple[Remark, ...]
    other_rules: bool
    other_code: bool

    @property
    def held_tonight(self) -> int:
        """Parts that this night's drops had held, and drops that could not be read."""
        return sum(e.receipt.held + bool(e.unreadable) for e in self.entries)

    @property
    def unexplained(self) -> list[Figure]:
        """Figures that moved without anything that explains it."""
        return [*(m.figure for m in self.moved if not m.explained), *self.unlike_inputs]


@dataclass(frozen=True)
class _Night:
    """What is written down of the last night told: its day, the entries it began and ended with, by which code."""

    day: dt.date
    base: int
    head: int
    hash: str
    base_code: str
    code: str


def changed(root: Path, day: dt.date) -> Changed:
    """What the night of that day changed, as far as it is published. Nothing is written."""
    programme = open_programme(root)
    places, ledger = programme.places, Ledger(programme.places.ledger, compact=programme.places.entries_cache)
    head = (about.published_head(places.out) or (0, ""))[0]
    every = ledger.entries()
    base, base_code = _base(root, ledger, day, head)
    entries = tuple(e for e in every if base < e.number <= head)
    held, waiting = about.still_open(places.out) or (0, 0)
    now = [figure_from(r) for r in read_figures(places.out)]
    was = now if base == head and not _kept(places, base, "parquet").is_file() else _figures_at(root, base)
    before, names = {f.id: f for f in was}, {f.id: f for f in now}
    code = publishing.made_with("pipeline", "schemas", "warehouse")
    other_code = bool(base_code) and base_code != code
    other_rules = len({e.rules for e in every if base <= e.number <= head}) > 1
    found: list[Moved] = []
    looks: list[LateLook] = []
    remarks: list[Remark] = []
    moves = moved(before, now)
    if moves or entries or programme.rules.planning.visits:
        with session(root, Asked(entry=head)) as (con, rules):
            looks = late_looks(con, rules, day)
            if entries:
                remarks = _remarks(con, base)
            if moves:
                otherwise = OTHER_RULES if other_rules else OTHER_CODE if other_code else ""
                found = explained(moves, Since(con, base), lambda: session(root, Asked(entry=base)), otherwise)
    return Changed(
        programme.rules.name, day, base, head, entries, held, waiting, tuple(found), tuple(_unlike(places, base, before, now)),
        Counter(f.indicator for i, f in names.items() if i not in before),
        Counter(f.indicator for i, f in before.items() if i not in names),
        len(now), tuple(late_partners(every[:head], programme.rules, day)), tuple(looks), tuple(remarks), other_rules, other_code,
    )  # fmt: skip


def end(root: Path, told: Changed) -> None:
    """Write down that this night was told, so that the next begins where it ended. Call after its pages are written."""
    places = open_programme(root).places
    ledger, folder = Ledger(places.ledger), places.warehouse / FOLDER
    _, base_code = _base(root, ledger, told.day, told.head)
    code = publishing.made_with("pipeline", "schemas", "warehouse")
    disk.make_folder(folder)
    if told.head:
        disk.replace(_kept(places, told.head, "parquet"), (places.out / "figures.parquet").read_bytes())
        disk.replace(_kept(places, told.head, "json"), json.dumps(_inputs(places.warehouse / run.ESTIMATES)).encode())
    note = {
        "day": max(told.day, _day_before(folder) or told.day).isoformat(), "base": told.base, "head": told.head,
        "hash": ledger.hash_of(told.head), "base_code": base_code, "code": code,
    }  # fmt: skip
    disk.replace(folder / NOTE, json.dumps(note, sort_keys=True).encode())
    wanted = {_kept(places, n, s).name for n in (told.base, told.head) for s in ("parquet", "json")} | {NOTE}
    for path in folder.iterdir():
        if path.name not in wanted:
            disk.remove(path)


def _note(folder: Path) -> _Night | None:
    try:
        told = json.loads((folder / NOTE).read_text())
        return _Night(**{**told, "day": dt.date.fromisoformat(told["day"])})
    except (OSError, ValueError, TypeError, KeyError):
        return None


def _day_before(folder: Path) -> dt.date | None:
    note = _note(folder)
    return note.day if note else None


def _base(root: Path, ledger: Ledger, day: dt.date, head: int) -> tuple[int, str]:
    """The entry that the night begins after, and the code that published it ("" where nobody knows).

    Where nothing is written down, or it is of another ledger, the night begins with its day.
    """
    programme = open_programme(root)
    note = _note(programme.places.warehouse / FOLDER)
    if note is not None and note.head <= head and ledger.hash_of(note.head) == note.hash:
        return (note.head, note.code) if day > note.day else (note.base, note.base_code)
    midnight = dt.datetime.combine(day, dt.time(), programme.rules.zone)
    return min(entry_at(root, midnight - dt.timedelta(microseconds=1)), head), ""


def _kept(places: Places, number: int, sort: str) -> Path:
    return places.warehouse / FOLDER / f"{number:09d}.{sort}"


def _figures_at(root: Path, number: int) -> Sequence[Figure]:
    """The figures as that entry left them: as they were kept, or else computed from the ledger once more."""
    if number == 0:
        return []
    kept = _kept(open_programme(root).places, number, "parquet")
    if kept.is_file():
        return [figure_from(r) for r in read_figures(kept.parent, kept.name)]
    return figures_of(root, Asked(entry=number), run.remembered(open_programme(root).places))[0]


def _inputs(estimates: Path) -> dict[str, str]:
    """Hash of the inputs of every remembered figure, with the code that estimates; empty where it cannot be told."""
    try:
        told = json.loads(estimates.read_bytes())
        return {**{str(k): str(v) for k, v in told["figures"].items()}, "code": str(told["code"])}
    except (OSError, ValueError, TypeError, KeyError, AttributeError):
        return {}


def _unlike(places: Places, base: int, before: Mapping[str, Figure], now: Sequence[Figure]) -> list[Figure]:
    """Figures that moved though their inputs did not."""
    try:
        then = json.loads(_kept(places, base, "json").read_bytes())
    except (OSError, ValueError):
        return []
    inputs = _inputs(places.warehouse / run.ESTIMATES)
    if then.get("code") != inputs.get("code"):
        return []
    keys = {f.id: json.dumps([f.indicator, f.scope]) for f, _ in moved(before, now)}
    return [f for f in now if f.id in keys and keys[f.id] in then and then[keys[f.id]] == inputs.get(keys[f.id])]


def _remarks(con: Asking, base: int) -> list[Remark]:
    """Rules that speak of events which these entries told, with an instance."""
    rows = con.execute(
        """select s.kind, s.effect, s.rule, min(s.why), count(distinct s.identity) from standing s
           where s.identity in (select p.identity from part p cross join as_of a where p.entry > $base and p.entry <= a.entry)
           group by s.kind, s.effect, s.rule order by all""",
        {"base": base},
    ).fetchall()
    return [Remark(*r) for r in rows]
