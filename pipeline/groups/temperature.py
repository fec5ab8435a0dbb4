"""How warm it was at each logger: from the views, and home again."""

from collections import defaultdict

from pipeline.groups.group import Question, rows
from pipeline.indicators.catalogue.temperature import ENTRIES
from pipeline.indicators.figure import Figure
from pipeline.indicators.heat import heat
from pipeline.indicators.heatwave import Climatology
from pipeline.indicators.remember import Memory
from pipeline.indicators.season import season_days
from pipeline.indicators.temperature import DayRule, Limit, Logger, LoggerDay, Told, temperatures
from pipeline.programme import Rules
from pipeline.rules.temperature import METEOROLOGICAL, UsualYear
from warehouse.views import Views

__all__ = ["ENTRIES", "behind", "figures", "missing"]


def figures(con: Views, rules: Rules, memory: Memory) -> list[Figure]:
    """Every figure of every logger. Sums over daily means cost less than remembering them would."""
    loggers, said = _loggers(con), rules.temperature
    rule = DayRule(said.full_day_pct, said.most_step_degc, said.seasons == METEOROLOGICAL)
    limits = [Limit(limit.species, limit.degc, limit.source) for limit in said.limits]
    usual = {logger: _curve(year) for logger in loggers if (year := said.usual_at(logger.site)) is not None}
    return [*temperatures(loggers, limits, rule), *heat(loggers, usual, rule)]


def _loggers(con: Views) -> dict[Logger, Told]:
    days: dict[Logger, list[LoggerDay]] = defaultdict(list)
    for partner, key, site, day, readings, total, step, gap, lowest, highest, uncalibrated, accuracy, clock_off in rows(
        con,
        "select partner, logger_key, site_key, happened, readings, total, step, usual_gap_s, lowest, highest, uncalibrated, "
        "accuracy, clock_off from logger_day order by all",
    ):
        made = LoggerDay(
            day, int(readings), total, step, gap, lowest, highest, int(uncalibrated), accuracy, int(clock_off)
        )
        days[Logger(partner, key, site)].append(made)
    left_out = defaultdict(list)
    for partner, key, site, day, why, n in rows(
        con, "select partner, logger_key, site_key, happened, why, readings from logger_left_out order by all"
    ):
        left_out[Logger(partner, key, site)].append((day, why, int(n)))
    kept_out: dict[tuple[str, str], dict[str, int]] = defaultdict(dict)
    for partner, key, what, n in rows(con, "select partner, logger_key, what, times from logger_caution order by all"):
        kept_out[partner, key][what] = int(n)
    return {
        logger: Told(told, left_out.get(logger, []), kept_out.get((logger.partner, logger.key), {}))
        for logger, told in days.items()
    }


def _curve(year: UsualYear) -> Climatology:
    return Climatology(
        tuple(map(float, year.seasonal)), tuple(map(float, year.threshold)), year.years, year.source
    )  # fmt: skip


def behind(figure: Figure) -> list[Question]:
    """The logger's readings of the season; a heatwave rests on all of them."""
    logger = "logger_key = $logger and partner = $partner"
    here = f"{logger} and {'site_key = $site' if figure.of('site') else 'site_key is null'} and quantity like '%temperature%'"
    if not figure.indicator.startswith("heatwave"):
        first, last = season_days(figure.of("season"))
        here += f" and happened between date '{first}' and date '{last}'"
    return [
        Question("counted", "reading", f"select identity from logger_reading where left_out = '' and identity in (select identity from reading_stands where {here})"),
        Question("beside", "reading", f"select identity from reading_stands where {here}"),
        Question(
            "beside", "reading",
            f"select n.identity from reading_now n join waiting w on w.kind = 'reading' and w.identity = n.identity where {logger}",
        ),
    ]  # fmt: skip


def missing(figure: Figure) -> str:
    """The logger's rows that are held or in dispute."""
    return """
    select h.entry, h.sheet, h.row, h.part from held_open h
    where h.kind = 'reading' and h.partner = $partner and split_part(h.key, ' | ', 1) = $logger
    union
    select p.entry, p.sheet, p.row, p.part from part p
    join in_dispute q on q.identity = p.identity
    where p.kind = 'reading' and p.partner = $partner and split_part(p.key, ' | ', 1) = $logger"""
