"""Densities, and how they compare with controls, reference forests and what was before: from the views, and home again."""

from pipeline.groups.around import read_around, read_cohorts, read_frames, read_measured, read_methods
from pipeline.groups.group import Question
from pipeline.groups.grown_rows import behind_grown, missing_grown
from pipeline.indicators.by_method import of_methods
from pipeline.indicators.catalogue import grown
from pipeline.indicators.catalogue import recruitment as recruits
from pipeline.indicators.cohorts import cohorts
from pipeline.indicators.compare import compare
from pipeline.indicators.figure import Figure
from pipeline.indicators.grazers import grazers
from pipeline.indicators.measured import measured
from pipeline.indicators.over_sites import over_sites
from pipeline.indicators.recruitment import recruitment
from pipeline.indicators.reference import against_reference
from pipeline.indicators.remember import Memory
from pipeline.indicators.since import since_planting
from pipeline.indicators.success import verdicts
from pipeline.programme import Rules
from warehouse.views import Views

ENTRIES = (*recruits.ENTRIES, *grown.ENTRIES)
__all__ = ["ENTRIES", "behind", "figures", "missing"]


def figures(con: Views, rules: Rules, memory: Memory) -> list[Figure]:
    """Densities and comparisons."""
    frames, around = read_frames(con), read_around(con, rules)
    told = [
        figure
        for made in (recruitment, compare, against_reference, since_planting, over_sites)
        for figure in made(frames, around, memory)
    ]
    told += of_methods(frames, read_methods(con, rules), around, memory)
    told += cohorts(read_cohorts(con, rules), around, memory)
    told += measured(read_measured(con), around, memory)
    told += grazers(told, rules.recruitment.grazers)
    return told + verdicts(told, rules.recruitment.success, around.first_down)


def behind(figure: Figure) -> list[Question]:
    """The rows counted in the frames; beside them all else that was seen, planted and done there."""
    return behind_grown(figure)


def missing(figure: Figure) -> str:
    """Rows of the rounds' dives that are held, in dispute or withdrawn."""
    return missing_grown(figure)
