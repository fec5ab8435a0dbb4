"""Donor beds, the keeping of tissue, and permits: from the views, and home again."""

import datetime as dt
from collections import defaultdict
from typing import Any

from pipeline.groups.group import Question, rows
from pipeline.indicators.catalogue.donors import ENTRIES
from pipeline.indicators.custody import Chain, Limits, Opening, Step, chains, custody
from pipeline.indicators.donor_beds import Bed, Counted, CuttingDay, Taken, rests, shares
from pipeline.indicators.figure import Figure
from pipeline.indicators.geodesic import Place
from pipeline.indicators.handled import Seen, handling_and_recruits
from pipeline.indicators.parents import Source, donor_distances, parent_plants
from pipeline.indicators.permits import EVENTS, Permit, Used, takings
from pipeline.indicators.remember import Memory
from pipeline.programme import Rules
from warehouse.views import Views

__all__ = ["ENTRIES", "behind", "figures", "missing"]


def figures(con: Views, rules: Rules, memory: Memory) -> list[Figure]:
    """Shares and rests of beds, parents and distances, custody, handling beside recruits, and permits."""
    by_batch = _chains(con)
    return [
        *_beds(con, rules),
        *_parents(con),
        *custody(by_batch, _limits(rules), _custody_cautions(con)),
        *handling_and_recruits(_seen(con), by_batch, rules.first_meaningful_day, memory),
        *_permits(con),
    ]


def _beds(con: Views, rules: Rules) -> list[Figure]:
    taken = [
        Taken(bed, season, int(n), _whole(plants), _whole(blades), int(untold), int(waiting), first)
        for bed, season, n, plants, blades, untold, waiting, first in rows(
            con,
            "select bed_key, season, cuttings, plants, blades, blades_untold, waiting, first_on from bed_taken order by all",
        )
    ]
    beds = {
        key: Bed(key, on, how, _counted(*fertile), _counted(*adults), _counted(*blades), limit, source, _whole(rest))
        for key, on, how, *nine, limit, source, rest in rows(
            con,
            "select bed_key, estimated_on, estimate_method, fertile, fertile_low, fertile_high, adults, adults_low, adults_high, "
            "blades, blades_low, blades_high, take_limit_pct, limit_source, rest_days from bed_now order by all",
        )
        for fertile, adults, blades in [(nine[:3], nine[3:6], nine[6:])]
    }
    around: dict[tuple[str, str], dict[str, int]] = defaultdict(dict)
    for bed, season, what, times in rows(con, "select bed_key, season, what, times from bed_caution order by all"):
        around[bed, season][what] = int(times)
    [(held,)] = rows(con, f"select count(*) from ({_HELD_CUTTINGS})")
    days = [
        CuttingDay(*row)
        for row in rows(con, "select bed_key, season, happened, before from bed_day order by bed_key, happened")
    ]
    return [
        *shares(taken, beds, rules.take_limit_pct, around, int(held)),
        *rests(days, beds, rules.donors.rest_days, around),
    ]


def _counted(number: Any, low: Any, high: Any) -> Counted | None:
    return None if number is None else Counted(int(number), _whole(low), _whole(high))


def _whole(value: Any) -> int | None:
    return None if value is None else int(value)


def _real(value: Any) -> float | None:
    return None if value is None else float(value)


def _parents(con: Views) -> list[Figure]:
    sources = [
        Source(site, batch, source, bed, _whole(parents), _whole(plants), bool(known))
        for site, batch, source, bed, parents, plants, known in rows(
            con,
            "select site_key, batch_key, source_key, bed_key, parents, plants_cut, known from parent_input order by all",
        )
    ]
    untold = {
        site: int(n)
        for site, n in rows(
            con,
            "select site_key, count(*) from deployment_stands where batch_key is null group by site_key order by all",
        )
    }
    pairs = sorted({(s.site, s.bed) for s in sources if s.site is not None and s.bed is not None})
    return [*parent_plants(sources, untold), *donor_distances(pairs, _places(con, "site"), _places(con, "bed"))]


