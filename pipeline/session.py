"""The projection as of any time: what a session sees, by whose rules it is judged, and its figures."""

import datetime as dt
import tomllib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.errors import BadUsage, ProjectionDamaged
from pipeline.ledger.store import Ledger
from pipeline.programme import Programme, Rules, open_programme, parse_rules
from pipeline.world import is_worlds, plainly
from warehouse import current

if TYPE_CHECKING:  # loaded only when there is something to ask
    from pipeline.indicators.figure import Figure
    from pipeline.indicators.remember import Memory
    from warehouse.asking import Asking
    from warehouse.database import Load


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
def session(root: Path, asked: Asked = LATEST, beside: "Sequence[Load]" = ()) -> "Iterator[tuple[Asking, Rules]]":
    """The projection with its views as of what is asked, and the rules it is judged by.

    beside: what is seen as if it were projected too, behind all that is.
    """
    import duckdb

    from pipeline.rule_tables import rule_tables
    from schemas.kinds import all_kinds
    from warehouse import database

    programme, last = open_programme(root), projected(root)
    # what is projected is asked, even when another run has just recorded more
    asked = replace(asked, entry=last if asked.entry is None else min(asked.entry, last))
    rules = rules_as_of(programme, asked)
    tables, kinds = rule_tables(rules), all_kinds()
    entry = beside[-1].number if beside else asked.entry
    with plainly():
        try:
            with database.reading(
                programme.places.warehouse, kinds, tables, asked.happened, entry, beside=beside
            ) as con:
                yield con, rules
        except duckdb.Error as e:
            if is_worlds(e):
                raise
            raise _damaged(e) from e


def parts_by_fate(root: Path) -> list[tuple[int, str, int]]:
    """How many parts of each entry came to each fate, as the projection has them; ProjectionDamaged when it cannot be read."""
    import duckdb

    from warehouse import database

    with plainly():
        try:
            return database.parts_by_fate(open_programme(root).places.warehouse)
        except duckdb.Error as e:
            if is_worlds(e):
                raise
            raise _damaged(e) from e


def _damaged(e: Exception) -> ProjectionDamaged:
    first = str(e).splitlines()[0]
    return ProjectionDamaged(
        f"The projection cannot be read: {first} `wrackline rebuild` makes it anew from the ledger."
    )


def projected(root: Path) -> int:
    """Number of the last entry that is projected; BadUsage when nothing is."""
    folder = open_programme(root).places.warehouse
    at = current.pointer(folder)
    if at is None:
        made = current.seen_head(folder) is not None
        why = "What was measured was made by another version of Wrackline" if made else "Nothing is measured yet"
        raise BadUsage(f"{why}. Run `wrackline measure` first.")
    return at.number


def rules_as_of(programme: Programme, asked: Asked) -> Rules:
    """Today's rules, or those recorded by the asked entry; with the days on which rules of stages came to be what they are."""
    ledger = Ledger(programme.places.ledger, compact=programme.places.entries_cache)
    number = ledger.last_number() if asked.entry is None else min(asked.entry, ledger.last_number())
    rules = programme.rules
    if asked.rules != "today" and number:
        kept = ledger.drop_path(ledger.entry(number).rules).read_bytes()
        rules = parse_rules(kept, f"the rules kept with entry {number}")
    return replace(rules, stages_changed=_stages_changed(ledger, number, rules)) if rules.stages else rules


def _stages_changed(ledger: Ledger, number: int, rules: Rules) -> tuple[tuple[str, dt.date], ...]:
    """Of every species whose stages another rule told by length before: the day from which they are told by this one.

    Of old rules only these tables are read: what else stands in them need not be what is read today.
    """
    entries = [e for e in ledger.entries() if e.number <= number]
    told = {digest: _stage_tables(ledger.drop_path(digest).read_bytes()) for digest in {e.rules for e in entries}}
    found = []
    for species, now in sorted(_stage_tables(rules.raw).items()):
        others = [n for n, e in enumerate(entries) if told[e.rules].get(species, now) != now]
        if others:
            since = entries[min(others[-1] + 1, len(entries) - 1)]
            found.append((species, dt.datetime.fromisoformat(since.recorded).date()))
    return tuple(found)


def _stage_tables(raw: bytes) -> dict[str, list[str]]:
    """[[stage]] of a programme.toml as it is written, by species, in whatever order."""
    found: dict[str, list[str]] = {}
    for table in tomllib.loads(raw.decode()).get("stage", []):
        found.setdefault(str(table.get("species")), []).append(str(sorted(table.items())))
    return {species: sorted(tables) for species, tables in found.items()}


def entry_at(root: Path, recorded: dt.datetime) -> int:
    """Number of the last entry recorded by that instant, 0 if there is none."""
    places = open_programme(root).places
    entries = Ledger(places.ledger, compact=places.entries_cache).entries()
    return max((e.number for e in entries if dt.datetime.fromisoformat(e.recorded) <= recorded), default=0)


def figures_of(
    root: Path, asked: Asked = LATEST, memory: "Memory | None" = None, indicator: str = ""
) -> "tuple[list[Figure], dt.date]":
    """Every figure as of what is asked, and the day they are as of. indicator: its group alone, as `measure` says."""
    from pipeline.indicators.remember import Memory

    with session(root, asked) as (con, rules):
        return figures_in(con, rules, memory or Memory(), indicator)


def figures_in(con: "Asking", rules: Rules, memory: "Memory", indicator: str = "") -> "tuple[list[Figure], dt.date]":
    """Every figure of a session, with what the programme's rules settled beside it, and the day they are as of."""
    from pipeline.by_rule import with_cautions
    from pipeline.measure import measure

    figures = with_cautions(con, measure(con, rules, memory, indicator))
    [(day,)] = con.sql("select happened from as_of").fetchall()
    return figures, day
