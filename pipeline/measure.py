"""From the views to figures: SQL reduces, the estimators finish. Joins warehouse and indicators for `run.py`."""

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import duckdb

from pipeline.indicators.attached import Cautions, Lives, attached
from pipeline.indicators.compare import compare
from pipeline.indicators.figure import Figure
from pipeline.indicators.hectares import Area, Paid, hectares
from pipeline.indicators.recruitment import Around, Cell, Frames, recruitment
from pipeline.indicators.remember import Memory
from pipeline.programme import Rules
from warehouse.database import RuleTables


@dataclass(frozen=True)
class Standing:
    """How the ledger stands behind the figures: events by kind, and what waits and why."""

    events: dict[str, int]
    remarks: list[tuple[str, str, str, str, str]]  # kind, identity, rule, effect, why


def rule_tables(rules: Rules) -> RuleTables:
    """The programme's rules as the views read them."""
    one = (rules.survey_round_days, rules.least_search_min, rules.least_visibility_m, rules.most_hours_to_release,
           rules.warmest_degc, rules.take_limit_pct, rules.treated_area_rule, rules.area_per_unit_m2)  # fmt: skip
    number = "decimal(18,6)"
    return RuleTables(
        {
            "setting": (
                f"survey_round_days int, least_search_min {number}, least_visibility_m {number}, "
                f"most_hours_to_release {number}, warmest_degc {number}, take_limit_pct {number}, "
                f"treated_area_rule varchar, area_per_unit_m2 {number}",
                [one],
            ),
            "setting_protocol": (
                f"protocol varchar, dated date, frame_type varchar, placement varchar, species varchar, stage varchar, smallest_cm {number}",
                [
                    (p.key, p.dated, p.frame_type, p.placement, t.species, t.stage, t.smallest_cm)
                    for p in rules.protocols for t in p.targets
                ],
            ),
            "setting_stage": (
                f"species varchar, stage varchar, from_cm {number}, to_cm {number}",
                [(s.species, s.stage, s.from_cm, s.to_cm) for s in rules.stages],
            ),
            "setting_rate": (
                f"currency varchar, dated date, per_unit {number}",
                [(rules.currency, dt.date(1950, 1, 1), Decimal(1))]
                + [(r.currency, r.dated, r.per_unit) for r in rules.rates],
            ),
            "setting_cut": (f"species varchar, lowest_cm {number}", list(rules.lowest_cut_cm)),
        }
    )  # fmt: skip


def measure(con: duckdb.DuckDBPyConnection, rules: Rules, memory: Memory) -> list[Figure]:
    """Every figure of the catalogue, in one order. con: a session of `warehouse.database.reading`."""
    frames, around = _frames(con), _around(con, rules)
    figures = [
        *recruitment(frames, around, memory),
        *compare(frames, around, memory),
        *attached(*_lives(con), rules.retention_days, memory),
        *hectares(*_costs(con), rules.currency, rules.trial_below_m2, _waiting_costs(con), memory, _idle_units(con)),
    ]
    return sorted(figures, key=lambda f: (f.indicator, f.scope))


def _rows(con: duckdb.DuckDBPyConnection, query: str) -> list[tuple[Any, ...]]:
    return con.sql(query).fetchall()


def _frames(con: duckdb.DuckDBPyConnection) -> Frames:
    frames: Frames = defaultdict(list)
    for *cell, count, area, n in _rows(
        con,
        "select site_key, plot_kind, species, stage, round_on, protocol, placed, count, area_m2, frames "
        "from density_input order by all",
    ):
        frames[Cell(*cell)].append((int(count), area, int(n)))
    return dict(frames)


