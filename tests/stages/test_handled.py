"""Whether handling goes with recruits: pairs of sites, and when nothing can be told."""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.indicators.custody import Chain, Opening, Step, in_step
from pipeline.indicators.handled import APART, HOURS, WARMTH, Seen, handling_and_recruits
from pipeline.indicators.rank import kendall
from pipeline.indicators.remember import Memory

CUT = dt.datetime(2025, 2, 1, 12)  # noqa: DTZ001 - instants of the ledger are UTC without a zone
DOWN = dt.date(2025, 2, 2)


def chain(batch, site, hours, warm=None, *, units=10, step="carry", cut=True):
    """A batch cut at noon and opened at one site so many hours later, this warm on its way."""
    at = CUT + dt.timedelta(hours=hours)
    steps = [Step(batch, batch, f"{batch} cut", "cut", CUT, CUT, None, None, 0)] if cut else []
    steps += [Step(batch, batch, f"{batch} kept", step, CUT, at, None, warm, 0)]
    return Chain(steps, [Opening(batch, site, DOWN, units, units, units, at, at, None)])


def seen(site, recruits, days=100, protocol="frames"):
    """Recruits in 10 m2 of a site's treated plots, so many days after planting."""
    return Seen(site, "kelp", protocol, DOWN + dt.timedelta(days=days), DOWN, recruits, 10.0)


def told(rows, chains):
    """The two figures by what recruits are set against."""
    figures = handling_and_recruits(rows, chains, 90, Memory())
    return {f.of("against"): f.estimate for f in figures}


FIVE = {f"B{n}": chain(f"B{n}", f"S{n}", 18 + n, 8 + n) for n in range(5)}
COUNTS = [seen(f"S{n}", recruits) for n, recruits in enumerate((40, 30, 35, 10, 5))]


def test_five_sites_with_a_batch_each():
    """Longer on the way, fewer recruits, but for one pair of ten: tau is -0.8, and five sites leave almost all of -1 to 1 open."""
    e = told(COUNTS, FIVE)[HOURS]
    assert (e.value, e.n, e.n_of) == (pytest.approx(-0.8), 5, "sites")
    assert e.low < -0.95
    assert e.high > 0.05
    assert e.cautions == (APART,)
    assert told(COUNTS, FIVE)[WARMTH].value == pytest.approx(-0.8)


def test_four_batches_are_too_few():
    """Under five batches there is no figure, and the caution still says what cannot be told apart."""
    e = told(COUNTS[:4], FIVE)[HOURS]
    assert (e.state, e.note) == ("not estimable", "only 4 batches at 4 sites; at least 5 of each are wanted")
    assert APART in e.cautions


def test_five_batches_at_four_sites_are_too_few():
    """Five batches at four sites are refused too: the site is the unit."""
    more = {**FIVE, "B4": chain("B4", "S3", 22, 12)}
    e = told(COUNTS[:4], more)[HOURS]
    assert (e.state, e.note) == ("not estimable", "only 4 sites; at least 5 are wanted")


def test_sites_that_shared_a_batch_are_named():
    """Sites with tissue of one batch do not speak for handling twice."""
    shared = Chain(FIVE["B0"].steps, [*FIVE["B0"].openings, *chain("B0", "S5", 18).openings])
    e = told([*COUNTS, seen("S5", 1)], {**FIVE, "B0": shared})[HOURS]
    assert "sites with tissue of one batch, which are not independent: S0, S5" in e.cautions


def test_sites_of_which_handling_is_not_told_are_left_out():
    """A site whose cutting nobody timed is left out and named; a few untold units beside many are only counted."""
    e = told(COUNTS, {**FIVE, "B4": chain("B4", "S4", 22, cut=False)})
    assert e[HOURS].state == "not estimable"
    assert "sites left out, since it is not told of most of their tissue: S4" in e[HOURS].cautions
    few = {**FIVE, "B9": chain("B9", "S4", 22, units=2, cut=False)}
    assert "units of the other sites of whose tissue it is not told: 2" in told(COUNTS, few)[HOURS].cautions


def test_cultured_stock_has_no_hours_of_fresh_tissue():
    """The hours of cultured stock are its age, so its site takes part for warmth alone."""
    cultured = {**FIVE, "B4": chain("B4", "S4", 900, 12, step="culture")}
    assert "S4" in " ".join(told(COUNTS, cultured)[HOURS].cautions)


def test_the_first_round_that_is_not_too_early_counts():
    """A round before the programme's first meaningful day is passed over, later ones do not count again; days are told."""
    rows = [*COUNTS, seen("S0", 0, days=30), seen("S0", 0, days=400), seen("S4", 5, days=95)]
    e = told(rows, FIVE)[HOURS]
    assert e.value == pytest.approx(-0.8)
    assert "looked at between 95 and 100 days after planting" in e.cautions
    assert told([seen("S0", 0, days=30)], FIVE) == {}


def test_protocols_are_kept_apart():
    """Counts under two protocols are two figures, never one."""
    rows = [*COUNTS, *(seen(f"S{n}", n, protocol="belts") for n in range(5))]
    figures = handling_and_recruits(rows, FIVE, 90, Memory())
    assert sorted({f.of("protocol") for f in figures}) == ["belts", "frames"]
    assert {f.of("protocol"): f.estimate.value for f in figures if f.of("against") == HOURS}["belts"] == pytest.approx(
        1
    )


@given(st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)), min_size=5, max_size=7))
def test_order_and_direction(pairs):
    """The order of pairs changes nothing, turning one column round turns tau and its interval round, and tau lies in its interval."""
    x, y = zip(*pairs, strict=True)
    e = kendall(x, y)
    again = kendall(*zip(*sorted(pairs), strict=True))
    assert (again.value, again.low, again.high) == (e.value, e.low, e.high)
    if e.value is not None:
        turned = kendall(x, [-v for v in y])
        assert (turned.value, turned.low, turned.high) == pytest.approx((-e.value, -e.high, -e.low))
        assert -1 <= e.low <= e.value <= e.high <= 1
        assert turned.note == e.note


@given(st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)), min_size=1, max_size=6))
def test_time_told_twice_counts_once(spans):
    """Hours of a step are the hours of the clock in which any record of it lies, however they overlap."""
    steps = [
        Step("B", "B", str(n), "hold", CUT + dt.timedelta(hours=a), CUT + dt.timedelta(hours=a + b), None, None, 0)
        for n, (a, b) in enumerate(spans)
    ]
    hours = {h for a, b in spans for h in range(a, a + b)}
    assert in_step(Chain(steps, []), "hold", None).value == pytest.approx(len(hours))
