"""The groups of indicators, in the order of the catalogue. Each joins views of the warehouse and estimators."""

from collections.abc import Sequence

from pipeline.groups import cost, cost_of_outcomes, donors, gear, methods, planning, recruitment, retention, temperature
from pipeline.groups.group import Group, Known, Later

GROUPS: Sequence[Group] = (recruitment, retention, gear, cost, donors, temperature, planning)
LATER: Sequence[Later] = (cost_of_outcomes, methods)  # rest on the figures of those


def group_of(indicator: str) -> Known:
    """The group that makes figures of that indicator."""
    every: tuple[Known, ...] = (*GROUPS, *LATER)
    return next(g for g in every if indicator in {e.name for e in g.ENTRIES})
