"""What it cost, in all and per hectare and unit: from the views, and home again."""

from collections import defaultdict
from fractions import Fraction
from typing import Any

from pipeline.groups.group import Question, rows
from pipeline.indicators.base_year import base_year
from pipeline.indicators.beside import ALL_BUT, LASTING
from pipeline.indicators.catalogue.cost import ENTRIES
from pipeline.indicators.figure import Figure
from pipeline.indicators.hectares import hectares
from pipeline.indicators.paid import FORMS, Area, Books, Paid, Planned, Prices, PutDown
from pipeline.indicators.per_unit import per_unit
from pipeline.indicators.remember import Memory
from pipeline.indicators.spent import spent
from pipeline.programme import Rules
from warehouse.views import Views

__all__ = ["ENTRIES", "behind", "books", "figures", "missing"]

_ALIKE = "form, currency, per_unit, rate_dated, category, phase, payer"
_MORE = "year, month, bought_on, useful_life_years, hundredths"
_TOLD = "unnamed, taxed, untaxed, lifeless"


def figures(con: Views, rules: Rules, memory: Memory) -> list[Figure]:
    """Treated area, each form of cost over it and over what was put down, and sums of every sort."""
    told = books(con, rules)
    return [*hectares(told, memory), *per_unit(told, memory), *spent(told), *base_year(told, memory)]


def books(con: Views, rules: Rules) -> Books:
    """Everything that was paid, and what it is set against."""
    [(as_of,)] = rows(con, "select happened from as_of")
    areas = [Area(site, int(units), m2) for site, units, m2 in rows(con, "select * from treated_area order by all")]
    published = rules.cost.published
    hour = rules.cost.hour_value
    return Books(
        paid=(*_paid(con), *_parted(con)),
        areas={a.site: a for a in areas},
        put_down=tuple(
            PutDown(site, method, int(units), int(pieces), int(lots))
            for site, method, units, pieces, lots in rows(con, "select * from put_down order by all")
        ),
        planned=tuple(
            Planned(form, currency, per_unit, dated, int(hundredths), int(costs))
            for form, currency, per_unit, dated, hundredths, costs in rows(
                con, "select * from cost_budgeted order by all"
            )
        ),
        currency=rules.currency,
        as_of=as_of,
        waiting=_number(con, "select count(*) from waiting where kind = 'cost'"),
        idle_units=_number(con, _IDLE),
        published=(published.currencies, published.source),
        monitoring=rules.cost.monitoring_phases,
        trial_below_m2=rules.trial_below_m2,
        prices=_prices(rules),
        hour_value=(hour.per_hour, hour.dated, hour.source) if hour else None,
    )


def _paid(con: Views) -> list[Paid]:
    query = f"select site_key, share_key, {_ALIKE}, method, {_MORE}, costs, {_TOLD} from cost_input order by all"
    return [Paid._make([*row[:-6], *map(int, row[-6:]), ()]) for row in rows(con, query)]


def _parted(con: Views) -> list[Paid]:
    """Cuttings' costs, each with the units that went to each site."""
    parted: dict[tuple[Any, ...], list[tuple[str, int]]] = defaultdict(list)
    for *cost, site, units in rows(
        con, f"select identity, {_ALIKE}, {_MORE}, {_TOLD}, site_key, units from cost_parted order by all"
    ):
        parted[tuple(cost)].append((site, int(units)))
    made = []
    for (_, *alike, hundredths, unnamed, taxed, untaxed, lifeless), parts in parted.items():
        told = map(int, (hundredths, 1, unnamed, taxed, untaxed, lifeless))
        made.append(Paid._make([None, None, *alike[:7], None, *alike[7:], *told, tuple(parts)]))
    return made


# units in dispute or waiting: they count in no area, and no shared cost is parted by them
_IDLE = """
    select count(*) from (select unit_key from unit_in_dispute union
    select n.unit_key from deployment_now n join waiting w on w.kind = 'deployment' and w.identity = n.identity)"""


