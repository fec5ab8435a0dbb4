"""What pages are made of, asked of a session's views in one query for all sites: sites with all that was told of them."""

import datetime as dt
import math
from collections import defaultdict
from collections.abc import Mapping
from typing import Any

from pipeline.indicators.retention import sorted_out
from pipeline.indicators.turnbull import fit
from pipeline.pages.told import (
    Curve,
    FrameCount,
    Happening,
    Place,
    Plot,
    Site,
    Unit,
    Visit,
    Warm,
)
from pipeline.pages.words import Words
from warehouse.asking import Asking

By = dict[str, list[Any]]


def asked(con: Asking, query: str) -> list[tuple[Any, ...]]:
    """What a query gives."""
    return con.sql(query).fetchall()


def _number(value: Any) -> float | None:
    return None if value is None else float(value)


def placed(latitude: Any, longitude: Any, uncertainty: Any, blur: str | None = None) -> Place | None:
    """A place, None where no position is told."""
    if latitude is None or longitude is None:
        return None
    return Place(float(latitude), float(longitude), _number(uncertainty), blur or "none")


def sites(con: Asking, words: Words, people: Mapping[str, str]) -> list[Site]:
    """Every registered site with all that was told of it, by key. people: names behind codes."""
    plots, units, visits = _plots(con), _units(con), _visits(con)
    happened, frames = _happenings(con, words, people), _frames(con)
    curves, warmth, media, losses = _curves(con), _warmth(con), _media(con), _losses(con)
    lost = dict(asked(con, "select site_key, first_failed from site_search"))
    return [
        Site(
            key, name, placed(lat, lon, off, blur), float(radius), country, habitat or "", marks or "",
            _depth(least, most, words), datum or "", lost.get(key), plots[key], units[key], visits[key], happened[key], frames[key],
            curves[key], warmth[key], media[key], losses[key],
        )
        for key, name, lat, lon, off, blur, radius, country, habitat, marks, least, most, datum in asked(
            con,
            "select site_key, name, latitude, longitude, uncertainty_m, sensitive, radius_m, country, habitat, marks, depth_min_m, "
            "depth_max_m, depth_datum from site_now order by site_key",
        )
    ]  # fmt: skip


def _depth(least: Any, most: Any, words: Words) -> str:
    told = [words.number(float(d)) for d in (least, most) if d is not None]
    return f"{'–'.join(told)} m" if told else ""


def _plots(con: Asking) -> By:
    found: By = defaultdict(list)
    for site, key, kind, area, pair, control, by, depth, rock in asked(
        con,
        "select site_key, plot_key, plot_kind, area_m2, paired_with, control_kind, assigned_by, depth_m, substrate from plot_now order by all",
    ):
        found[site].append(
            Plot(key, kind, float(area), pair or "", control or "", by or "", _number(depth), rock or "")
        )
    return found


def _units(con: Asking) -> By:
    """Units and lots that stand, with the last that was seen of each: by a check, or as lost."""
    found: By = defaultdict(list)
    for site, key, method, plot, fixing, down, pieces, lat, lon, off, depth, by, state, on, gone in asked(
        con,
        """with look as (
               select unit_key, happened, state, 0 as of_loss from check_stands where state <> 'not searched'
               union all select unit_key, happened, 'lost', 1 from loss_stands
           ), ranked as (
               select unit_key, happened, state,
                   row_number() over (partition by unit_key order by happened desc, of_loss desc, state) as nth
               from look where unit_key is not null
           )
           select d.site_key, d.unit_key, d.method, d.plot_key, coalesce(d.fixing, ''), d.happened, coalesce(d.unit_count, 1),
               d.latitude, d.longitude, d.uncertainty_m, d.depth_m, d.retrieve_by, coalesce(r.state, ''), r.happened, u.r
           from deployment_stands d
           left join ranked r on r.unit_key = d.unit_key and r.nth = 1
           left join unit_life u on u.unit_key = d.unit_key
           order by d.site_key, d.unit_key""",
    ):
        place = placed(lat, lon, off)
        found[site].append(
            Unit(key, method, plot, fixing, down, int(pieces), place, _number(depth), state, on, gone, by)
        )
    return found


def _visits(con: Asking) -> By:
    found: By = defaultdict(list)
    for site, day, outcome, why, saw in asked(
        con,
        "select a.site_key, a.happened, a.outcome, coalesce(v.why, ''), a.visibility_m from visit_any a "
        "left join visit_now v on v.partner = a.partner and v.visit_key = a.visit_key where a.site_key is not null order by all",
    ):
        found[site].append(Visit(day, outcome, why, _number(saw)))
    return found


