"""What each indicator means: title, unit, formula in words, estimator, source. Everything printed reads this."""

from pipeline.indicators.catalogue import cost, donors, recruitment, retention
from pipeline.indicators.catalogue.entry import Indicator

CATALOGUE: dict[str, Indicator] = {i.name: i for group in (recruitment, retention, cost, donors) for i in group.ENTRIES}

__all__ = ["CATALOGUE", "Indicator"]
