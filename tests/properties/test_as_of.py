"""Every figure as it was known on any past night."""

import datetime as dt

import pytest
from journeys import outputs
from profiles import seeds

from pipeline import run
from pipeline.outputs.tables import write_tables


def written(root, asked, folder) -> dict[str, bytes]:
    """What would be published as of what is asked."""
    (folder / "out").mkdir(exist_ok=True)
    figures, day = run.figures_of(root, asked)
    write_tables(figures, day, folder / "out")
    return outputs(folder)


@pytest.mark.parametrize("seed", seeds(3))
def test_a_past_night_is_told_as_it_was_told_then(journeys, tmp_path, seed):
    """As of each night's last entry, the last ledger gives the bytes that were published on that night."""
    journey = journeys.of(seed)
    for head, published in zip(journey.heads, journey.published, strict=True):
        assert written(journey.root, run.Asked(entry=head), tmp_path) == published
