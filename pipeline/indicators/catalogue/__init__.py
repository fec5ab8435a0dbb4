"""What each indicator means: title, unit, formula in words, estimator, source. Everything printed reads this."""

from pipeline.indicators.catalogue import (
    cost,
    cost_of_outcomes,
    donors,
    gear,
    grown,
    methods,
    planning,
    recruitment,
    retention,
    temperature,
)
from pipeline.indicators.catalogue.entry import Indicator

_GROUPS = (recruitment, grown, retention, gear, cost, cost_of_outcomes, methods, donors, temperature, planning)
CATALOGUE: dict[str, Indicator] = {i.name: i for group in _GROUPS for i in group.ENTRIES}

__all__ = ["CATALOGUE", "Indicator"]
