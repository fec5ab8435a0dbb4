"""Frames and what stands around them, read from the views for the indicators of what grows."""

import datetime as dt
from collections import defaultdict

import duckdb

from pipeline.groups.group import rows
from pipeline.indicators.by_method import Ground, Methods, place
from pipeline.indicators.cells import Around, Baseline, Cell, Frames, Laid, Plants, Reference
from pipeline.programme import Rules


def read_frames(con: duckdb.DuckDBPyConnection) -> Frames:
    """Counts and areas of every cell's frames."""
    frames: Frames = defaultdict(list)
    for *cell, count, area, n in rows(
        con,
        "select site_key, plot_kind, species, stage, round_on, protocol, placed, count, area_m2, frames "
        "from density_input order by all",
    ):
        frames[Cell(*cell)].append((int(count), area, int(n)))
    return dict(frames)


def read_around(con: duckdb.DuckDBPyConnection, rules: Rules) -> Around:
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


def read_methods(con: duckdb.DuckDBPyConnection, rules: Rules) -> Methods:
    """Frames of recruits, plots and units of every method where it lies alone."""
    frames: dict[str, Frames] = defaultdict(dict)
    ground: dict[tuple[str, str], dict[str, Ground]] = defaultdict(dict)
    for site, method, species, day, protocol, count, area, n in rows(
        con,
        "select site_key, method, species, round_on, protocol, count, area_m2, frames from method_frames order by all",
    ):
        cell = Cell(site, "treated", species, "recruit", day, protocol, "plot")
        frames[method].setdefault(cell, []).append((int(count), area, int(n)))
    for site, method, day, protocol, area, pieces, days in rows(
        con, "select site_key, method, round_on, protocol, area_m2, pieces, days from method_ground order by all"
    ):
        at = place(Cell(site, "treated", "", "recruit", day, protocol, "plot"))
        ground[at][method] = Ground(area, None if pieces is None else int(pieces), days)
    return Methods(frames, ground, rules.recruitment, rules.first_meaningful_day)
