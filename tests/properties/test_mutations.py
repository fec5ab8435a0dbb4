"""The comparison of views and fold notices every stored mistake."""

from functools import cache
from pathlib import Path

import pytest
from comparing import Said, by_fold, by_views, differing, times_to_ask
from mutations import MUTATIONS
from profiles import STORED

from pipeline.run import Asked
from schemas.kinds import all_kinds
from warehouse.sqlfiles import read_views

BANK = ("quarrel", *STORED)


@pytest.mark.parametrize("mutation", MUTATIONS, ids=lambda m: m.wrong)
def test_a_mistake_in_a_view_is_noticed(journeys, mutation):
    """With the mistake in the view, views and fold disagree on a stored journey."""
    views = mutation.of(read_views(all_kinds()))
    assert any(noticed(journeys.of(which).root, views) for which in dict.fromkeys((mutation.seen_in, *BANK)))


def noticed(root, views) -> bool:
    """Whether the fold disagrees with these views at any time that is asked about."""
    return any(differing(by_views(root, asked, views), folded(root, asked)) for asked in times_to_ask(root))


@cache
def folded(root: Path, asked: Asked) -> Said:
    """What the fold says: the same for every mistake."""
    return by_fold(root, asked)
