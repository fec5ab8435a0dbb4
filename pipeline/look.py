"""What is asked of a programme afterwards: its figures, where they came from, what is held, whether the ledger is whole."""

import datetime as dt
import json
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline import run
from pipeline.errors import BadUsage
from pipeline.ledger.store import Head, Ledger
from pipeline.plural import n_of
from pipeline.programme import Places, open_programme
from pipeline.run import LATEST, Asked, session

if TYPE_CHECKING:  # loaded only when asked for
    from pipeline.indicators.figure import Figure
    from pipeline.ledger.verify import Verdict, Witness
    from pipeline.lineage import Home
    from pipeline.unsettled import HeldCause, HeldRow, Ruling, Saying


def figures(root: Path, asked: Asked | None = None) -> "tuple[list[Figure], str]":
    """Figures and, in words, the day they are as of: those published, or what is asked computed from the projection."""
    if asked is not None:
        from pipeline.when import in_words

        computed, day = run.figures_of(root, asked)
        return computed, in_words(root, asked, day)
    as_of = published_as_of(root)
    if not as_of:
        raise BadUsage("Nothing is measured yet. Run `wrackline measure` first.")
    return published(root), f"{as_of}, the last day anything is told of"


def published(root: Path) -> "list[Figure]":
    """The figures as they were last published."""
    from pipeline.outputs.tables import figure_from, read_figures

    return [figure_from(r) for r in read_figures(open_programme(root).places.out)]


def published_as_of(root: Path) -> str:
    """The day the published figures are as of, "" when nothing was published."""
    from pipeline.outputs import about
    from pipeline.outputs.tables import read_figures

    out = open_programme(root).places.out
    return next((str(r["asOf"]) for r in read_figures(out)), about.published_day(out))


def behind(root: Path) -> str:
    """A sentence when what is published does not tell of all that the ledger holds; "" when it does."""
    from pipeline.outputs import about

    places = open_programme(root).places
    head, last = about.published_head(places.out), Ledger(places.ledger).last_number()
    if head is None or head[0] >= last:
        return ""
    return f"these figures were made when the ledger had {n_of(head[0], 'entry', 'entries')}; it has {last} now. Run `wrackline measure`."


def still_open(root: Path) -> str:
    """A sentence on what was held and waited when figures were published last; "" when nothing was."""
    from pipeline.outputs import about

    held, waiting = about.still_open(open_programme(root).places.out) or (0, 0)
    told = [f"{held} held (`wrackline held`)"] if held else []
    told += [f"{waiting} waiting for a ruling (`wrackline waiting`)"] if waiting else []
    return f"Not in these figures, or in doubt: {' and '.join(told)}." if told else ""


def unprojected(root: Path) -> str:
    """A sentence when the projection does not tell of all that the ledger holds; "" when it does."""
    from warehouse import current

    places = open_programme(root).places
    at, last = current.pointer(places.warehouse), Ledger(places.ledger).last_number()
    if at is None or at.number >= last:
        return ""
    return f"this tells of the ledger's first {n_of(at.number, 'entry', 'entries')}; it has {last} now. Run `wrackline measure`."


def lead_home(root: Path, figure: "Figure", asked: Asked = LATEST) -> "list[Home]":  # frozen
    """Every row of every drop that the figure rests on."""
    from pipeline.lineage import home

    with session(root, asked) as (con, _):
        return home(con, figure)


def lead_archived_home(root: Path, identifier: str) -> "list[Home]":  # frozen
    """Every row of every drop that a record of an archive rests on, by its identifier; BadUsage when there is none."""
    from pipeline.archive_home import figure_in, home

    figure = next((f for f in published(root) if f.id == figure_in(identifier)), None)
    return lead_home(root, figure) if figure else home(root, identifier)


def said_of_archived(identifier: str) -> str:
    """What the rows are that a record of an archive leads home to, where they need a word; "" elsewhere."""
    from pipeline.archive_home import says_of

    return says_of(identifier)


def witnesses(places: Places, others: Sequence[Path] = ()) -> "list[Witness]":
    """Everyone outside the ledger who wrote its head down; others: back-ups, or notes such as about.json, elsewhere."""
    from pipeline.ledger.verify import Witness
    from pipeline.outputs import about
    from warehouse import current

    seen: list[tuple[str, tuple[int, str] | None]] = [
        ("warehouse/current", current.seen_head(places.warehouse)),
        ("out/about.json", about.published_head(places.out)),
        ("backup.json", _noted(places.root)),
        *((str(path), _noted(path)) for path in others),
    ]
    seen += about.letters_seen(places.out, Ledger(places.ledger).last_number())
    return [Witness(where, Head(*head)) for where, head in seen if head is not None and head[0]]


def _noted(path: Path) -> tuple[int, str] | None:
    """Number and hash of the head that a note tells, or the note in a back-up's folder; None when there is none."""
    try:
        told = json.loads((path / "backup.json" if path.is_dir() else path).read_text())
        return int(told["entry"]), str(told["head"])
    except (OSError, ValueError, TypeError, KeyError):
        return None