def _places(con: Views, kind: str) -> dict[str, Place]:
    query = f"select {kind}_key, latitude, longitude, uncertainty_m, sensitive, datum from {kind}_now where latitude is not null order by all"
    return {
        key: Place(float(north), float(east), float(give or 0), blur, datum is not None)
        for key, north, east, give, blur, datum in rows(con, query)
    }


def _chains(con: Views) -> dict[str, Chain]:
    steps = [
        Step(batch, cutting, told, step, start, end, _real(cool), _real(warm), int(n))
        for batch, cutting, told, step, start, end, cool, warm, n in rows(
            con,
            "select batch_key, cutting_key, identity, step, started_at, ended_at, coolest, warmest, readings from custody_step order by all",
        )
    ]
    openings = [
        Opening(batch, site, on, int(units), int(opened), int(timed), first, last, _real(boat))
        for batch, site, on, units, opened, timed, first, last, boat in rows(
            con,
            "select batch_key, site_key, happened, units, opened, timed, first_at, last_at, boat_degc from custody_opening order by all",
        )
    ]
    return chains(steps, openings)


def _limits(rules: Rules) -> Limits:
    return Limits(
        float(rules.most_hours_to_release), {step: float(h) for step, h in rules.donors.most_hours},
        float(rules.donors.coolest_degc), float(rules.warmest_degc), float(rules.donors.most_gap_hours),
    )  # fmt: skip


def _custody_cautions(con: Views) -> dict[str, list[str]]:
    around: dict[str, list[str]] = defaultdict(list)
    for batch, what, times in rows(con, "select batch_key, what, times from custody_caution order by all"):
        around[batch].append(f"{what}: {times}")
    return around


def _seen(con: Views) -> list[Seen]:
    return [
        Seen(site, species, protocol, on, first, int(recruits), float(area))
        for site, species, protocol, on, first, recruits, area in rows(
            con,
            "select site_key, species, protocol, round_on, first_down, recruits, area_m2 from recruits_seen order by all",
        )
    ]


def _permits(con: Views) -> list[Figure]:
    used = [
        Used(permit, kind, bool(other), unit, int(events), amount, int(untold or 0), int(late or 0), int(species or 0), int(partners),
             int(waiting), last)
        for permit, kind, other, unit, events, amount, untold, late, species, partners, waiting, last in rows(
            con,
            "select permit_key, kind, other_activity, unit, events, amount, untold, out_of_dates, other_species, partners, waiting, last_on "
            "from permit_total order by all",
        )
    ]  # fmt: skip
    permits = {
        row[0]: Permit(*row)
        for row in rows(
            con,
            "select permit_key, activity, quota, lower(trim(quota_unit)), valid_from, valid_to, species, report_due, status "
            "from permit_now order by all",
        )
    }
    passed: dict[str, dt.date] = dict(rows(con, "select permit_key, passed_on from permit_passed"))
    tissue = {permit: int(n) for permit, n in rows(con, "select permit_key, units from permit_tissue")}
    return takings(used, permits, passed, tissue)


_HELD_CUTTINGS = (
    "select entry, sheet, row, part from held_open where kind = 'collection' and fate in ('faulty', 'question')"
)
_GRAPH = [  # the batch graph is made of all of these
    Question("beside", "collection", "select identity from collection_now"),
    Question("beside", "handling", "select identity from handling_now"),
]


def behind(figure: Figure) -> list[Question]:
    """What was cut, kept, put down and prepared, as far as the figure counts it; beside it the whole graph of batches."""
    return _BEHIND[_sort(figure.indicator)](figure)


def _sort(indicator: str) -> str:
    """What a figure of that indicator rests on."""
    if (indicator.startswith("share of ") and indicator.endswith(" cut")) or indicator == "rest between cuttings":
        return "bed"
    if indicator.startswith("parent plants") or indicator == "donor distance":
        return "parents"
    if "permit" in indicator:
        return "permit"
    return "recruits" if indicator == "handling and recruits" else "custody"


