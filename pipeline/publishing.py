"""How figures get into out/ so that nobody ever sees half of one night beside half of another.

Tables are made whole in a folder of their own. about.json is taken away, the tables are put in place, and about.json
is put back last: whenever it is there, the tables beside it are those it speaks of, whatever stopped in between.
Who reads several files looks at about.json before and after, and reads again when it was gone or is another.
"""

import datetime as dt
import hashlib
import json
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline import disk
from pipeline.ledger.entry import Entry
from pipeline.ledger.files import redactions
from pipeline.ledger.lock import only_writer
from pipeline.ledger.store import GOES_ON, Ledger
from pipeline.programme import Places, Rules, open_programme
from pipeline.session import Asked, session
from warehouse import current

if TYPE_CHECKING:  # a night without news measures nothing
    from pipeline.decided import Decision
    from pipeline.differing import Difference
    from pipeline.giving_back import GivenBack
    from pipeline.indicators.figure import Figure
    from pipeline.meant import Named
    from pipeline.outputs.values import Theirs
    from pipeline.unsettled import Waiting
    from warehouse.asking import Asking

ABOUT = "about.json"
OWN_PAGE = "yours.html"  # what a partner gave, beside its letters: `paging.write_partners`
TABLES = ("figures.parquet", "indicators.csv")
Head = tuple[int, str]


@dataclass(frozen=True)
class AtHand:
    """An open session, as of an entry and by the rules of then."""

    entry: int
    con: "Asking"
    rules: Rules


@contextmanager
def only_publisher(places: Places) -> Iterator[None]:
    """Be the only one who writes figures and letters while the block runs."""
    disk.make_folder(places.warehouse)
    with only_writer(places.warehouse / "publishing.lock"):
        yield


def is_due(places: Places, head: Head) -> bool:
    """Whether out/ is not what this code makes of that head: other entries, other code, or a file gone or changed."""
    try:
        return bool(json.loads(_note(places).read_text()) != _told(places.out, head))
    except (OSError, ValueError):
        return True


def put_out(places: Places, figures: "Sequence[Figure]", as_of: dt.date, head: Head, held: int, waiting: int) -> None:
    """Put the figures in place of those published last. Call only as the only publisher.

    held, waiting: parts that are held and things that wait for a ruling now.
    """
    from pipeline.outputs import about
    from pipeline.outputs.tables import write_tables

    made = places.out / ".made"
    disk.remove_folder(made)
    disk.make_folder(made)
    write_tables(figures, as_of, made)
    about.write(made, *head, as_of, len(figures), held, waiting)
    disk.remove(places.out / ABOUT)
    disk.sync_folder(places.out)
    for name in (*TABLES, ABOUT):
        disk.rename(made / name, places.out / name)
    disk.remove_folder(made)
    if any(
        (places.out / "letters").glob(f"*/{OWN_PAGE}")
    ):  # once pages were made, partners' own are as new as their letters
        from pipeline.paging import renew_own_pages

        renew_own_pages(places, figures, as_of, head[0])
    disk.replace(_note(places), json.dumps(_told(places.out, head)).encode())


def _note(places: Places) -> Path:
    """What was published last, written down where it can be thrown away."""
    return places.warehouse / "published.json"


def _told(out: Path, head: Head) -> dict[str, object]:
    files = {name: disk.sha256_of(out / name) for name in (*TABLES, ABOUT)}
    letters = len(list((out / "letters").glob("*/*.txt")))
    code = made_with("pipeline", "schemas", "warehouse")
    return {"entry": head[0], "head": head[1], "code": code, "files": files, "letters": letters}


@cache
def made_with(*folders: str) -> str:
    """Hash of our own code in those folders and of the versions it counts with: other code may give other figures."""
    here = Path(__file__).parent.parent
    digest = hashlib.sha256(" ".join(f"{n} {version(n)}" for n in ("duckdb", "pyarrow", "numpy", "scipy")).encode())
    for folder in folders:
        for path in sorted(p for p in (here / folder).rglob("*") if p.suffix in (".py", ".sql")):
            digest.update(path.relative_to(here).as_posix().encode() + path.read_bytes())
    return digest.hexdigest()


