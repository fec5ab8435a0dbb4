"""What each method brought: plots side by side, in one of which bags lie and in another gravel; one drawn sea."""

import math

import pytest

from pipeline import look, run
from pipeline.indicators.left_out import NOT_FAIR, sites_left_out
from pipeline.indicators.methods import MIXED
from pipeline.outputs.methods import methods

KELP = "Laminaria hyperborea"
HEAD = "visit_key   happened   site_key   plot_key   frame_key   frame_type   placement   protocol   species   stage   count   area_m2"
DAY, EARLY = "2025-07-01", "2025-04-10"
BAGS = {
    "AA": [4, 4, 5, 3, 4, 4],
    "BB": [6, 8, 7, 7, 7, 7],
    "DD": [2, 1, 3, 2, 2, 2],
    "ZE": [1, 0, 1, 0, 1, 0],
}  # in T1; gravel lies in T2
PAID = {"AA": 110, "BB": 220, "DD": 330}  # over ten bags and a load: the bags' part is 10 of 11; 110 at the other sites
GRAVEL, CONTROL = [1, 2, 1, 2, 1, 2], [0, 1, 1, 0, 1, 0]
# LN has larger control frames; at MX both methods lie in one plot.
OTHERS = ("LN", "MX")
METHODS = "recruits beyond control", "recruits per unit", "recruits beyond control by method"


def frames(day, site, plot, counts, area="0.25"):
    """One drawn row a frame."""
    return [
        f"{site}{plot}{day}   {day}   {site}   {plot}   {n}   quadrat   random   frames   {KELP}   recruit   {count}   {area}"
        for n, count in enumerate(counts)
    ]


def drawn(head, rows):
    """A drawn table."""
    return "\n".join([head, *rows])


@pytest.fixture(scope="module")
def told(new_programme, rules):
    """The drawn sea, measured."""
    programme = new_programme(sea=False, rules=rules)
    sites, plots, units, counted = [], [], [], []
    for nth, site in enumerate((*BAGS, *OTHERS)):
        sites.append(f"{site}   {site}   39.{nth:02}   -9.{nth:02}   EPSG:4326   10   200   PT")
        plots += [
            f"{site}   T1   treated   50   .   random",
            f"{site}   T2   treated   40   .   random",
            f"{site}   C1   control   50   untouched   random",
        ]
        units += [f"{site}-{n}   spore bag   {site}   T1   2025-04-01   ." for n in range(10)]
        units.append(f"{site}-G   seeded gravel   {site}   {'T1' if site == 'MX' else 'T2'}   2025-04-01   200")
        counted += frames(DAY, site, "T1", BAGS.get(site, [4, 4, 4, 4, 4, 4]))
        counted += frames(DAY, site, "T2", GRAVEL)
        counted += frames(DAY, site, "C1", CONTROL, "1" if site == "LN" else "0.25")
    counted += frames(EARLY, "AA", "T1", [0, 1, 0, 0]) + frames(EARLY, "AA", "C1", [0, 1, 0, 0])
    paid = [f"2025-04-01   cash   {PAID.get(s, 110)}   EUR   boat   deploy   site   {s}" for s in (*BAGS, *OTHERS)]
    programme.take({
        "programme/cost.csv": drawn("happened   form   amount   currency   category   phase   for_kind   for_key", paid),
        "programme/site.csv": drawn("site_key   name   latitude   longitude   datum   uncertainty_m   radius_m   country", sites),
        "programme/plot.csv": drawn("site_key   plot_key   plot_kind   area_m2   control_kind   assigned_by", plots),
        "club/deployment.csv": drawn("unit_key   method   site_key   plot_key   happened   unit_count", units),
        "club/survey.csv": drawn(HEAD, counted),
    })  # fmt: skip
    run.refresh(programme.root)
    return programme


@pytest.fixture(scope="module")
def of(told):
    """The one published figure of a method."""
    published = {(f.indicator, f.of("site"), f.of("method"), f.of("survey")): f for f in look.published(told.root)}
    return lambda indicator, site, method="spore bag", survey=DAY: published[indicator, site, method, survey]


def test_recruits_in_all_and_per_unit(of):
    """16 less 2 per m2 on the 50 m2 of the bags' own plot are 700 recruits, 70 for each of ten bags; limits alike."""
    beyond, each = of("recruits beyond control", "AA").estimate, of("recruits per unit", "AA").estimate
    assert (beyond.value, each.value) == (pytest.approx(700), pytest.approx(70))
    assert (each.low, each.high) == (pytest.approx(beyond.low / 10), pytest.approx(beyond.high / 10))
    assert 0 < beyond.low < 700 < beyond.high
    assert each.note.startswith(
        "on 50 m2 of plots, 10 units put down there, the first 91 days before; 6 treated and 6 control frames"
    )


def test_a_load_counts_by_its_pieces(of):
    """Gravel is in plots of its own: 6 less 2 per m2 on 40 m2 over 200 pieces."""
    assert of("recruits beyond control", "AA", "seeded gravel").estimate.value == pytest.approx(160)
    assert "200 units" in of("recruits beyond control", "AA", "seeded gravel").estimate.note