def _of_bed(figure: Figure) -> list[Question]:
    counted = """
        select c.identity from collection_stands c join season_day s on s.happened = c.happened
        where c.bed_key = $bed and s.season = $season"""
    return [
        Question("counted", "collection", counted),
        Question("beside", "collection", "select identity from collection_now where bed_key = $bed"),
    ]


def _of_parents(figure: Figure) -> list[Question]:
    of = "site_key = $site" if figure.of("site") else "batch_key = $batch"
    bed = " and c.bed_key = $bed" if figure.of("bed") else ""
    counted = f"select c.identity from parent_input p join collection_stands c on c.batch_key = p.source_key where p.{of}{bed}"
    planted = "select identity from deployment_now where site_key = $site" if figure.of("site") else _UNITS
    return [Question("counted", "collection", counted), Question("beside", "deployment", planted), *_GRAPH]


_UNITS = "select d.identity from deployment_batch d where d.batch_key = $batch"


def _of_custody(figure: Figure) -> list[Question]:
    path = "join custody_path p on p.batch_key = $batch and p.between_key ="
    return [
        Question("counted", "collection", f"select c.identity from collection_stands c {path} c.batch_key"),
        Question("counted", "handling", f"select h.identity from handling_stands h {path} h.batch_key"),
        Question("counted", "deployment", f"{_UNITS} and d.identity in (select identity from deployment_stands)"),
        Question("beside", "deployment", _UNITS),
        *_GRAPH,
        Question("beside", "reading", _READINGS),
    ]


_READINGS = """
    select r.identity from reading_stands r
    where lower(trim(r.logger_key)) in (
        select lower(trim(vessel)) from handling_now union select lower(trim(batch_key)) from handling_now)"""


def _of_recruits(figure: Figure) -> list[Question]:
    counted = """
        select c.identity from counted c
        join frame f on f.partner = c.partner and f.visit_key = c.visit_key and f.plot_key = c.plot_key
            and f.frame_key = c.frame_key and f.protocol = c.protocol and f.happened = c.happened
        where f.protocol = $protocol and f.plot_kind = 'treated' and c.species = $species and c.stage = 'recruit'"""
    return [
        Question("counted", "survey", counted),
        *(Question("beside", kind, f"select identity from {kind}_now") for kind in ("survey", "visit", "deployment")),
        *_GRAPH,
        Question("beside", "reading", _READINGS),
    ]


def _of_permit(figure: Figure) -> list[Question]:
    kind = {word: kind for kind, word in EVENTS.items()}.get(figure.of("category"), "")
    which = "permit_key = $permit" if figure.of("permit") else "permit_key is null"
    kinds = [kind] if kind else list(EVENTS)
    return [
        *(Question("counted", k, f"select identity from {k}_stands where {which}") for k in kinds),
        *(Question("beside", k, f"select identity from {k}_now where {which}") for k in kinds),
        *(_GRAPH if figure.of("permit") else []),
    ]


_BEHIND = {
    "bed": _of_bed, "parents": _of_parents, "custody": _of_custody, "recruits": _of_recruits, "permit": _of_permit,
}  # fmt: skip


def missing(figure: Figure) -> str:
    """Rows of cuttings and of handling that are held or in dispute; of surveys too, where recruits are counted."""
    sort = _sort(figure.indicator)
    if sort == "bed":
        return f"""
        {_HELD_CUTTINGS}
        union
        select c.entry, c.sheet, c.row, c.part from collection_said c
        join in_dispute q on q.identity = c.identity
        where c.bed_key = $bed"""
    if sort == "custody":
        return "select entry, sheet, row, part from custody_held where batch_key = $batch"
    if sort == "recruits":
        return """
        select h.entry, h.sheet, h.row, h.part from held_open h
        left join withdrawn w on w.identity = h.identity where h.kind = 'survey' and w.identity is null
        union
        select p.entry, p.sheet, p.row, p.part from part p join in_dispute q on q.identity = p.identity where p.kind = 'survey'
        union
        select entry, sheet, row, part from withdrawn_survey"""
    return ""
