"""The groups of indicators, in the order of the catalogue. Each joins views of the warehouse and estimators."""

from collections import Counter
from collections.abc import Mapping, Sequence
from types import ModuleType
from typing import cast

from pipeline.groups import cost, cost_of_outcomes, donors, gear, methods, planning, recruitment, retention, temperature
from pipeline.groups.group import Group, Known, Later

GROUPS: Sequence[Group] = (recruitment, retention, gear, cost, donors, temperature, planning)
LATER: Sequence[Later] = (cost_of_outcomes, methods)  # rest on the figures of those


def group_of(indicator: str) -> Known:
    """The group that makes figures of that indicator."""
    every: tuple[Known, ...] = (*GROUPS, *LATER)
    return next(g for g in every if indicator in {e.name for e in g.ENTRIES})


def name_of(group: Known) -> str:
    """A group's name: that of its module."""
    return cast(ModuleType, group).__name__.rpartition(".")[2]


def by_group(made: Sequence[str], computed: Sequence[str]) -> Mapping[str, tuple[int, int]]:
    """How many figures of each group were made and computed anew. made, computed: an indicator's name for each figure."""
    every: tuple[Known, ...] = (*GROUPS, *LATER)
    told, anew = Counter(made), Counter(computed)
    names = {name_of(g): [e.name for e in g.ENTRIES] for g in every}
    return {g: (sum(told[n] for n in entries), sum(anew[n] for n in entries)) for g, entries in names.items()}
