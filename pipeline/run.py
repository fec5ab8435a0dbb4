"""The main path, top to bottom: receive, examine (map and check), record, project, measure, publish.

Every verb of the command line and every Dagster asset is a function here. Stages never import each other; this
file hands things from one to the next, and it is the one place that reads the clock.
"""

import datetime as dt
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline import disk, publishing
from pipeline.apart import Reader
from pipeline.errors import LedgerDamaged, ProjectionDamaged
from pipeline.ledger.entry import Entry
from pipeline.ledger.files import redactions
from pipeline.ledger.store import Ledger
from pipeline.plural import n_of
from pipeline.programme import Places, Programme, mapping_bytes, open_programme
from pipeline.publishing import write_letters
from pipeline.receive import Found, receive
from pipeline.session import LATEST, Asked, entry_at, figures_in, figures_of, projected, rules_as_of, session
from pipeline.world import is_memory, is_worlds, plainly
from warehouse import current

if TYPE_CHECKING:  # loaded only when there is something to do with them
    from pipeline.archiving import Archived
    from pipeline.indicators.remember import Computed, Memory
    from pipeline.ledger.known import Cached
    from pipeline.ledger.staging import Staged
    from pipeline.page_files import Made
    from warehouse.current import Pointer

# what a programme is asked afterwards is found here too
__all__ = ["LATEST", "Asked", "entry_at", "figures_of", "projected", "rules_as_of", "session", "write_letters"]

Say = Callable[[str], None]
ESTIMATES = "estimates.json"
COMPUTED_SAID = 40  # of figures computed anew, so many are said by name; `Published` has them all


def silent(_: str) -> None:
    """Say nothing: what runs in a pipe or in a test passes this."""


def this_instant() -> dt.datetime:
    """This instant, in UTC."""
    return dt.datetime.now(dt.UTC)


def tonight(programme: Programme) -> dt.date:
    """The programme's own day of this instant: what happens by its end belongs to this night."""
    return this_instant().astimezone(programme.rules.zone).date()


@dataclass
class TakeIn:
    """What a take-in did: how many files it looked at, the entries it added, and a sentence for each file it left.

    advice: a sentence for each file that waits for its mapping.
    """

    looked_at: int = 0
    entries: list[Entry] = field(default_factory=list)
    left: list[str] = field(default_factory=list)
    advice: list[str] = field(default_factory=list)

    @property
    def held(self) -> int:
        """Parts that were held, and drops that could not be read at all."""
        return sum(e.receipt.held + bool(e.unreadable) for e in self.entries)


def run_all(root: Path, say: Say = silent) -> "tuple[TakeIn, Published]":
    """What happens every night: take in what is new, then bring everything up to it."""
    took = take(root, say)
    return took, refresh(root, say)


@plainly()
def refresh(root: Path, say: Say = silent) -> "Published":
    """Note the rules if they changed, project, measure, publish: everything up to what the ledger holds."""
    note_rules(root, say)
    project(root, say)
    return publish(root, say)


@plainly()
def note_rules(root: Path, say: Say = silent) -> None:
    """Give the programme's rules an entry of their own if they are others than the last entry's."""
    programme = open_programme(root)
    ledger = open_ledger(programme.places)
    with ledger.at_work():
        _note_rules(ledger, ledger.keep_bytes(programme.rules.raw), say)


# --- receive, examine, record -------------------------------------------------------------------------------


@plainly()
def take(root: Path, say: Say = silent) -> TakeIn:
    """Take in every file of the inboxes that the ledger does not know yet."""
    programme = open_programme(root)
    ledger = open_ledger(programme.places)
    entries = ledger.entries()
    known, erased = {(e.partner, e.drop) for e in entries if e.drop}, set(redactions(entries))
    with ledger.at_work(), Reader() as reader:
        received = receive(programme.places, ledger, known, erased, {e.size for e in entries}, reader.begin)
        news = sorted(received.news, key=lambda f: (f.partner, f.drop))  # no listing order decides
        return _take_in(programme, ledger, reader, TakeIn(received.looked_at, left=received.left), news, say)


@plainly()
def retake(root: Path, partner: str = "", drop: str = "", say: Say = silent) -> TakeIn:
    """Read kept drops again under their partner's present mapping and the programme's present names of species, in the
    order they came; what changes becomes amendments.

    partner, drop: only those of that partner, only the one whose hash begins so. Drops already read under both are
    left alone, and so are erased ones; BadUsage when only an erased one is asked for.
    """
    from pipeline.rereading import to_read_again

    programme = open_programme(root)
    ledger = open_ledger(programme.places)
    looked_at, news = to_read_again(ledger, programme, partner, drop)
    with ledger.at_work(), Reader() as reader:
        return _take_in(programme, ledger, reader, TakeIn(looked_at), news, say)