def _around(con: duckdb.DuckDBPyConnection, rules: Rules) -> Around:
    def grouped(query: str) -> dict[tuple[str, dt.date], list[str]]:
        found: dict[tuple[str, dt.date], list[str]] = defaultdict(list)
        for site, day, text in _rows(con, query):
            found[site, day].append(text)
        return dict(found)

    withdrawn: dict[tuple[str, dt.date], list[tuple[str | None, str | None, int]]] = defaultdict(list)
    for site, day, species, stage, n in _rows(
        con, "select site_key, round_on, species, stage, taken_back from withdrawn_beside order by all"
    ):
        withdrawn[site, day].append((species, stage, int(n)))
    return Around(
        cautions=grouped("select site_key, round_on, why from density_caution order by all"),
        withdrawn=withdrawn,
        first_down=dict(_rows(con, "select site_key, first_down from first_down")),
        unequal=grouped("select site_key, round_on, action from treatment_gap order by all"),
        off_protocol=[
            (site, kind, day, protocol, species, stage, int(n))
            for site, kind, day, protocol, species, stage, n in _rows(
                con, "select site_key, plot_kind, round_on, protocol, species, stage, rows_counted from off_protocol order by all"
            )
        ],
        first_meaningful_day=rules.first_meaningful_day,
        zero_k=float(rules.zero_k),
    )  # fmt: skip


def _lives(con: duckdb.DuckDBPyConnection) -> tuple[list[Lives], Cautions]:
    lives = [
        Lives(site, method, int(left), _whole(right), unresolved, _whole(failed), int(units), int(misses), int(once))
        for site, method, left, right, unresolved, failed, units, misses, once in _rows(
            con,
            "select site_key, method, l, r, unresolved, failed_on, units, misses, absent_once from retention_input order by all",
        )
    ]
    cautions: dict[tuple[str, str], dict[str, int]] = defaultdict(dict)
    for site, method, what, times in _rows(
        con, "select site_key, method, what, times from retention_caution order by all"
    ):
        cautions[site, method][what] = int(times)
    return lives, cautions


def _whole(days: Any) -> int | None:
    return None if days is None else int(days)


def _costs(con: duckdb.DuckDBPyConnection) -> tuple[list[Paid], list[Area]]:
    paid = [
        Paid(site, share, form, currency, per_unit, dated, int(hundredths))
        for site, share, form, currency, per_unit, dated, hundredths in _rows(
            con,
            "select site_key, share_key, form, currency, per_unit, rate_dated, sum(hundredths) from cost_input "
            "group by all order by all",
        )
    ]
    parted: dict[tuple[Any, ...], list[tuple[str, int]]] = defaultdict(list)
    for identity, form, currency, per_unit, dated, hundredths, site, units in _rows(
        con,
        "select identity, form, currency, per_unit, rate_dated, hundredths, site_key, units from cost_parted order by all",
    ):
        parted[identity, form, currency, per_unit, dated, int(hundredths)].append((site, int(units)))
    for (_, form, currency, per_unit, dated, hundredths), parts in parted.items():
        paid.append(Paid(None, None, form, currency, per_unit, dated, hundredths, tuple(parts)))
    areas = [
        Area(site, int(units), area)
        for site, units, area in _rows(con, "select site_key, units, area_m2 from treated_area order by all")
    ]
    return paid, areas


def _idle_units(con: duckdb.DuckDBPyConnection) -> int:
    """Units in dispute or waiting: they count in no area, and no shared cost is parted by them."""
    [(n,)] = _rows(
        con,
        "select count(*) from (select unit_key from unit_in_dispute union "
        "select n.unit_key from deployment_now n join waiting w on w.kind = 'deployment' and w.identity = n.identity)",
    )
    return int(n)


def _waiting_costs(con: duckdb.DuckDBPyConnection) -> int:
    [(n,)] = _rows(con, "select count(*) from waiting where kind = 'cost'")
    return int(n)


def standing(con: duckdb.DuckDBPyConnection, kinds: Sequence[str]) -> Standing:
    """How many events stand, by kind, and every rule that speaks of one."""
    remarks = _rows(con, "select kind, identity, rule, effect, why from standing order by all")
    events = {k: int(_rows(con, f"select count(*) from {k}_stands")[0][0]) for k in kinds}
    return Standing(events, [(kind, identity, rule, effect, why) for kind, identity, rule, effect, why in remarks])
