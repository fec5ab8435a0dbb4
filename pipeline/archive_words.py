"""What an archive says of itself: its protocols in a sentence, its metadata, what stays out of it and why."""

import datetime as dt
from collections.abc import Collection, Sequence
from pathlib import Path
from typing import Any

import duckdb

from pipeline.archive.eml import Metadata, Person
from pipeline.archive.places import Place, box
from pipeline.people import who_may_be_named
from pipeline.plural import n_of
from pipeline.programme import Protocol, Rules
from pipeline.rules.publishing import PublishingRules

_KINDS = ("survey", "visit", "deployment", "check", "loss", "treatment", "collection", "reading")
_AT_SITES = ("survey", "visit", "deployment", "treatment")
_NEVER = (
    "Costs, permits, the handling of tissue, remarks, photographs, and people who did not consent to be named are never "
    "part of an archive; nor are events that wait, are held or in dispute. {as_written}"
)
_AS_WRITTEN = {  # what anybody may write anything into and is published: its name -> query of those in the archive
    "method": "select d.method from deployment_archive_published d join ar_event e on e.id = ar_id('deployment', d.identity)",
    "habitat or substrate": "select habitat from ar_event union "
    "select d.substrate from deployment_archive_published d join ar_event e on e.id = ar_id('deployment', d.identity)",
    "amount unit": "select t.amount_unit from treatment_archive_published t join ar_event e on e.id = ar_id('treatment', t.identity)",
    "doubt about a name": "select s.qualifier from archive_seen s join ar_occurrence o on o.identity = s.identity",
    "water body": "select p.water_body from ar_place p join ar_event e on e.place_kind = p.kind and e.place_key = p.key",
    "name of a place": "select p.locality from ar_place p join ar_event e on e.place_kind = p.kind and e.place_key = p.key",
}
_WORDS_SHOWN = 30  # words of one kind that a caution lists
_SHOWN = 10  # types of measurement that a caution lists


def protocol_says(protocol: Protocol, hidden: Collection[str]) -> str:
    """A protocol in a sentence. hidden: species that are not told of."""
    of: dict[str, list[str]] = {}
    for t in protocol.targets:
        if t.species not in hidden:
            of.setdefault(t.species, []).append(f"{t.stage} from {t.smallest_cm} cm")
    searched = "; ".join(f"{species} ({', '.join(stages)})" for species, stages in of.items())
    return f"{protocol.key} of {protocol.dated}: {protocol.frame_type}, placement {protocol.placement}, searched for {searched}"


def scope_of(protocol: Protocol, hidden: Collection[str]) -> tuple[str, dt.date, str, str]:
    """A protocol's key, its day, and the species and stages it searches for, parted as Humboldt wants."""
    targets = [t for t in protocol.targets if t.species not in hidden]
    species, stages = dict.fromkeys(t.species for t in targets), dict.fromkeys(t.stage for t in targets)
    return protocol.key, protocol.dated, " | ".join(species), " | ".join(stages)


def left_out(
    con: duckdb.DuckDBPyConnection, told: PublishingRules, today: dt.date, hidden: Collection[str]
) -> list[str]:
    """What stands and is not in the archive, a sentence for each reason. Partners are counted, not named."""
    strict = {a.partner for a in told.partners if told.too_strict(a)}
    agreed = {a.partner for a in told.partners} | {p for p, _ in told.open_partners(today)}
    counts: dict[str, int] = {}
    for kind in _KINDS:
        for partner, n in con.sql(f"select partner, count(*) from archive_left_out_{kind} group by partner").fetchall():
            why = (
                "of partners that allow less than the archive's licence does" if partner in strict
                else "under an embargo, or agreed to for later" if partner in agreed
                else "of partners that did not agree to publish"
            )  # fmt: skip
            counts[why] = counts.get(why, 0) + n
    said = [f"{n_of(n, 'event')} {why}." for why, n in sorted(counts.items())]
    unseen = [_count(con, kind, "site") for kind in _AT_SITES] + [_count(con, "collection", "bed")]
    if sum(unseen):
        said.append(
            f"{n_of(sum(unseen), 'event')} at places that are withheld, have no position or are of another datum than EPSG:4326."
        )
    if hidden:
        said.append(f"Everything of {n_of(len(hidden), 'species', 'species')} that may not be told of.")
    words = words_as_written(con)
    return [*said, _NEVER.format(as_written=words or "No words are published as a partner wrote them.")]


def words_as_written(con: duckdb.DuckDBPyConnection) -> str:
    """A sentence that lists every word that is published as somebody wrote it, "" where there is none."""
    told = []
    for name, query in _AS_WRITTEN.items():
        words = [w for (w,) in con.sql(f"select distinct w from ({query}) t(w) where w <> '' order by w").fetchall()]
        more = f" and {len(words) - _WORDS_SHOWN} more" if len(words) > _WORDS_SHOWN else ""
        told += [f"{name}: {', '.join(words[:_WORDS_SHOWN])}{more}"] if words else []
    return f"Words published as they were written: {'; '.join(told)}." if told else ""


