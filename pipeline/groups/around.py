"""Frames and what stands around them, read from the views for the indicators of what grows."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator
from itertools import groupby
from operator import itemgetter
from typing import Any

from pipeline.groups.group import rows
from pipeline.indicators.by_method import Ground, Methods, place
from pipeline.indicators.cells import Around, Baseline, Cell, Frames, Laid, Plants, Reference, Rows
from pipeline.indicators.cohorts import Cohorts, Place, Seen
from pipeline.indicators.measured import Bearing, Covered, Long, Measured, cell_of
from pipeline.programme import Rules
from warehouse.views import Views


def read_frames(con: Views) -> Frames:
    """Counts and areas of every cell's frames."""
    asked = rows(
        con,
        "select site_key, plot_kind, species, stage, round_on, protocol, placed, count, area_m2, frames "
        "from density_input order by all",
    )
    return {Cell(*cell): found for cell, found in _by_cell(asked)}


def _by_cell(asked: Iterable[tuple[Any, ...]]) -> Iterator[tuple[tuple[Any, ...], Rows]]:
    """Rows that end in count, area and how many such frames, sorted, by all that stands before these."""
    for cell, found in groupby(asked, itemgetter(slice(None, -3))):
        yield cell, Rows((int(row[-3]), row[-2], int(row[-1])) for row in found)


def read_around(con: Views, rules: Rules) -> Around:
    """What stands around them."""

    def grouped(query: str) -> dict[tuple[str, dt.date], list[str]]:
        found: dict[tuple[str, dt.date], list[str]] = defaultdict(list)
        for site, day, text in rows(con, query):
            found[site, day].append(text)
        return dict(found)

    plants: dict[Laid, list[Plants]] = defaultdict(list)
    for site, kind, day, protocol, *told in rows(
        con,
        "select site_key, plot_kind, round_on, protocol, species, stage, coalesce(basis, '') from cell_plants order by all",
    ):
        plants[site, kind, day, protocol].append(Plants(*told))
    withdrawn: dict[tuple[str, dt.date], list[tuple[str | None, str | None, int]]] = defaultdict(list)
    for site, day, species, stage, n in rows(
        con, "select site_key, round_on, species, stage, taken_back from withdrawn_beside order by all"
    ):
        withdrawn[site, day].append((species, stage, int(n)))
    return Around(
        cautions=grouped("select site_key, round_on, why from density_caution order by all"),
        withdrawn=dict(withdrawn),
        first_down=dict(rows(con, "select site_key, first_down from first_down")),
        unequal=grouped("select site_key, round_on, action from treatment_gap order by all"),
        off_protocol=[
            (site, kind, day, protocol, species, stage, int(n))
            for site, kind, day, protocol, species, stage, n in rows(
                con, "select site_key, plot_kind, round_on, protocol, species, stage, rows_counted from off_protocol order by all"
            )
        ],
        seasons={(site, day): season for site, day, season in rows(con, "select site_key, round_on, season from round_season")},
        since={
            (site, day, species): (int(days), int(needed))
            for site, day, species, days, needed in rows(
                con, "select site_key, round_on, species, days, needed from since_planting"
            )
        },
        frames_of={
            (site, kind, day, protocol): (tuple(sorted({one, other})), bool(fixed))
            for site, kind, day, protocol, one, other, fixed in rows(
                con, "select site_key, plot_kind, round_on, protocol, frame_type, other_type, fixed from cell_frames"
            )
        },
        plants=dict(plants),
        reference={
            (site, day, protocol): Reference(*told)
            for site, day, protocol, *told in rows(
                con, "select site_key, round_on, protocol, reference_site, metres, reference_on from reference_round"
            )
        },
        baseline={
            (site, day, protocol): Baseline(*told)
            for site, day, protocol, *told in rows(
                con, "select site_key, round_on, protocol, baseline_on, any_before from baseline_round"
            )
        },
        last={
            tuple(key): day
            for *key, day in rows(con, "select site_key, protocol, season, plots, round_on from season_round")
        },
        zero_k=float(rules.zero_k),
    )  # fmt: skip


def read_methods(con: Views, rules: Rules) -> Methods:
    """Frames of recruits, plots and units of every method where it lies alone."""
    frames: dict[str, Frames] = defaultdict(dict)
    ground: dict[tuple[str, str], dict[str, Ground]] = defaultdict(dict)
    asked = rows(
        con,
        "select site_key, method, species, round_on, protocol, count, area_m2, frames from method_frames order by all",
    )
    for (site, method, species, day, protocol), found in _by_cell(asked):
        frames[method][Cell(site, "treated", species, "recruit", day, protocol, "plot")] = found
    for site, method, day, protocol, area, pieces, days in rows(
        con, "select site_key, method, round_on, protocol, area_m2, pieces, days from method_ground order by all"
    ):
        at = place(Cell(site, "treated", "", "recruit", day, protocol, "plot"))
        ground[at][method] = Ground(area, None if pieces is None else int(pieces), days)
    return Methods(frames, ground, rules.recruitment, rules.first_meaningful_day)


def read_cohorts(con: Views, rules: Rules) -> Cohorts:
    """Plants of every round's treated frames, and what was put down in between."""
    seen: dict[Place, dict[dt.date, list[Seen]]] = defaultdict(lambda: defaultdict(list))
    for site, species, protocol, day, *frame, area, n in rows(
        con,
        "select site_key, species, protocol, round_on, fixed_frame, plants, past, area_m2, frames from frame_plants order by all",
    ):
        fixed, plants, past = frame
        seen[site, species, protocol][day].append(Seen(fixed, _whole(plants), _whole(past), area, int(n)))
    put_down: dict[str, dict[dt.date, int]] = defaultdict(dict)
    for site, day, n in rows(
        con, "select site_key, happened, count(*) from deployment_stands group by all order by all"
    ):
        put_down[site][day] = int(n)
    return Cohorts(seen, put_down, rules.recruitment.recruit_days)


def read_measured(con: Views) -> Measured:
    """Fertile plants, cover and lengths; what nobody told of is not asked for."""
    [(fertile, cover, points, measured)] = rows(
        con,
        "select count(fertile_count), count(cover_pct), count(points), count(length_cm) from survey_stands where placement <> 'at unit'",
    )
    bearing: dict[Cell, list[Bearing]] = defaultdict(list)
    covered: dict[Cell, list[Covered]] = defaultdict(list)
    lengths: dict[Cell, list[Long]] = defaultdict(list)
    cell, end = "select site_key, plot_kind, species, stage, round_on, protocol,", "order by all"
    for *of, n, area, frames in (
        rows(con, f"{cell} fertile, area_m2, frames from fertile_input {end}") if fertile else ()
    ):
        bearing[cell_of(*of)].append(Bearing(_whole(n), area, int(frames)))
    asked = cover or points
    for *of, n, hits, pct, frames in (
        rows(con, f"{cell} points, hits, cover_pct, frames from cover_input {end}") if asked else ()
    ):
        covered[cell_of(*of)].append(Covered(_whole(n), _whole(hits), pct, int(frames)))
    cell = "select site_key, plot_kind, species, 'any', round_on, protocol,"
    for *of, frame, cm, plants in (
        rows(con, f"{cell} frame, length_cm, plants from length_input {end}") if measured else ()
    ):
        lengths[cell_of(*of)].append(Long(frame, cm, int(plants)))
    return Measured(bearing, covered, lengths)


def _whole(told: object) -> int | None:
    return None if told is None else int(str(told))
