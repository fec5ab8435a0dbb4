"""The main path, top to bottom: receive, examine (map and check), record, project, measure, publish.

Every verb of the command line and every Dagster asset is a function here. Stages never import each other; this
file hands things from one to the next, and it is the one place that reads the clock.
"""

import datetime as dt
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline import disk
from pipeline.errors import BadUsage
from pipeline.ledger.entry import Entry
from pipeline.ledger.files import redactions
from pipeline.ledger.redact import told as redaction_told
from pipeline.ledger.store import Ledger
from pipeline.programme import Places, Programme, Rules, open_programme, parse_rules
from pipeline.receive import Found, receive

if TYPE_CHECKING:  # loaded only when there is something to do with them
    import duckdb

    from pipeline.indicators.figure import Figure
    from pipeline.indicators.remember import Memory
    from pipeline.ledger.known import Cached
    from warehouse.database import Pointer

Say = Callable[[str], None]


def silent(_: str) -> None:
    """Say nothing: what runs in a pipe or in a test passes this."""


def this_instant() -> dt.datetime:
    """This instant, in UTC."""
    return dt.datetime.now(dt.UTC)


@dataclass
class TakeIn:
    """What a take-in did: how many files it looked at, the entries it added, files passed over with their reasons."""

    looked_at: int = 0
    entries: list[Entry] = field(default_factory=list)
    passed_over: list[str] = field(default_factory=list)

    @property
    def held(self) -> int:
        """Parts that were held, and drops that could not be read at all."""
        return sum(e.receipt.held + bool(e.unreadable) for e in self.entries)


def run_all(root: Path, say: Say = silent) -> "tuple[TakeIn, Published]":
    """What happens every night: take in what is new, then bring everything up to it."""
    took = take(root, say)
    return took, refresh(root, say)


def refresh(root: Path, say: Say = silent) -> "Published":
    """Note the rules if they changed, project, measure, publish: everything up to what the ledger holds."""
    programme = open_programme(root)
    ledger = open_ledger(programme.places)
    with ledger.at_work():
        _note_rules(ledger, ledger.keep_bytes(programme.rules.raw), say)
    project(root, say)
    return publish(root, say)


# --- receive, examine, record -------------------------------------------------------------------------------


def take(root: Path, say: Say = silent) -> TakeIn:
    """Take in every file of the inboxes that the ledger does not know yet."""
    programme = open_programme(root)
    ledger = open_ledger(programme.places)
    entries = ledger.entries()
    known, erased = {(e.partner, e.drop) for e in entries if e.drop}, set(redactions(entries))
    with ledger.at_work():
        received = receive(programme.places, ledger, known, erased)
        for told in received.passed_over:
            say(told)
        entries = _take_in(programme, ledger, received.news, say)
        return TakeIn(received.looked_at, entries, received.passed_over)


def retake(root: Path, partner: str = "", drop: str = "", say: Say = silent) -> TakeIn:
    """Read kept drops again under their partner's present mapping; what changes becomes amendments.

    partner, drop: only those of that partner, only the one whose hash begins so. Drops already read under the
    present mapping are left alone, and so are erased ones; BadUsage when only an erased one is asked for.
    """
    programme = open_programme(root)
    ledger = open_ledger(programme.places)
    every = ledger.entries()
    erased = redactions(every)
    entries = [e for e in every if e.drop and e.drop not in erased]
    if drop and not any(e.drop.startswith(drop) for e in entries):
        for gone in (e for digest, e in erased.items() if digest.startswith(drop)):
            raise BadUsage(f"{redaction_told(gone)}. It cannot be read again; what had entered still counts.")
    last = {(e.partner, e.drop): e.mapping for e in entries}
    news = {}
    for e in entries:
        present = ledger.keep_bytes(_mapping_bytes(programme.places, e.partner))
        asked_for = partner in ("", e.partner) and e.drop.startswith(drop)
        if asked_for and last[e.partner, e.drop] != present:
            news[e.partner, e.drop] = Found(e.partner, e.name, e.drop, e.size, retaken=True)
    with ledger.at_work():
        return TakeIn(len(entries), _take_in(programme, ledger, list(news.values()), say))