def _count(con: duckdb.DuckDBPyConnection, kind: str, place: str) -> int:
    query = f"{kind}_archive_published where {place}_key not in (select key from ar_place where kind = '{place}')"
    [(n,)] = con.sql(f"select count(*) from {query}").fetchall()
    return int(n)


def cautions(con: duckdb.DuckDBPyConnection) -> list[str]:
    """What a repository may ask about: names and measurements without a verified code, plants of unsaid origin."""
    seen = "select distinct t.species from ar_taxon t join ar_occurrence o on o.species = t.species"
    bare = con.sql(f"""{seen} where t."scientificNameID" = '' order by 1""").fetchall()
    said = [f"{name}: no verified WoRMS identifier; a repository drops names that it cannot match." for (name,) in bare]
    measured = "ar_fact f join ar_measure m on m.name = f.measure"
    types = [
        t for (t,) in con.sql(f"select distinct m.type from {measured} where m.type_id = '' order by 1").fetchall()
    ]
    if types:
        more = f" and {len(types) - _SHOWN} more" if len(types) > _SHOWN else ""
        said.append(
            f"{n_of(len(types), 'type')} of measurement without a verified code, left blank: {', '.join(types[:_SHOWN])}{more}."
        )
    mute = "from ar_occurrence where status = 'present' and means is null"
    for species, n in con.sql(f"select species, count(*) {mute} group by species order by species").fetchall():
        said.append(
            f"{n_of(n, 'occurrence')} of {species} of unsaid origin: give the species an [[publishing.origin]]."
        )
    words = words_as_written(con)
    return [*said, f"{words} Look through them for names and positions."] if words else said


def metadata(
    con: duckdb.DuckDBPyConnection,
    rules: Rules,
    root: Path,
    places: Sequence[Place],
    hidden: Collection[str],
    missing: Sequence[str],
) -> Metadata:
    """The archive's metadata; what can be is computed from what is in it. missing: what stays out, a sentence each."""
    told = rules.publishing
    roles = {p.code: p.role for p in told.people}
    [(first, last)] = con.sql("select min(first_on), max(last_on) from ar_event").fetchall()
    return Metadata(
        identifier=rules.key, title=told.title, abstract=told.abstract, organisation=told.organisation, email=told.email,
        url=told.url, language=told.language, licence=told.licence, rights=f"{told.rights_holder}." if told.rights_holder else "",
        pub_date=told.published or last, area=told.area or "The sites of the programme, as published.", box=box(places),
        first=first, last=last, taxa=_ranked(con), steps=_steps(con, rules, hidden),
        sampling=_sampling(con, rules),
        quality="Every row was checked for its shape and against all others; what is held, waits or is in dispute is left out. "
        "Every record leads to the file and row that said it.",
        keywords=told.keywords, purpose=told.purpose, citation=told.citation, funding=told.funding, maintenance=told.maintenance,
        update_frequency=told.update_frequency,
        people=[Person(p.name, p.orcid, roles[p.code]) for p in who_may_be_named(root) if p.code in roles], left_out=missing,
    )  # fmt: skip


def _sampling(con: duckdb.DuckDBPyConnection, rules: Rules) -> str:
    """How frames are searched; a protocol was written down before only where it is dated before its first survey."""
    first = dict(con.sql("select protocol, min(first_on) from ar_frames group by protocol").fetchall())
    late = [p.key for p in rules.protocols if p.key in first and p.dated >= first[p.key]]
    before = " that was written down before" if first and not late else ""
    return (
        f"Divers search frames of stated kind, placement and area for the species and stages of a protocol{before}; a zero is "
        "told only of a frame that was counted under one that was written down before it."
        + (f" Not dated before the first survey under them: {', '.join(late)}." if late else "")
    )


def _ranked(con: duckdb.DuckDBPyConnection) -> list[tuple[Any, ...]]:
    return con.sql(
        'select distinct t."taxonRank", t."scientificName" from ar_taxon t '
        "join ar_occurrence o on o.species = t.species order by 2, 1"
    ).fetchall()


def _steps(con: duckdb.DuckDBPyConnection, rules: Rules, hidden: Collection[str]) -> list[str]:
    used = {p for (p,) in con.sql("select distinct protocol from ar_frames").fetchall()}
    kinds = {t for (t,) in con.sql("select distinct type from ar_event").fetchall()}
    done = con.sql(
        "select distinct protocol from ar_event where type in ('deployment', 'site preparation') order by 1"
    ).fetchall()
    steps = [*(protocol_says(p, hidden) for p in rules.protocols if p.key in used), *(step for (step,) in done)]
    if "collection" in kinds:
        steps.append("Fertile tissue was cut from donor beds, whose plants are told of as material of the bed.")
    if "logger" in kinds:
        steps.append("Loggers under water; the mean of a local day is of its readings that are not in doubt.")
    return [*steps, "Indicators: each with its estimator; the table of their meanings names the published source."]