def test_no_recruits_per_unit_are_made_of_chance(of):
    """Where the interval holds 0 there are no recruits per unit, though the difference is told."""
    beyond, each = of("recruits beyond control", "ZE").estimate, of("recruits per unit", "ZE").estimate
    assert beyond.low < 0 < beyond.high
    assert (each.state, each.value) == ("not estimable", None)
    assert "made of chance" in each.note


@pytest.mark.parametrize(
    ("site", "survey", "why"),
    [
        ("MX", DAY, "it was put down only in plots where another method was too"),
        ("LN", DAY, "frames differ in size"),
        ("AA", EARLY, "too early: day 9 of the 30 after which recruits show"),
    ],
)
def test_refusals(of, site, survey, why):
    """A method that shares its plots, unlike frames and an early round are refused, each with its reason."""
    for indicator in METHODS[:2]:
        told = of(indicator, site, survey=survey).estimate
        assert told.state == "not estimable"
        assert told.note.startswith(why)


def test_over_sites(of):
    """A method's mean over sites takes each site once, tells its days, and names the sites that are left out."""
    figure = of(METHODS[2], "all", survey="")
    each = {site: 4 * (sum(counts) / 6 - 0.5) for site, counts in BAGS.items()}
    assert figure.estimate.value == pytest.approx(sum(each.values()) / 4)
    assert (figure.estimate.n, figure.estimate.n_of) == (4, "sites")
    assert f"{NOT_FAIR} LN, MX" in figure.estimate.cautions
    assert sites_left_out(figure) == ["LN", "MX"]
    assert any(c.startswith("each site's first fair round, 91 days") for c in figure.estimate.cautions)
    assert any("the same control frames serve all of them" in c for c in figure.estimate.cautions)


def test_cost_per_hectare(of):
    """Bags cost 800 EUR on 250 m2 of plots of their own; the site where gravel lies in the same plot is left out and named."""
    e = of("cash per hectare by method", "all", survey="").estimate
    assert (e.value, e.n) == (pytest.approx(800 / 0.025), 5)
    assert e.low < e.value < e.high
    assert f"{MIXED} MX" in e.cautions
    assert "trial cost, do not scale: under the 1000 m2 that the programme asks for" in e.cautions


def test_cost_per_recruit(of):
    """700 EUR of bags for 2,300 recruits beyond control at four sites, limits turned over; gravel's may be made of chance."""
    e = of("cash per recruit by method", "all", survey="").estimate
    assert e.value == pytest.approx(700 / (700 + 1300 + 300 + 0))
    beyond = [of(METHODS[0], site).estimate for site in BAGS]
    least = 2300 - math.hypot(*(b.value - b.low for b in beyond))
    assert (e.high, e.n) == (pytest.approx(700 / least), 4)
    assert f"{NOT_FAIR} LN, MX" in e.cautions


def test_no_cost_is_made_where_there_was_none(of):
    """Gifts in kind that nobody told of are no figure of nothing."""
    for indicator in ("in kind per hectare by method", "in kind per recruit by method"):
        e = of(indicator, "all", survey="").estimate
        assert (e.state, e.note) == ("not estimable", "no such cost is recorded")


def test_a_table_a_method(told):
    """Each method has a table of its own with intervals, what it left out in notes below, and the caveat."""
    text = methods(look.published(told.root), "2025-07-01", "Drawn")
    gravel, bags = text.split("SEEDED GRAVEL")[1].split("SPORE BAG")
    assert "1,200 pieces put down at 6 sites  recruits of Laminaria hyperborea" in gravel
    for row in ("recruits beyond control", "cash per treated hectare", "cash per recruit", "32,000"):
        assert row in " ".join(bags.split())
    assert "other methods lie in the same plots: MX" in text
    assert "Intervals that overlap leave it open" in text
    assert methods([], "2025-07-01", "Drawn").endswith("there are no methods to compare.\n")


def test_counted_rows_are_those_of_the_method(told, of):
    """Rows counted in a method's figure are those of its own plots and of controls, at the sites that are not left out."""
    one = {h.key.split(" | ")[1] for h in look.lead_home(told.root, of(METHODS[0], "AA")) if h.role == "counted"}
    assert one == {"T1", "C1"}
    every = [
        h.key.split(" | ") for h in look.lead_home(told.root, of(METHODS[2], "all", survey="")) if h.role == "counted"
    ]
    assert {plot for _, plot, *_ in every} == {"T1", "C1"}
    assert {dive[:2] for dive, *_ in every} == set(BAGS)
    assert {dive[4:] for dive, *_ in every} == {DAY}


@pytest.mark.parametrize("indicator", [METHODS[2], "cash per recruit by method"])
def test_evidence(told, of, tmp_path, indicator):
    """A programme of only the rows of a method's figure over sites gives the same figure."""
    assert look.evidence(told.root, of(indicator, "all", survey=""), tmp_path / "e")
