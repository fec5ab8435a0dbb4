"""The comparison of views and fold notices every stored mistake."""

import pytest
from comparing import by_fold, by_views, differing, times_to_ask
from mutations import MUTATIONS

from schemas.kinds import all_kinds
from warehouse.sqlfiles import read_views

BANK = range(8)


@pytest.mark.parametrize("mutation", MUTATIONS, ids=lambda m: m.wrong)
def test_a_mistake_in_a_view_is_noticed(journeys, mutation):
    """With the mistake in the view, views and fold disagree on a stored journey."""
    views = mutation.of(read_views(all_kinds()))
    assert any(noticed(journeys.of(seed).root, views) for seed in (*mutation.seen_in, *BANK))


def noticed(root, views) -> bool:
    """Whether the fold disagrees with these views at any time that is asked about."""
    return any(differing(by_views(root, asked, views), by_fold(root, asked)) for asked in times_to_ask(root))
