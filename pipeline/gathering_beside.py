"""What pages tell beside sites, asked of a session's views: donor beds, partners, permits, what is due, what is searched for."""

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping, Sequence

from pipeline.gathering import By, asked, placed
from pipeline.indicators.figure import Figure
from pipeline.ledger.entry import Entry
from pipeline.overdue import late_looks, late_partners
from pipeline.pages.told import Bed, Due, Happening, Partner, Permit, Target
from pipeline.pages.words import Words
from pipeline.programme import Rules
from warehouse.asking import Asking

SOON = dt.timedelta(days=31)  # what is due by then is a matter of the month to come


def beds(con: Asking, words: Words) -> list[Bed]:
    """Every donor bed with its newest estimate and its cuttings."""
    cuttings: By = defaultdict(list)
    for bed, day, batch, plants, partner in asked(
        con, "select bed_key, happened, batch_key, plants_cut, partner from collection_stands order by all"
    ):
        cuttings[bed].append(Happening(day, batch, words("plants cut: {n}", n=int(plants)), partner))
    made = []
    for key, species, lat, lon, off, blur, on, fertile, low, high, adults, how, limit, source in asked(
        con,
        "select bed_key, species, latitude, longitude, uncertainty_m, sensitive, estimated_on, fertile, fertile_low, fertile_high, adults, "
        "estimate_method, take_limit_pct, limit_source from bed_now order by bed_key",
    ):
        span = f" ({low}–{high})" if low is not None and high is not None else ""
        told = [words("fertile plants: {n}", n=f"{fertile}{span}") if fertile is not None else "",
                words("adults: {n}", n=adults) if adults is not None else "", how or ""]  # fmt: skip
        cap = (
            ""
            if limit is None
            else words(
                "{pct} % of the plants ({source})", pct=f"{float(limit):g}", source=source or words("source not told")
            )
        )
        made.append(
            Bed(key, species, placed(lat, lon, off, blur), on, ", ".join(t for t in told if t), cap, cuttings[key])
        )
    return made


def partners(
    con: Asking, held: Sequence[tuple[str, str, int, Mapping[str, str]]], waiting: Mapping[str, int]
) -> list[Partner]:
    """Every partner that handed anything in, by the alphabet. held: (partner, file, rows, why)."""
    rows: By = defaultdict(list)
    for partner, kind, n in asked(
        con,
        "select p.partner, p.kind, count(distinct p.identity) from part p cross join as_of a where p.fate in ('entered', 'amends', 'repeated') "
        "and p.kind <> '' and p.entry <= a.entry group by all order by all",
    ):
        rows[partner].append((kind, int(n)))
    drops: By = defaultdict(
        list
    )  # a file read again is the file that first came; what the programme puts on record is none of theirs
    for partner, n, on, name in asked(
        con,
        "select e.partner, min(e.number) as first, min(cast(e.recorded as date)), min(e.name) from entry e cross join as_of a "
        "where e.what = 'drop' and e.name not like 'settled/%' and e.number <= a.entry group by e.partner, e.drop order by e.partner, first",
    ):
        drops[partner].append((int(n), on, name))
    places: By = defaultdict(list)
    for partner, site in asked(
        con, "select distinct partner, site_key from visit_any where site_key is not null order by all"
    ):
        places[partner].append(site)
    return [
        Partner(name, drops[name], rows[name], places[name], [h[1:] for h in held if h[0] == name], waiting.get(name, 0))
        for name in sorted(drops) if name != "programme"
    ]  # fmt: skip


def permits(con: Asking) -> list[Permit]:
    """Every permit as registered."""
    return [
        Permit(*row)
        for row in asked(
            con,
            "select permit_key, authority, activity, valid_from, valid_to, report_due from permit_now order by permit_key",
        )
    ]


def due(
    con: Asking, figures: Sequence[Figure], words: Words, rules: Rules, entries: Sequence[Entry], today: dt.date
) -> list[Due]:  # fmt: skip
    """What the plan wants next at each site, gear to be brought home, reports to authorities, partners' files; by day.

    Overdue is what the night's own page of changes calls so: a look whose round is past, a partner past its rhythm.
    """
    late = {(x.site, x.what) for x in late_looks(con, rules, today)}
    planted = dict(asked(con, "select site_key, planted_on from last_planting"))
    found = []
    for f in figures:
        what = f.indicator.removeprefix("next ")
        if f.indicator.startswith("next ") and f.estimate.value is not None and f.of("site") in planted:
            day = planted[f.of("site")] + dt.timedelta(days=int(f.estimate.value))
            told = {"check": words("look at the units"), "survey": words("count frames")}.get(
                what, words("visit the site")
            )
            found.append(Due(day, f.of("site"), what, told, f.id, _when(day, today, (f.of("site"), what) in late)))
    gear = {f.of("site"): f.id for f in figures if f.indicator == "gear due for retrieval" and len(f.scope) == 1}
    for site, day, pieces, there in asked(
        con,
        "select site_key, min(retrieve_by), sum(out_pieces), sum(in_place) from gear where out_pieces > 0 and retrieve_by is not null "
        "group by site_key order by site_key",
    ):
        short = words("pieces not known to be home: {n}", n=int(pieces))
        told = f"{short} ({words('in place when last seen: {there}', there=int(there))})"
        found.append(Due(day, site, "gear", told, gear.get(site, ""), _when(day, today, day < today), short))
    for key, day in asked(
        con, "select permit_key, report_due from permit_now where report_due is not null order by all"
    ):
        told = words("report on permit {key}; whether it was handed in is not told here", key=key)
        found.append(Due(day, "", "permit", told, when=_when(day, today, day < today)))
    for p in late_partners(entries, rules, today):
        told = words("something to be handed in by {partner}, by the programme's own rhythm", partner=p.partner)
        found.append(Due(p.due, "", "partner", told, when="overdue"))
    return sorted(found, key=lambda d: (d.day, d.site, d.what))


def _when(day: dt.date, today: dt.date, late: bool) -> str:
    return "overdue" if late else "soon" if day <= today + SOON else "later"


def targets(rules: Rules) -> list[Target]:
    """What the newest protocols search for."""
    found = []
    for p in rules.protocols:
        kinds: dict[tuple[str, str], list[str]] = defaultdict(list)
        for t in p.targets:
            kinds[t.species, f"{t.smallest_cm.normalize():f}"].append(t.stage)
        found += [
            Target(p.key, p.frame_type, p.placement, species, tuple(stages), cm)
            for (species, cm), stages in kinds.items()
        ]
    return found


def stage_rules(rules: Rules, words: Words) -> list[str]:
    """Which lengths make which stage, a sentence a species."""
    by: dict[str, list[str]] = defaultdict(list)
    for s in rules.stages:
        most = "" if s.to_cm >= 99999 else f"{s.to_cm.normalize():f}"
        span = (
            f"{s.from_cm.normalize():f}–{most} cm" if most else words("from {cm} cm", cm=f"{s.from_cm.normalize():f}")
        )
        by[s.species].append(f"{words(s.stage)} {span}")
    return [species + words(": ") + ", ".join(told) for species, told in by.items()]