def _take_in(programme: Programme, ledger: Ledger, news: Sequence[Found], say: Say) -> list[Entry]:
    """Examine without the lock, then judge and record under it: one drop is one atomic entry."""
    rules = ledger.keep_bytes(programme.rules.raw)
    if not news:
        return _note_rules(ledger, rules, say)
    # pandera, polars and the models are loaded only on a night that brings something
    from pipeline.examine import examine
    from pipeline.intake.mapping import parse_mapping
    from pipeline.ledger.staging import Staged
    from pipeline.record import record
    from schemas.kinds import all_kinds

    kinds, staged = all_kinds(), []
    with ledger.workspace() as folder:
        for n, found in enumerate(sorted(news, key=lambda f: (f.partner, f.drop)), 1):
            say(f"reading {n} of {len(news)}: {found.partner}/{found.name}")
            raw = _mapping_bytes(programme.places, found.partner)
            mapping, used = parse_mapping(found.partner, raw, kinds), ledger.keep_bytes(raw)
            (folder / str(n)).mkdir()
            blank = Staged(folder / str(n), found.partner, found.drop, found.size, found.name, used, found.retaken)
            staged.append(examine(ledger.drop_path(found.drop), blank, mapping, kinds, programme.rules.timezone))
        say(f"recording {len(news)} drops")
        with ledger.writing():
            return record(ledger, staged, rules, kinds, _cached(programme.places, ledger), this_instant)


def _note_rules(ledger: Ledger, rules: str, say: Say) -> list[Entry]:
    """Rules that changed without a drop get an entry of their own, so that any past day knows its rules."""
    with ledger.writing():
        last = ledger.last_number()
        if last and ledger.entry(last).rules == rules:
            return []
        say("the programme's rules are new")
        return [ledger.append(Entry(previous="", recorded="", what="rules", rules=rules), this_instant())]


def open_ledger(places: Places) -> Ledger:
    """The programme's ledger, its folders made on first use."""
    ledger = Ledger(places.ledger, compact=places.warehouse / "entries")
    ledger.prepare()
    return ledger


def _mapping_bytes(places: Places, partner: str) -> bytes:
    """The partner's TOML, or nothing: then only our own headings are known."""
    path = places.partners / f"{partner}.toml"
    return path.read_bytes() if path.is_file() else b""


# --- project ------------------------------------------------------------------------------------------------


def project(root: Path, say: Say = silent, rebuild: bool = False) -> bool:
    """Bring the projection up to the ledger's head; True when there was anything to do.

    Only entries after the last projection are read. A projection that is missing, of another shape, ahead of
    the ledger or damaged is made anew from nothing.
    """
    places = open_programme(root).places
    ledger = open_ledger(places)
    at = _usable_pointer(places, ledger)
    if at is not None and at.number == ledger.last_number() and not rebuild:
        return False
    import duckdb

    from pipeline.loading import loads
    from schemas.kinds import all_kinds
    from warehouse import database

    kinds = all_kinds()
    with ledger.writing():  # two runs must not make the same file; what the other made while we waited is used
        head, start = ledger.head(), None if rebuild else _usable_pointer(places, ledger)
        if start is not None and start.number == head.number:
            return False
        say("projecting")
        new = ledger.entries(after=start.number if start else 0)
        if start is not None and any(e.redacts for e in new):
            # a changed file keeps what was taken out of it; a new one never had it
            start, new = None, ledger.entries()
        made = places.warehouse / f"warehouse-{head.number:09d}.duckdb.making"
        database.clear(places.warehouse)
        try:
            if start is not None:
                disk.copy(places.warehouse / start.file, made)
            with disk.step("write", made):
                database.append(made, loads(ledger, new, kinds), kinds, fresh=start is None)
        except duckdb.Error:
            if start is None:
                raise
            say("the last projection is damaged: making it anew")
            made.unlink()
            with disk.step("write", made):
                database.append(made, loads(ledger, ledger.entries(), kinds), kinds, fresh=True)
        disk.sync_file(made)
        disk.rename(made, places.warehouse / database.file_name(head.number))
        disk.replace(places.warehouse / database.POINTER, database.pointer_text(head.number, head.hash))
        database.clear(places.warehouse)
        ledger.renew_compact()
    return True


def _usable_pointer(places: Places, ledger: Ledger) -> "Pointer | None":
    from warehouse import database

    at = database.pointer(places.warehouse)
    if at is None or at.number > ledger.last_number() or ledger.hash_of(at.number) != at.hash:
        return None
    return at


def _cached(places: Places, ledger: Ledger) -> "Cached | None":
    from pipeline.ledger.known import Cached

    at = _usable_pointer(places, ledger)
    return Cached(places.warehouse / at.file, at.number) if at else None