def _take_in(
    programme: Programme, ledger: Ledger, reader: Reader, told: TakeIn, news: Sequence[Found], say: Say
) -> TakeIn:
    """Examine without the lock, then judge and record under it: one drop is one atomic entry."""
    rules = ledger.keep_bytes(programme.rules.raw)
    if not news:
        told.entries = _note_rules(ledger, rules, say)
    else:
        with ledger.workspace() as folder:
            staged = list(_examined(programme, ledger, reader, folder, told, news, say))
            reader.end()
            # pandera, polars and the models are loaded only on a night that brings something
            from pipeline.record import record
            from schemas.kinds import all_kinds

            say(f"recording {n_of(len(staged), 'drop')}")
            with ledger.writing():
                cached = _cached(programme.places, ledger)
                told.entries = record(ledger, staged, rules, all_kinds(), cached, this_instant)
    for sentence in told.left:
        say(sentence)
    return told


def _examined(
    programme: Programme, ledger: Ledger, reader: Reader, folder: Path, told: TakeIn, news: Sequence[Found], say: Say
) -> "Iterator[Staged]":
    """Each drop as it was read. One that is too much for this machine does not keep the others out."""
    from pipeline.intake.names import names_of
    from pipeline.ledger.staging import Staged

    rules = programme.rules
    names = names_of(rules)
    for n, found in enumerate(news, 1):
        say(f"reading {n} of {len(news)}: {found.partner}/{found.name}")
        mapping = mapping_bytes(programme.places, found.partner)
        (folder / str(n)).mkdir()
        blank = Staged(
            folder / str(n),
            found.partner,
            found.drop,
            found.size,
            found.name,
            ledger.keep_bytes(mapping),
            found.retaken,
        )
        try:
            staged = reader.examine(ledger.drop_path(found.drop), blank, mapping, rules.timezone, names)
            told.advice += _advice(found, staged.refused)
            yield staged
        except Exception as e:
            if not is_memory(e):
                raise
            told.left.append(
                f"{found.partner}/{found.name} needs more memory than there is; nothing of it is recorded."
            )


def _advice(found: Found, refused: str) -> list[str]:
    """What the programme can do for a file that no mapping reads."""
    name, partner = f"{found.partner}/{found.name}", found.partner
    return {
        "no mapping": [
            f'{name} has a shape that no mapping knows: `wrackline suggest "inbox/{name}" --partner {partner}` proposes one.'
        ],
        "mapping not confirmed": [
            f"{name} waits for its mapping: answer what is asked in partners/{partner}.toml, delete `confirmed = false` there, "
            f"then run `wrackline retake --partner {partner}`."
        ],
    }.get(refused, [])


def _note_rules(ledger: Ledger, rules: str, say: Say) -> list[Entry]:
    """Rules that changed without a drop get an entry of their own, so that any past day knows its rules."""
    with ledger.writing():
        last = ledger.last_number()
        if last and ledger.entry(last).rules == rules:
            return []
        say("the programme's rules are new")
        return [ledger.append(Entry(previous="", recorded="", what="rules", rules=rules), this_instant())]


def open_ledger(places: Places) -> Ledger:
    """The programme's ledger, its folders made on first use; LedgerDamaged when it lacks an end that was seen once."""
    from pipeline.outputs import about

    seen = {
        "warehouse/current": current.seen_head(places.warehouse),
        "out/about.json": about.published_head(places.out),
    }
    ledger = Ledger(places.ledger, compact=places.entries_cache)
    ledger.prepare()
    for where, head in seen.items():
        if head is not None and (head[0] > ledger.last_number() or ledger.hash_of(head[0]) != head[1]):
            raise LedgerDamaged(
                f"The ledger is not the one that {where} saw: its entry {head[0]} is gone or was exchanged. Nothing is "
                "added to it. Put it back from a copy. To go on from an older copy, first move warehouse/ and out/ away."
            )
    return ledger


# --- project ------------------------------------------------------------------------------------------------