def _number(con: Views, query: str) -> int:
    [(n,)] = rows(con, query)
    return int(n)


def _prices(rules: Rules) -> Prices | None:
    """Indexes, and the mean rates of the base year; None when no base year is set."""
    year, cost = rules.cost.base_year, rules.cost
    if not year:
        return None
    bases: dict[str, list[Fraction]] = defaultdict(list)
    for i in cost.indexes:
        bases[i.currency] += [Fraction(i.value)] * (i.year == year)
    listed: dict[str, list[Fraction]] = defaultdict(list)
    for r in rules.rates:
        listed[r.currency] += [Fraction(r.per_unit)] * (r.dated.year == year)
    rate = {c: sum(told, Fraction(0)) / len(told) for c, told in listed.items() if told}
    rate |= {c: mean for c in cost.published.currencies if (mean := cost.published.mean(c, year)) is not None}
    sources = sorted({f"{i.currency}: {i.source}" for i in cost.indexes})
    whose = sorted({r.source for r in rules.rates if r.dated.year == year} | {cost.published.source} - {""})
    return Prices(
        year,
        {(i.currency, i.year, i.month): i.value for i in cost.indexes},
        {c: sum(told, Fraction(0)) / len(told) for c, told in bases.items() if told},
        {rules.currency: Fraction(1), **rate},
        f"index of {'; '.join(sources) or 'none'}; rates of {'; '.join(whose) or 'none'}",
    )


def behind(figure: Figure) -> list[Question]:
    """Costs of the figure's form and scope are counted; the others weigh in how shared ones are parted."""
    form = next((f for f in FORMS if figure.indicator.startswith(f"{f} ")), "")
    return [
        *([Question("counted", "cost", _counted(figure, form))] if form else []),
        Question("beside", "cost", "select identity from cost_now"),
        Question("beside", "deployment", "select identity from deployment_now"),
        Question(
            "beside",
            "visit",
            "select identity from visit_now where visit_key in (select for_key from cost_now where for_kind = 'visit')",
        ),
        Question("beside", "collection", "select identity from collection_now"),
        Question("beside", "handling", "select identity from handling_now"),
        *(_last_day() if any(c.startswith(LASTING) for c in figure.estimate.cautions) else []),
    ]


def _counted(figure: Figure, form: str) -> str:
    """SQL of the costs that are in the figure."""
    if figure.indicator.endswith("budgeted"):
        return f"select identity from cost_stands where form = '{form}' and actual_or_budget = 'budget'"
    wanted = [f"t.form = '{form}'", "($site is null or t.share_key is not null or p.site_key = $site)"]
    phase = figure.of("phase")
    if phase.startswith(ALL_BUT):
        left_out = ", ".join(f"'{p}'" for p in phase.removeprefix(ALL_BUT).split(", "))
        wanted.append(f"t.phase not in ({left_out})")
    elif phase:
        wanted.append("t.phase = $phase")
    wanted += [
        f"t.{column} = ${name}" for name, column in (("partner", "payer"), ("category", "category")) if figure.of(name)
    ]
    if figure.of("key"):
        wanted.append("coalesce(t.share_key, 'direct') = $key")
    return f"""
        select t.identity from cost_told t left join cost_place p on p.identity = t.identity
        where {" and ".join(wanted)}"""


def _last_day() -> list[Question]:
    """One event of the last day told of: until then things that last were used up."""
    return [
        Question(
            "beside",
            kind,
            f"select min(n.identity) as identity from {kind}_now n left join ahead_{kind} x on x.identity = n.identity "
            "join as_of a on a.happened = n.happened where x.identity is null having count(*) > 0",
        )
        for kind in ("check", "survey", "visit", "deployment", "loss", "treatment", "reading")
    ]


def missing(figure: Figure) -> str:
    """Units in dispute have no area and carry no shared cost."""
    return """
    select p.entry, p.sheet, p.row, p.part from part p
    join in_dispute q on q.identity = p.identity where p.kind = 'deployment'"""
