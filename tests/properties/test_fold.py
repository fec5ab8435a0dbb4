"""The views say what a plain fold over the ledger says, as of any day and any entry."""

import tempfile
from pathlib import Path

import pytest
from comparing import by_fold, by_views, differing, times_to_ask
from hypothesis import given
from journeys import play
from profiles import examples, seeds
from worlds import lay_out, troubled_world_of, worlds

from pipeline import run


@pytest.mark.parametrize("seed", [*seeds(4), "quarrel"])
def test_views_agree_with_the_fold_on_stored_journeys(journeys, seed):
    """On stored programmes of several nights, views and fold agree on both axes of time."""
    root = journeys.of(seed).root
    for asked in times_to_ask(root):
        assert differing(by_views(root, asked), by_fold(root, asked)) == {}


@given(worlds(troubled_world_of))
@examples(5)
def test_views_agree_with_the_fold(world):
    """Views and fold agree whatever partners say, contradictions and rulings included, on both axes of time."""
    with tempfile.TemporaryDirectory() as folder:
        root = lay_out(Path(folder) / "programme", world)
        for night in world.nights:
            play(root, night)
        run.project(root)
        latest, _, _, earlier = times_to_ask(root)
        for asked in (latest, earlier):
            assert differing(by_views(root, asked), by_fold(root, asked)) == {}