@plainly()
def project(root: Path, say: Say = silent, rebuild: bool = False) -> bool:
    """Bring the projection up to the ledger's head; True when there was anything to do.

    Only entries after the last projection are read. A projection that is missing, of another shape or damaged is
    made anew from nothing.
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
        except duckdb.Error as e:
            if start is None or is_worlds(e):
                raise
            say("the last projection is damaged: making it anew")
            made.unlink()
            with disk.step("write", made):
                database.append(made, loads(ledger, ledger.entries(), kinds), kinds, fresh=True)
        disk.sync_file(made)
        disk.rename(made, places.warehouse / current.file_name(head.number))
        disk.replace(places.warehouse / current.POINTER, current.pointer_text(head.number, head.hash))
        database.clear(places.warehouse)
        ledger.renew_compact()
    return True


def _usable_pointer(places: Places, ledger: Ledger) -> "Pointer | None":
    at = current.pointer(places.warehouse)
    if at is None or at.number > ledger.last_number() or ledger.hash_of(at.number) != at.hash:
        return None
    return at


def _cached(places: Places, ledger: Ledger) -> "Cached | None":
    from pipeline.ledger.known import Cached

    at = _usable_pointer(places, ledger)
    return Cached(places.warehouse / at.file, at.number) if at else None


# --- measure, publish ---------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Published:
    """What a publication did: figures written, which were computed anew and why, letters written; zeros if none was due.

    groups: figures of each group of indicators, and how many of them were computed anew.
    """

    figures: int = 0
    computed: "tuple[Computed, ...]" = ()
    letters: int = 0
    groups: Mapping[str, tuple[int, int]] = field(default_factory=dict)


@plainly()
def publish(root: Path, say: Say = silent) -> Published:
    """Write figures and letters for what is projected, unless out/ tells of this very head by this very code already.

    A projection that turns out to be damaged while it is read is made anew once.
    """
    places = open_programme(root).places
    with publishing.only_publisher(places):
        head = current.seen_head(places.warehouse)
        if head is None or head[0] == 0 or not publishing.is_due(places, head):
            return Published()
        memory = remembered(places)
        say("measuring")
        try:
            return _published(root, head, memory, say)
        except ProjectionDamaged:
            say("the projection is damaged: making it anew")
        project(root, say, rebuild=True)
        return _published(root, head, memory, say)


def _published(root: Path, head: publishing.Head, memory: "Memory", say: Say) -> Published:
    """Figures, partners' pages, letters: all of one session, since what stands and waits takes long to work out."""
    from pipeline.groups import by_group
    from pipeline.indicators.remember import in_short
    from pipeline.open_pages import write_pages

    places = open_programme(root).places
    with session(root, Asked(entry=head[0])) as (con, rules):
        figures, as_of = figures_in(con, rules, memory)
        still_open = write_pages(con, places, rules)
        for figure in memory.computed[:COMPUTED_SAID]:
            say(f"  {figure}")
        say(in_short(memory.computed))
        disk.replace(places.warehouse / ESTIMATES, memory.to_text().encode())
        say("writing letters")
        letters = write_letters(root, publishing.AtHand(head[0], con, rules))
    publishing.put_out(places, figures, as_of, head, *still_open)
    groups = by_group([f.indicator for f in figures], [c.name for c in memory.computed])
    return Published(len(figures), tuple(memory.computed), letters, groups)


@plainly()
def archive(root: Path, say: Say = silent, into: Path | None = None, today: dt.date | None = None) -> "Archived":
    """Bring everything up to the ledger's head, then write what may be published of it into a folder (out/archive).

    BadUsage when nothing may be published, KeptBack when a row would publish a planting as wild or when the gate stops
    the archive: then nothing is written.
    """
    from pipeline.archiving import make_archive, refuse_unready

    programme = open_programme(root)
    refuse_unready(programme.rules)  # before anything is measured for it
    refresh(root, say)
    say("making the archive")
    with publishing.only_publisher(programme.places):
        return make_archive(root, into or programme.places.out / "archive", today or tonight(programme))


def remembered(places: Places) -> "Memory":
    """The estimates of the last publication, so that what did not change is not computed again."""
    from pipeline.indicators.remember import memory_from

    kept = places.warehouse / ESTIMATES
    return memory_from(kept.read_bytes() if kept.is_file() else b"", publishing.made_with("pipeline/indicators"))


# --- pages --------------------------------------------------------------------------------------------------


@plainly()
def pages(root: Path, say: Say = silent, language: str = "en", only: str = "", today: dt.date | None = None) -> "Made":
    """Write out/pages/inside and, where every partner agreed, out/pages/public from what was published last.

    Only what changed is written anew. only: one of the two. today: whether an embargo is over; by the programme's clock if not given.
    """
    from pipeline.paging import make_pages

    builds = (only,) if only else ("inside", "public")
    programme = open_programme(root)
    with publishing.only_publisher(programme.places):
        return make_pages(root, language, builds, today or tonight(programme), say)
