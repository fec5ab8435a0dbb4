"""What the next season costs if every unit costs what units have cost so far."""

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple

from pipeline.indicators.beside import left_waiting, trial
from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.figure import Figure, scope
from pipeline.indicators.paid import in_currency
from pipeline.plural import n_of

METHOD = "what a unit cost so far, times the units planned"
FORMS = {"cash": "cash for next season", "in kind": "gifts in kind for next season", "hours": "hours for next season"}


class Spent(NamedTuple):
    """Hundredths of a currency or of an hour; per_unit: units of that currency for one of the programme's, None for hours."""

    form: str
    per_unit: Decimal | None
    hundredths: int
    costs: int


def next_season(
    spent: list[Spent],
    put_down: Mapping[int, int],
    planned: int,
    currency: str,
    treated_m2: Decimal,
    trial_below_m2: Decimal,
    waiting: int,
) -> list[Figure]:
    """One figure a form. put_down: units by year; planned: 0 where the programme does not say, which means as many as last.

    waiting: costs that wait for a place or a rate and so are left out.
    """
    units, figures = sum(put_down.values()), []
    beside = [left_waiting(waiting), trial(treated_m2, trial_below_m2)]
    if planned == 0 and put_down:
        year = max(put_down)
        planned = put_down[year]
        beside.append(
            f"as many units as were put down in {year} are assumed: programme.toml does not say how many are planned"
        )
    for form, indicator in FORMS.items():
        unit = "hours" if form == "hours" else currency
        of_form = [s for s in spent if s.form == form]
        amount = sum(in_currency(s.hundredths, s.per_unit) for s in of_form)
        if not units or amount <= 0:
            why = f"no {form} cost is recorded" if units else "no unit was put down"
            estimate = not_estimable(why, unit=unit, n=units, n_of="units")
        else:
            value = float(Fraction(amount, 100) / units * planned)
            told = f"{amount / 100:.2f} {unit} for {n_of(units, 'unit')} so far (costs told of: {sum(s.costs for s in of_form)})"
            note = f"{told}, {n_of(planned, 'unit')} planned; as if all grew with the units and nothing became dearer; one programme: no interval"
            estimate = Estimate("estimated", unit, units, "units", METHOD, value, note=note)
        changed = "part was changed from other currencies at the programme's dated rates"
        rates = [changed] if any(s.per_unit not in (None, 1) for s in of_form) else []
        figures.append(Figure(indicator, scope(site="all"), estimate.with_cautions(*beside, *rates)))
    return figures
