"""What boxes of a blank sheet are chosen from: the registers as they stand, and the words that a partner uses."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from pipeline.errors import Stop
from pipeline.intake.names import names_of
from pipeline.programme import Rules, open_programme
from warehouse.asking import Asking

PEOPLE = ("visit", "survey", "check", "deployment")


@dataclass(frozen=True)
class Registered:
    """Codes that the programme knows, in order; plots and units by their site. as_of: the last day anything is told of; recorded: the
    day on which the last of what is known was handed in."""

    sites: Sequence[tuple[str, str]] = ()
    plots: Sequence[tuple[str, str]] = ()
    units: Sequence[tuple[str, str]] = ()
    plain: Mapping[str, Sequence[str]] = field(default_factory=dict)
    as_of: dt.date | None = None
    recorded: dt.date | None = None


def registered(root: Path, partner: str) -> Registered:
    """What is known by now; only what the rules tell before anything is projected."""
    programme = open_programme(root)
    ruled = _ruled(programme.rules)
    try:
        from pipeline.session import session

        with session(root) as (con, _):
            return _told(con, partner, ruled)
    except Stop:  # nothing is projected yet
        return Registered(plain=ruled)


def _ruled(rules: Rules) -> dict[str, list[str]]:
    """Protocols, and the species that the programme's rules and its own list name."""
    names = names_of(rules)
    species = dict.fromkeys(
        [*names.used, *(s.name for s in rules.species), *(a for s in rules.species for a in s.aliases)]
    )
    return {"protocols": [p.key for p in rules.protocols], "species": list(species), "currency": [rules.currency]}


def _told(con: Asking, partner: str, ruled: Mapping[str, list[str]]) -> Registered:
    def column(query: str, **given: str) -> list[str]:
        return [str(v) for (v,) in con.sql(query, params=given).fetchall()]

    def pairs(query: str) -> list[tuple[str, str]]:
        return [(str(a), str(b)) for a, b in con.sql(query).fetchall()]

    seen = column(
        "select distinct species from survey_now where species is not null and partner = $p order by 1", p=partner
    )
    people = " union ".join(f"select recorded_by as who from {k}_now where partner = $p" for k in PEOPLE)
    plain = {
        **ruled,
        "species": list(dict.fromkeys([*ruled["species"], *seen])),
        "beds": column("select bed_key from bed_now order by 1"),
        "batches": column("select distinct batch_key from collection_now order by 1"),
        "permits": column("select distinct permit_key from permit_now order by 1"),
        "people": column(f"select distinct who from ({people}) where who is not null order by 1", p=partner),
    }
    [(day,)] = con.sql("select happened from as_of").fetchall()
    last = "select cast(max(e.recorded) as date) from entry e cross join as_of a where e.number <= a.entry"
    [(recorded,)] = con.sql(last).fetchall()
    return Registered(
        sites=pairs("select site_key, name from site_now order by 1"),
        plots=pairs("select site_key, plot_key from plot_now order by 1, 2"),
        units=pairs("select distinct site_key, unit_key from deployment_now order by 1, 2"),
        plain=plain, as_of=day, recorded=recorded,
    )  # fmt: skip