def verify(
    root: Path, light: bool = False, tick: Callable[[int, int], None] = lambda *_: None, others: Sequence[Path] = ()
) -> "Verdict":
    """Look at the whole ledger, and compare its end with everyone who wrote it down.

    others: back-ups elsewhere that saw it; BadUsage when one tells no head.
    """
    from pipeline.ledger.verify import verify as look_at

    for path in others:
        if _noted(path) is None:
            raise BadUsage(f"{path} tells no head of a ledger. Name a back-up's folder, or a copy of its about.json.")
    places = open_programme(root).places
    return look_at(Ledger(places.ledger), witnesses(places, others), light, tick)


def evidence(root: Path, figure: "Figure", into: Path, asked: Asked | None = None) -> bool:
    """Make a programme of only the rows that the figure rests on; True when it gives the same figure.

    asked: as of when the figure was computed; None for a published one.
    """
    from pipeline.evidence import write_evidence
    from pipeline.outputs.tables import write_tables

    programme = open_programme(root)
    ledger = Ledger(programme.places.ledger)
    rules = run.rules_as_of(programme, asked or LATEST)
    entries = {e.number: e for e in ledger.entries()}
    write_evidence(into, rules.raw, lead_home(root, figure, asked or LATEST), entries, ledger, run.take)
    run.project(into)
    as_of = dt.date.fromisoformat(published_as_of(root)) if asked is None else _day_of(root, asked)
    # as of the same day if one was asked for; a published figure is as of its last, whatever day a register holds from
    made, _ = run.figures_of(into, Asked(happened=asked.happened if asked else None), indicator=figure.indicator)
    # only this figure is published there: of all others these rows tell a part, and so an untruth
    write_tables([f for f in made if f.id == figure.id], as_of, open_programme(into).places.out)
    return any(f.id == figure.id and f.estimate == figure.estimate for f in made)


def _day_of(root: Path, asked: Asked) -> dt.date:
    """The last happened day counted."""
    with session(root, asked) as (con, _):
        [(day,)] = con.sql("select happened from as_of").fetchall()
    return dt.date.fromisoformat(str(day))


def held(root: Path, asked: Asked = LATEST) -> "list[HeldCause]":
    """What is still held, by partner, file and cause: an instance of each, how many parts, and the letter's place."""
    from pipeline.unsettled import held_causes

    with session(root, asked) as (con, _):
        return held_causes(con)


def held_rows(root: Path, asked: Asked = LATEST) -> "list[HeldRow]":
    """Every held part that is still open."""
    from pipeline.unsettled import held_rows

    with session(root, asked) as (con, _):
        return held_rows(con)


def waiting(root: Path, asked: Asked = LATEST, settled: bool = False) -> "list[Saying]":
    """Everything said of every identity that waits for a ruling, or of those that had one, in order."""
    from pipeline.unsettled import waiting
    from schemas.kinds import all_kinds

    with session(root, asked) as (con, _):
        return waiting(con, all_kinds(), settled)


def one_that_waits(said: "Sequence[Saying]", beginning: str) -> "list[Saying]":
    """Of what waits the one thing whose identity begins so, or whose key it is; BadUsage when that is none or several."""
    found = [q for q in said if q.identity.startswith(beginning) or q.key == beginning]
    if len({q.identity for q in found}) != 1:
        why = "several things that wait are called so" if found else "nothing that waits is called so"
        raise BadUsage(f"{beginning!r}: {why}. `wrackline waiting` lists what waits, `--settled` what was ruled on.")
    return found


def rulings(root: Path, asked: Asked = LATEST) -> "list[Ruling]":
    """Every ruling and dismissal, in the order they were recorded; then what a rule of the programme settles now."""
    from pipeline.by_rule import as_rulings, settled_by_rules
    from pipeline.unsettled import rulings
    from schemas.kinds import all_kinds

    with session(root, asked) as (con, _):
        return [*rulings(con, all_kinds()), *as_rulings(settled_by_rules(con, all_kinds()))]


def sites(root: Path, asked: Asked = LATEST) -> dict[str, str]:
    """The registered sites: key and name."""
    with session(root, asked) as (con, _):
        return dict(con.sql("select site_key, name from site_now order by all").fetchall())


def standing(root: Path, asked: Asked = LATEST) -> list[tuple[str, str, str, str, int]]:
    """What the whole ledger makes of events that do not simply stand: kind, effect, rule, an instance, how many."""
    with session(root, asked) as (con, _):
        return con.sql(
            "select kind, effect, rule, min(why), count(*) from standing group by kind, effect, rule order by all"
        ).fetchall()


def is_said(root: Path, kind: str, key: str) -> bool:
    """Whether anything was ever told of a thing of that kind and key."""
    with session(root) as (con, _):
        query = "select count(*) from part where kind = $kind and key = $key and fate <> 'faulty'"
        [(n,)] = con.sql(query, params={"kind": kind, "key": key}).fetchall()
    return bool(n)