def write_letters(root: Path, at_hand: "AtHand | None" = None) -> int:
    """Write the letter of every receipt that has none yet; gives how many. at_hand: a session that is open anyway.

    A letter that shows values looks into the projection as of its own entry, and one of what was taken in as of the end of its
    take-in, so that it is the same whenever it is written; it waits while the projection is not that far.
    """
    from pipeline.decided import decisions
    from pipeline.differing import by_rules, differences, of_place
    from pipeline.outputs.post import is_written, shows_decisions, shows_differences, shows_waiting, write_letter
    from pipeline.spoken import contact_of, language_for
    from schemas.kinds import all_kinds

    programme = open_programme(root)
    ledger = Ledger(programme.places.ledger, compact=programme.places.entries_cache)
    projected = (current.seen_head(programme.places.warehouse) or (0, ""))[0]
    entries = ledger.entries()
    erased = redactions(entries)  # their letters told of cells that are gone on purpose
    kept = cache(lambda digest: ledger.drop_path(digest).read_bytes())
    missing = [e for e in entries if e.drop and e.drop not in erased and not is_written(programme.places.out, e)]
    of_drop: dict[str, list[Entry]] = {}
    for e in entries:
        of_drop.setdefault(e.drop, []).append(e)
    beside = {  # entries of the same take-in that say otherwise: a letter shows their values too
        e.number: [o.number for d in e.disputed_with for o in of_drop.get(d, []) if e.drop in o.disputed_with]
        for e in missing
    }
    end = ends_of_take_ins(entries)
    named = {e.number: told for e in missing if (told := _named_by_held(ledger, e))}
    late = [e for e in missing if shows_waiting(e) or e.number in named]
    wait = {e.number for e in late}
    waits, still = _waiting(root, late, named, end, projected, at_hand)
    written = 0
    for e in missing:
        if e.number in wait and end[e.number] > projected:
            continue
        segments = {s.kind: ledger.segment_path(s) for s in e.segments}
        decided: list[Decision] = []
        differing: list[Difference] = []
        changed: Sequence[Difference] = ()
        theirs: Theirs = {}
        amends = e.retaken and e.receipt.amended > 0
        if (decides := shows_decisions(e)) or shows_differences(segments) or amends:
            if max([e.number, *beside.get(e.number, [])]) > projected:
                continue
            with _as_of(root, e.number, at_hand) as (con, rules):
                decided = decisions(con, all_kinds(), e.number) if decides else []
                differing = [] if decides else by_rules(differences(con, all_kinds(), e.number), rules.settling)
                if amends:
                    changed, theirs = _changed(con, ledger, e)
        language = language_for(e.partner, kept(e.mapping), kept(e.rules), entries[: e.number], ledger.drop_path)
        back = _given_back(ledger, e, segments, differing, still.get(e.number, ()))
        write_letter(
            programme.places.out, e, segments, programme.rules.name, decided,
            of_place(back.differing), language, back.sheets, back.left_out, back.theirs or theirs, waits.get(e.number, ()),
            still.get(e.number, ()), changed, contact_of(kept(e.rules)),
        )  # fmt: skip
        written += 1
    return written


def _changed(con: "Asking", ledger: Ledger, entry: Entry) -> "tuple[Sequence[Difference], Theirs]":
    """What an entry's rows say otherwise for having been read again, and its partner's own words."""
    from pipeline.intake.mapping import parse_mapping
    from pipeline.read_anew import changed_by_reading
    from pipeline.spoken import own_words
    from schemas.kinds import all_kinds

    mapping = parse_mapping(entry.partner, ledger.drop_path(entry.mapping).read_bytes(), all_kinds())
    drop = ledger.drop_path(entry.drop)
    return changed_by_reading(con, entry, drop, mapping, all_kinds()), own_words(mapping.sheets)