# --- measure, publish ---------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Asked:
    """As of when: the last happened day counted, the last entry counted, and whose rules: then or today's.

    None means: all there is.
    """

    happened: dt.date | None = None
    entry: int | None = None
    rules: str = "then"


LATEST = Asked()  # everything the ledger holds


@contextmanager
def session(root: Path, asked: Asked = LATEST) -> "Iterator[tuple[duckdb.DuckDBPyConnection, Rules]]":
    """The projection with its views as of what is asked, and the rules it is judged by."""
    from pipeline.measure import rule_tables
    from schemas.kinds import all_kinds
    from warehouse import database

    programme = open_programme(root)
    at = database.pointer(programme.places.warehouse)
    if at is None:
        raise BadUsage("Nothing is measured yet. Run `wrackline measure` first.")
    # what is projected is asked, even when another run has just recorded more
    asked = replace(asked, entry=at.number if asked.entry is None else min(asked.entry, at.number))
    rules = rules_as_of(programme, asked)
    with database.reading(
        programme.places.warehouse, all_kinds(), rule_tables(rules), asked.happened, asked.entry
    ) as con:
        yield con, rules


def rules_as_of(programme: Programme, asked: Asked) -> Rules:
    """Today's rules, or those recorded by the asked entry."""
    if asked.rules == "today":
        return programme.rules
    ledger = open_ledger(programme.places)
    number = ledger.last_number() if asked.entry is None else min(asked.entry, ledger.last_number())
    if number == 0:
        return programme.rules
    digest = ledger.entry(number).rules
    return parse_rules(ledger.drop_path(digest).read_bytes(), f"the rules kept with entry {number}")


def entry_at(root: Path, recorded: dt.datetime) -> int:
    """Number of the last entry recorded by that instant, 0 if there is none."""
    entries = open_ledger(open_programme(root).places).entries()
    return max((e.number for e in entries if dt.datetime.fromisoformat(e.recorded) <= recorded), default=0)


def figures_of(root: Path, asked: Asked = LATEST, memory: "Memory | None" = None) -> "tuple[list[Figure], dt.date]":
    """Every figure as of what is asked, and the day they are as of."""
    from pipeline.indicators.remember import Memory
    from pipeline.measure import measure

    with session(root, asked) as (con, rules):
        figures = measure(con, rules, memory or Memory())
        [(day,)] = con.sql("select happened from as_of").fetchall()
    return figures, day


@dataclass(frozen=True)
class Published:
    """What a publication did: figures written, names of those computed anew, letters written; zeros if none was due."""

    figures: int = 0
    computed: tuple[str, ...] = ()
    letters: int = 0


def publish(root: Path, say: Say = silent) -> Published:
    """Write figures and letters for what is projected, unless what was published last is of this very head.

    A projection that turns out to be damaged while it is read is made anew once.
    """
    from pipeline.outputs import about
    from warehouse import database

    places = open_programme(root).places
    head = database.seen_head(places.warehouse)
    if head is None or head[0] == 0 or about.published_head(places.out) == head:
        return Published()
    from pipeline.indicators.remember import memory_from
    from pipeline.open_pages import write_pages
    from pipeline.outputs.tables import write_tables

    kept = places.warehouse / "estimates.json"
    memory = memory_from(kept.read_text() if kept.is_file() else "")
    say("measuring")
    import duckdb

    try:
        figures, as_of = figures_of(root, memory=memory)
    except duckdb.Error:
        say("the projection is damaged: making it anew")
        project(root, say, rebuild=True)
        figures, as_of = figures_of(root, memory=memory)
    write_tables(figures, as_of, places.out)
    disk.replace(kept, memory.to_text().encode())
    say("writing letters")
    letters = write_letters(root)
    with session(root, Asked(entry=head[0])) as (con, rules):
        write_pages(con, rules.name, places.out)
    about.write(places.out, *head, as_of, len(figures))
    return Published(len(figures), tuple(memory.computed), letters)


def write_letters(root: Path) -> int:
    """Write the letter of every receipt that has none yet; gives how many."""
    from pipeline.outputs.post import is_written, write_letter

    programme = open_programme(root)
    ledger = open_ledger(programme.places)
    entries = ledger.entries()
    erased = redactions(entries)  # their letters told of cells that are gone on purpose
    missing = [e for e in entries if e.drop and e.drop not in erased and not is_written(programme.places.out, e)]
    for e in missing:
        segments = {s.kind: ledger.segment_path(s) for s in e.segments}
        write_letter(programme.places.out, e, segments, programme.rules.name)
    return len(missing)