def _happenings(con: Asking, words: Words, people: Mapping[str, str]) -> By:
    """The timeline of each site, day by day."""
    found: By = defaultdict(list)

    def add(
        site: str, day: dt.date, what: str, told: str, partner: str, code: str | None = None, aside: str = ""
    ) -> None:
        who = f"{partner} ({people.get(code, code)})" if code else partner
        found[site].append(Happening(day, what, told, who, aside))

    for site, day, outcome, why, partner, code in asked(
        con,
        "select a.site_key, a.happened, a.outcome, coalesce(v.why, ''), a.partner, v.recorded_by from visit_any a "
        "left join visit_now v on v.partner = a.partner and v.visit_key = a.visit_key where a.site_key is not null order by all",
    ):
        add(site, day, "dive", words(outcome), partner, code, why)
    for site, day, method, partner, n, pieces in asked(
        con,
        "select site_key, happened, method, partner, count(*), sum(coalesce(unit_count, 1)) from deployment_stands group by all order by all",
    ):
        add(
            site,
            day,
            "put down",
            words("{method}: {n}, pieces: {pieces}", n=n, method=words(method), pieces=int(pieces)),
            partner,
        )
    for site, day, plot, action, amount, unit, species, partner in asked(
        con,
        "select site_key, happened, plot_key, action, amount, amount_unit, species, partner from treatment_stands order by all",
    ):
        told = " ".join(
            str(t)
            for t in (
                f"{plot}:",
                words(action),
                "" if amount is None else words.number(float(amount), 6),
                words(unit or ""),
                species,
            )
            if t
        )
        add(site, day, "prepared", told, partner)
    for site, day, partner, frames, plots in asked(
        con,
        "select site_key, happened, partner, count(distinct (visit_key, plot_key, frame_key)), count(distinct plot_key) from survey_stands "
        "group by all order by all",
    ):
        add(site, day, "counted", words("frames: {frames}, plots: {plots}", frames=frames, plots=plots), partner)
    looks: dict[tuple[str, dt.date, str], list[str]] = defaultdict(list)
    for site, day, partner, state, n in asked(
        con,
        "select v.site_key, c.happened, c.partner, c.state, count(*) from check_stands c "
        "join visit_any v on v.partner = c.partner and v.visit_key = c.visit_key where v.site_key is not null group by all order by all",
    ):
        looks[site, day, partner].append(f"{words(state)} {n}")
    for (site, day, partner), states in looks.items():
        add(site, day, "looked at units", ", ".join(states), partner)
    for site, day, how, cause, partner, units, unit in asked(
        con,
        "select d.site_key, l.happened, l.how_known, coalesce(l.cause, 'unknown'), l.partner, count(*), min(l.unit_key) from loss_stands l "
        "join deployment_stands d on d.unit_key = l.unit_key group by all order by all",
    ):
        told = f"{words('units: {n}', n=units)}: {words(how)}, {words('cause')}: {words(cause)}"
        add(site, day, "lost", told, partner, aside=unit if units == 1 else "")
    for told_here in found.values():
        told_here.sort(key=lambda h: (h.day, h.what, h.told, h.partner))
    return found


def _frames(con: Asking) -> By:
    """Counts of the last two rounds of each site: what is drawn behind means, and what a dive sheet asks for again."""
    found: By = defaultdict(list)
    for site, day, kind, plot, species, stage, protocol, placed, count, area in asked(
        con,
        """with last as (
               select site_key, plot_kind, protocol, species, stage, max(round_on) as round_on from frame_count group by all
           )
           select f.site_key, f.round_on, f.plot_kind, f.plot_key, f.species, f.stage, f.protocol, f.placement, f.count, f.area_m2
           from frame_count f
           join (select distinct site_key, round_on from last) l on l.site_key = f.site_key and l.round_on = f.round_on
           order by all""",
    ):
        found[site].append(
            FrameCount(day, kind, plot, species, stage, protocol, placed == "at unit", int(count), float(area))
        )
    return found


def _curves(con: Asking) -> By:
    """Turnbull's curve of each site and method, of the same intervals as the figures."""
    lives: dict[tuple[str, str], list[tuple[float, float, int]]] = defaultdict(list)
    for site, method, left, right, units in asked(
        con,
        "select site_key, method, l, r, sum(units) from retention_input where unresolved = '' group by all order by all",
    ):
        lives[site, method].append((float(left), math.inf if right is None else float(right), int(units)))
    found: By = defaultdict(list)
    for (site, method), intervals in lives.items():
        data, _ = sorted_out(sorted(intervals))
        if data is not None:
            curve = fit(*data)
            found[site].append(Curve(method, curve.q, curve.p, curve.mass, curve.n))
    for curves in found.values():
        curves.sort(key=lambda c: (-c.units, c.method))
    return found


def _warmth(con: Asking) -> By:
    found: By = defaultdict(list)
    [(any_told,)] = asked(con, "select count(*) from (select 1 from reading_now limit 1)")
    if any_told:
        for site, logger, day, n, total in asked(
            con,
            "select site_key, logger_key, happened, readings, total from logger_day order by site_key, logger_key, happened",
        ):
            if site is not None and n and total is not None:
                found[site].append(Warm(logger, day, round(float(total) / int(n), 4)))
    return found


def _losses(con: Asking) -> By:
    """What took units, as told: each unit once, by the last word of it that names a cause."""
    found: By = defaultdict(list)
    for site, cause, n in asked(
        con,
        """with ranked as (
               select d.site_key, l.unit_key, coalesce(l.cause, 'unknown') as cause,
                   row_number() over (partition by l.unit_key
                       order by case when coalesce(l.cause, 'unknown') = 'unknown' then 1 else 0 end, l.happened desc, l.identity) as nth
               from loss_stands l join deployment_stands d on d.unit_key = l.unit_key
           )
           select site_key, cause, count(*) from ranked where nth = 1 group by all order by 1, 3 desc, 2""",
    ):
        found[site].append((cause, int(n)))
    return found


def _media(con: Asking) -> By:
    found: By = defaultdict(list)
    every = " union ".join(
        f"select site_key, happened, media, partner from {k}_stands where media is not null"
        for k in ("visit", "survey", "deployment")
    )
    for site, day, name, partner in asked(con, f"select * from ({every}) order by all"):
        found[site].append((day, f"{name} ({partner})"))
    return found
