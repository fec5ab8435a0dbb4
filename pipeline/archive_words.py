"""What an archive says of itself: its protocols in a sentence, its metadata, what stays out of it and why."""

import datetime as dt
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from pathlib import Path
from typing import Any

from pipeline.archive.eml import Metadata, Person
from pipeline.archive.places import Place, box
from pipeline.people import who_may_be_named
from pipeline.plural import n_of
from pipeline.programme import Protocol, Rules
from pipeline.rules.publishing import PublishingRules
from warehouse.asking import Asking

_KINDS = ("survey", "visit", "deployment", "check", "loss", "treatment", "collection", "reading")
_AT_SITES = ("survey", "visit", "deployment", "treatment")
_NEVER = (
    "Costs, permits, the handling of tissue, remarks, photographs, and people who did not consent to be named are never "
    "part of an archive; nor are events that wait, are held or in dispute."
)
_STRICT = "of partners that allow less than the archive's licence does"
_LATER = "under an embargo, or agreed to for later"
_SILENT = "of partners that did not agree to publish"
_ONE = {  # the same of one partner
    _STRICT: "allows less than the archive's licence does",
    _LATER: "is under an embargo, or agreed for later",
    _SILENT: "did not agree: no [[publishing.partner]] of programme.toml names it",
}
_FREE = {  # what anybody may write anything into: its name -> query of what stands there in rows that are published
    "method": "select d.method from deployment_archive_published d join ar_event e on e.id = ar_id('deployment', d.identity)",
    "habitat or substrate": "select habitat from ar_event union "
    "select d.substrate from deployment_archive_published d join ar_event e on e.id = ar_id('deployment', d.identity)",
    "amount unit": "select t.amount_unit from treatment_archive_published t join ar_event e on e.id = ar_id('treatment', t.identity)",
    "doubt about a name": "select s.qualifier from archive_seen s join ar_occurrence o on o.identity = s.identity",
}
_AS_WRITTEN = {  # what the registers say and is published as it stands there
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
    return f"protocol {protocol.key}, dated {protocol.dated}: {protocol.frame_type}, placement {protocol.placement}, searched for {searched}"


def scope_of(protocol: Protocol, hidden: Collection[str]) -> tuple[str, dt.date, str, str]:
    """A protocol's key, its day, and the species and stages it searches for, parted as Humboldt wants."""
    targets = [t for t in protocol.targets if t.species not in hidden]
    species, stages = dict.fromkeys(t.species for t in targets), dict.fromkeys(t.stage for t in targets)
    return protocol.key, protocol.dated, " | ".join(species), " | ".join(stages)


def left_out(
    con: Asking,
    told: PublishingRules,
    today: dt.date,
    hidden: Collection[str],
    unknown: Collection[str],
) -> list[str]:
    """What stands and is not in the archive, a sentence for each reason. Partners and words are counted, not named.

    hidden: species that may not be told of. unknown: names of what was seen that are on no list and were not agreed to.
    """
    counts: dict[str, int] = {}
    for _, why, n in _not_agreed(con, told, today):
        counts[why] = counts.get(why, 0) + n
    said = [f"{n_of(n, 'event')} {why}." for why, n in sorted(counts.items())]
    unseen = [_count(con, kind, "site") for kind in _AT_SITES] + [_count(con, "collection", "bed")]
    if sum(unseen):
        said.append(
            f"{n_of(sum(unseen), 'event')} at places that are withheld, have no position or are of another datum than EPSG:4326."
        )
    if hidden:
        said.append(f"Everything of {n_of(len(hidden), 'species', 'species')} that may not be told of.")
    if unknown:
        rows = sum(n for _, n in _of_names(con, unknown))
        said.append(f"{n_of(rows, 'row')} of what was seen, under names that are on no list.")
    if words := _kept_words(con, told):
        each = ", ".join(f"{name} {n}" for name, n in sorted(Counter(name for name, _ in words).items()))
        said.append(f"Words that nobody agreed to publish, each left blank or with what it stands beside: {each}.")
    return [*said, _NEVER]


def inside(con: Asking, told: PublishingRules, today: dt.date, unknown: Collection[str]) -> list[str]:
    """The same with names, for the programme's own eyes: it is printed, and written into no file."""
    said = [
        f"{partner}: {n_of(n, 'event')}, since it {_ONE[why]}." for partner, why, n in _not_agreed(con, told, today)
    ]
    kept = [*_kept_words(con, told), *(("name of what was seen", name) for name, _ in _of_names(con, unknown))]
    said += [f"{name} “{word}”: nobody agreed to it." for name, word in kept]
    if kept:
        said.append("What names nobody and no place may be agreed to: `words` under [publishing] in programme.toml.")
    return said


def _not_agreed(con: Asking, told: PublishingRules, today: dt.date) -> list[tuple[str, str, int]]:
    """Partner, why its events are left out, how many."""
    strict = {a.partner for a in told.partners if told.too_strict(a)}
    agreed = {a.partner for a in told.partners} | {p for p, _ in told.open_partners(today)}
    every = " union all ".join(f"select partner from archive_left_out_{kind}" for kind in _KINDS)
    counts = con.sql(f"select partner, count(*) from ({every}) group by partner order by partner").fetchall()
    return [
        (
            partner,
            _STRICT if partner in strict else _LATER if partner in agreed else _SILENT,
            n,
        )
        for partner, n in counts
    ]  # fmt: skip


def _kept_words(con: Asking, told: PublishingRules) -> list[tuple[str, str]]:
    """Every word that stands in published rows and that nobody agreed to: of what it is, and the word."""
    return [(name, w) for name, w in _words(con, _FREE) if w.casefold() not in told.agreed_words]


def _words(con: Asking, queries: Mapping[str, str]) -> list[tuple[str, str]]:
    return [
        (name, w)
        for name, query in queries.items()
        for (w,) in con.sql(f"select distinct w from ({query}) t(w) where w <> '' order by w").fetchall()
    ]


def _of_names(con: Asking, names: Collection[str]) -> list[tuple[str, int]]:
    """Those names and how many rows saw them or cut of them."""
    seen = "select species from archive_seen union all select species from collection_archive_published"
    counts = con.sql(f"select species, count(*) from ({seen}) group by species order by species").fetchall()
    return [(name, n) for name, n in counts if name in names]


def _count(con: Asking, kind: str, place: str) -> int:
    query = f"{kind}_archive_published where {place}_key not in (select key from ar_place where kind = '{place}')"
    [(n,)] = con.sql(f"select count(*) from {query}").fetchall()
    return int(n)


def cautions(con: Asking) -> list[str]:
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
    for name in _AS_WRITTEN:
        words = [w for n, w in _words(con, _AS_WRITTEN) if n == name]
        more = f" and {len(words) - _WORDS_SHOWN} more" if len(words) > _WORDS_SHOWN else ""
        said += (
            [f"Published as the registers have it, {name}: {', '.join(words[:_WORDS_SHOWN])}{more}."] if words else []
        )
    return said


def metadata(
    con: Asking,
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


def _sampling(con: Asking, rules: Rules) -> str:
    """How frames are searched; a protocol was written down before only where it is dated before its first survey."""
    first = dict(con.sql("select protocol, min(first_on) from ar_frames group by protocol").fetchall())
    late = [p.key for p in rules.protocols if p.key in first and p.dated >= first[p.key]]
    before = " that was written down before" if first and not late else ""
    return (
        f"Divers search frames of stated kind, placement and area for the species and stages of a protocol{before}; a zero is "
        "told only of a frame that was counted under one that was written down before it."
        + (f" Not dated before the first survey under them: {', '.join(late)}." if late else "")
    )


def _ranked(con: Asking) -> list[tuple[Any, ...]]:
    return con.sql(
        'select distinct t."taxonRank", t."scientificName" from ar_taxon t '
        "join ar_occurrence o on o.species = t.species order by 2, 1"
    ).fetchall()


def _steps(con: Asking, rules: Rules, hidden: Collection[str]) -> list[str]:
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
