"""The table of figures."""

import datetime as dt

from pipeline.indicators.estimate import Estimate
from pipeline.indicators.figure import SCOPE, Figure, scope
from pipeline.outputs.tables import SCOPED, as_row, figure_from


def test_every_part_of_a_scope_has_a_column():
    """What a figure is of comes back from its row, whatever it is of."""
    estimate = Estimate("estimated", "per m2", 6, "frames", "made up", 1.0, 0.5, 2.0, note="n", cautions=("a", "b"))
    figure = Figure("density", scope(**{name: str(n) for n, name in enumerate(SCOPE, 1)}), estimate)
    assert figure_from(as_row(figure, dt.date(2025, 6, 1))) == figure
    assert tuple(SCOPED) == SCOPE
