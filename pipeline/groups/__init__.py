"""The groups of indicators, in the order of the catalogue. Each joins views of the warehouse and estimators."""

from collections.abc import Sequence

from pipeline.groups import cost, donors, recruitment, retention
from pipeline.groups.group import Group

GROUPS: Sequence[Group] = (recruitment, retention, cost, donors)


def group_of(indicator: str) -> Group:
    """The group that makes figures of that indicator."""
    return next(g for g in GROUPS if indicator in {e.name for e in g.ENTRIES})