def ends_of_take_ins(entries: Sequence[Entry]) -> dict[int, int]:
    """Number of an entry -> that of the last one of its take-in: those are recorded a microsecond apart (`Ledger.append`)."""
    ends: dict[int, int] = {}
    later: tuple[dt.datetime, int] | None = None
    for e in reversed(entries):
        at = dt.datetime.fromisoformat(e.recorded)
        end = later[1] if later and later[0] - at == GOES_ON else e.number
        ends[e.number], later = end, (at, end)
    return ends


@contextmanager
def _as_of(root: Path, entry: int, at_hand: "AtHand | None") -> "Iterator[tuple[Asking, Rules]]":
    """A session as of that entry: the one at hand if it is, since what stands and waits takes long to work out anew."""
    if at_hand and at_hand.entry == entry:
        yield at_hand.con, at_hand.rules
    else:
        with session(root, Asked(entry=entry)) as made:
            yield made


def _waiting(
    root: Path, shown: Sequence[Entry], named: "Mapping[int, Sequence[Named]]", ends: Mapping[int, int], projected: int,
    at_hand: "AtHand | None",
) -> "tuple[dict[int, list[Waiting]], dict[int, list[Waiting]]]":  # fmt: skip
    """What those entries' rows told that did not count yet at the end of their take-in, by entry; and what their held rows, which name
    those things, would wait for once mended. One session a take-in."""
    from pipeline.meant import still_unknown, with_meant
    from pipeline.unsettled import waiting_of
    from schemas.kinds import all_kinds

    together: dict[int, list[Entry]] = defaultdict(list)
    for e in shown:
        if ends[e.number] <= projected:
            together[ends[e.number]].append(e)
    found: dict[int, list[Waiting]] = defaultdict(list)
    still: dict[int, list[Waiting]] = {}
    for end, entries in sorted(together.items()):
        with _as_of(root, end, at_hand) as (con, _):
            for w in with_meant(con, all_kinds(), waiting_of(con, [e.number for e in entries])):
                found[w.receipt].append(w)
            for e in entries:
                still[e.number] = still_unknown(con, e.number, e.partner, e.name, named.get(e.number, ()))
    return found, still


def _named_by_held(ledger: Ledger, entry: Entry) -> "list[Named]":
    """What an entry's held rows name; nothing where the lead decided."""
    import pyarrow.parquet as pq

    from pipeline.intake.mapping import parse_mapping
    from pipeline.outputs.letters import DECIDED, faults_from
    from pipeline.still_waits import named_by_held
    from schemas.kinds import all_kinds

    if entry.segment("fault") is None or entry.name.startswith(DECIDED):
        return []
    segments = {s.kind: ledger.segment_path(s) for s in entry.segments}
    mapping = parse_mapping(entry.partner, ledger.drop_path(entry.mapping).read_bytes(), all_kinds())
    faults = faults_from(pq.read_table(segments["fault"]).to_pylist())
    return named_by_held(entry, ledger.drop_path(entry.drop), segments, faults, mapping, all_kinds())


def _given_back(
    ledger: Ledger,
    entry: Entry,
    segments: Mapping[str, Path],
    differing: "Sequence[Difference]",
    still: "Sequence[Waiting]",
) -> "GivenBack":
    """The held rows of a drop that its partner may mend in a workbook; none of what the lead decided."""
    import pyarrow.parquet as pq

    from pipeline.differing import as_decided
    from pipeline.giving_back import GivenBack, held_back
    from pipeline.intake.mapping import parse_mapping
    from pipeline.outputs.letters import DECIDED, faults_from
    from schemas.kinds import all_kinds

    if "fault" not in segments or entry.name.startswith(DECIDED):
        return GivenBack((), 0)
    kinds = all_kinds()
    mapping = parse_mapping(entry.partner, ledger.drop_path(entry.mapping).read_bytes(), kinds)
    faults = as_decided(faults_from(pq.read_table(segments["fault"]).to_pylist()), differing)
    return held_back(entry, ledger.drop_path(entry.drop), segments, faults, mapping, kinds, differing, still)
