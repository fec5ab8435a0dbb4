"""What was paid, from drawn costs to figures worked out by hand."""

import datetime as dt
from decimal import Decimal

import pytest

from pipeline import look, run
from pipeline.groups import cost as costs
from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.figure import Figure, scope
from pipeline.indicators.outcomes import outcomes, over, total
from pipeline.indicators.paid import Area, Books, Paid

MORE = """
[costs]
base_year = 2024
[hour_value]
per_hour = 20
dated = 2025-01-01
source = "the harbour's wages"
[[rate]]
currency = "NOK"
dated = 2024-07-01
per_unit = 11
source = "drawn"
[[rate]]
currency = "NOK"
dated = 2025-01-01
per_unit = 11.5
source = "drawn"
""" + "".join(
    f'[[price_index]]\ncurrency = "{c}"\nyear = {y}\nvalue = {v}\nsource = "drawn"\n'
    for c, y, v in (("EUR", 2024, 100), ("EUR", 2025, 102), ("NOK", 2024, 100), ("NOK", 2025, 105))
)
DEPLOYMENT = """
    unit_key   method          site_key   plot_key   happened     unit_count
    B1         spore bag       CB         T1         2025-03-01   .
    B2         spore bag       CB         T1         2025-03-01   .
    B3         spore bag       CB         T1         2025-03-01   .
    B4         spore bag       NP         T1         2025-03-01   .
    G1         seeded gravel   NP         T1         2025-03-01   200
"""
CHECK = """
    visit_key   site_key   happened     unit_key   state      search_time_min
    L1          CB         2025-03-22   B1         attached   .
    L1          CB         2025-03-22   B2         attached   .
    L1          CB         2025-03-22   B3         absent     20
"""
COST = """
    record_key   happened     form      amount   currency   category   phase     paid_by   for_kind     for_key   share_key   useful_life_years   actual_or_budget   tax_included
    R1           2025-03-01   cash      300      EUR        boat       deploy    club      site         CB        .           .                   .                  yes
    R2           2025-03-01   cash      40       EUR        fuel       deploy    .         .            .         area        .                   .                  .
    R3           2025-03-01   cash      115      NOK        gear       prepare   lab       site         NP        .           .                   actual             .
    R4           2025-03-22   cash      30       EUR        divers     monitor   club      site         CB        .           .                   .                  no
    R5           2025-03-01   hours     12       .          diving     deploy    club      deployment   B4        .           .                   .                  .
    R6           2025-03-01   cash      1461     EUR        dinghy     capital   .         .            .         equal       4                   .                  .
    R7           2025-03-01   cash      999      EUR        boat       deploy    .         site         CB        .           .                   budget             .
    R8           2025-03-01   in kind   9        EUR        cool box   culture   lab       .            .         hours       .                   .                  .
"""
HEAD = "visit_key   happened     site_key   plot_key   frame_key   frame_type   placement   protocol   species                stage     count   area_m2"


def survey(treated=(3, 5, 4, 7, 6, 2), control=(0, 1, 0, 0, 2, 1), day="2025-06-01"):
    """Counts in frames of the cove's treated and control plots."""
    rows = [
        f"D1   {day}   CB   {plot}   {n}   quadrat   random   frames   Laminaria hyperborea   recruit   {count}   0.25"
        for plot, counts in (("T1", treated), ("C1", control))
        for n, count in enumerate(counts)
    ]
    return "\n".join([HEAD, *rows])


def told(make, rules, cost=COST, more=MORE, **files):
    """Figures of the drawn programme, by (indicator, its scope's values)."""
    programme = make(rules=rules.replace("retention_days = [30]", "retention_days = [21]") + more)
    programme.take({"programme/cost.csv": cost, **{f"club/{n}.csv": t for n, t in files.items()}})
    return programme


@pytest.fixture(scope="module")
def figures(new_programme, rules):
    """Figures of everything drawn above."""
    return told(new_programme, rules, deployment=DEPLOYMENT, check=CHECK, survey=survey()).figures()


def test_sums_by_every_sort(figures):
    """Each sort adds up to the whole, 472.00: 300 + 40 + 115 NOK / 11.5 + 30, and 92 of the dinghy's 1,461 days of 4 years."""
    of = {key[1:]: e.value for key, e in figures.items() if key[0] == "cash in all" and e.value is not None}
    assert of["all",] == 472.00
    assert (of["all", "club"], of["all", "lab"], of["all", "programme"]) == (330, 10, 132)
    assert (of["all", "boat"], of["all", "fuel"], of["all", "gear"], of["all", "divers"], of["all", "dinghy"]) == (300, 40, 10, 30, 92)  # fmt: skip
    assert (of["all", "deploy"], of["all", "prepare"], of["all", "monitor"], of["all", "capital"]) == (340, 10, 30, 92)
    assert (of["all", "direct"], of["all", "area"], of["all", "equal"]) == (340, 40, 92)
    assert of["all", "all but monitor, report"] == 442
    # 330 and 2/3 of 40 and half of 92; 10 and 1/3 of 40 and half of 92
    assert (of["CB",], of["NP",]) == (402.67, 69.33)
    assert (of["CB", "spore bag"], of["NP", "seeded gravel"], of["NP", "spore bag"]) == (402.67, 34.67, 34.66)
    assert (of["all", "spore bag"], of["all", "seeded gravel"]) == (437.33, 34.67)


def test_what_stands_beside_a_sum(figures):
    """Original amounts, things that last, tax, what nobody says who bore, and phases not costed are all told."""
    whole = figures["cash in all", "all"]
    assert "told as 1831.00 EUR and 115.00 NOK" in whole.note
    assert "no interval" in whole.note
    assert set(whole.cautions) == {
        "changed from NOK at the rate of 2025-01-01 (the programme's own); intervals leave rates out",
        "of things that last only what is used up so far counts: 92.00 of 1461.00, in a straight line over their useful life",
        "some costs hold tax and some may not: 1 with tax, 1 without, 3 not said",
        "not costed, in any form: plan and permit, collect, report, overhead",
    }
    by_programme = figures["cash in all", "all", "programme"]
    assert "costs of which nobody says who bore them, counted to who handed them in: 2" in by_programme.cautions
    assert figures["cash in all", "CB"].note.endswith("its own 330.00, told as 330.00 EUR; of shared costs 72.67")


def test_hours_and_gifts_stay_apart(figures):
    """Twelve hours and a cool box are in no sum of cash; the box, shared by hours, is all the nose's."""
    assert figures["hours in all", "NP"].value == 12
    assert figures["in kind in all", "NP"].value == 9
    assert figures["hours in all", "CB"].note == "no hours cost is recorded for this site"
    value = figures["value of hours", "all"]
    assert (value.value, value.unit) == (240, "EUR")
    assert value.note == "12.00 hours at 20 EUR an hour (the harbour's wages, 2025-01-01): no interval"


def test_a_budget_is_in_no_other_figure(figures):
    """What was planned is told by itself."""
    assert figures["cash budgeted", "all"].value == 999
    assert figures["hours budgeted", "all"].note == "no budget is recorded"


def test_by_any_sharing_key(figures):
    """The shared 132.00 by each key: units 3:2, area 2:1, half each, all to the nose's hours, direct costs 330:10."""
    cove, nose = figures["cash by any sharing key", "CB"], figures["cash by any sharing key", "NP"]
    assert (cove.state, cove.value_from, cove.value_to) == ("bounded", 330.00, 458.12)
    assert (nose.value_from, nose.value_to) == (13.88, 142.00)
    assert cove.note == (
        "by any key: from 330.00 to 458.12; as stated 402.67; units 409.20; area 418.00; equal 396.00; hours 330.00; "
        "direct costs 458.12"
    )
    # nobody gave a gift to one site alone
    assert figures["in kind by any sharing key", "CB"].note.endswith(
        "nothing to share by under direct costs: left unallocated there"
    )
    assert figures["hours by any sharing key", "CB"].note == "no cost is shared: no key matters"


def test_nothing_to_share_by(new_programme, rules):
    """A pool whose key adds up to nothing is given to nobody, and every figure of a site says so."""
    cost = "\n".join(line for line in COST.splitlines() if "hours     12" not in line)
    figures = told(new_programme, rules, cost, deployment=DEPLOYMENT).figures(groups=[costs])
    assert figures["in kind in all", "all"].value == 9
    refused = figures["in kind in all", "NP"]
    assert refused.state == "not estimable"
    assert "9.00 could not be given to a planted site and is left out (nothing to share by: hours)" in refused.cautions


def test_per_hectare_with_and_without_monitoring(figures):
    """402.67 and 372.67 on 100 m2."""
    assert figures["cash per hectare", "CB"].value == pytest.approx(40267)
    assert figures["cash per hectare without monitoring", "CB", "all but monitor, report"].value == pytest.approx(37267)


def test_per_unit(figures):
    """The nose's gravel is 200 pieces for 34.67; over both sites 437.33 for four bags."""
    gravel = figures["cash per unit", "NP", "seeded gravel"]
    assert gravel.value == pytest.approx(34.67 / 200)
    assert "loads without tags count by their pieces: 1" in gravel.cautions
    bags = figures["cash per unit", "all", "spore bag"]
    assert (bags.value, bags.n, bags.n_of) == (pytest.approx(437.33 / 4), 2, "sites")
    assert "Fieller's check" in bags.note
    assert figures["hours per unit", "CB", "spore bag"].note == "no hours cost is recorded for this site"


def test_base_year_prices(figures):
    """Each currency by its own index first: 462 EUR / 1.02 + 115 NOK / 1.05 / 11, not 10 EUR / 1.02 for the latter."""
    real = figures["cash in base-year prices", "all"]
    assert real.value == pytest.approx(462 / 1.02 + 115 / 1.05 / 11, abs=0.02)
    assert real.note.startswith("as paid 472.00, told as 1831.00 EUR and 115.00 NOK")
    [how] = [c for c in real.cautions if c.startswith("in prices of 2024")]
    assert how.endswith(
        "first, then changed at the mean rate of 2024 (index of EUR: drawn; NOK: drawn; rates of drawn)"
    )
    cove = figures["cash per hectare in base-year prices", "CB"]
    assert cove.value == pytest.approx((330 + 40 * 2 / 3 + 46) / 1.02 / 0.01, rel=1e-4)
    assert how in cove.cautions
    assert not [c for c in (*real.cautions, *cove.cautions) if c.startswith("changed from")]


@pytest.mark.parametrize(
    ("more", "why"),
    [
        (MORE.replace('"NOK"\nyear = 2025', '"NOK"\nyear = 2023'), "no price index of NOK for 2025"),
        (MORE.replace('"EUR"\nyear = 2024', '"EUR"\nyear = 2023'), "no price index of EUR for 2024"),
        (MORE.replace("dated = 2024-07-01", "dated = 2023-07-01"), "no rate of NOK in 2024"),
        (MORE.replace("base_year = 2024", ""), "programme.toml states no base_year"),
    ],
)
def test_no_base_year_prices_without_all_they_need(new_programme, rules, more, why):
    """Where an index, a rate or the year itself is missing there is no such figure, and what is missing is named."""
    figures = told(new_programme, rules, more=more, deployment=DEPLOYMENT).figures(groups=[costs])
    refused = figures["cash in base-year prices", "all"]
    assert (refused.state, refused.note) == ("not estimable", why)


def test_per_retained_unit(figures):
    """Two of three bags held on day 21, so 402.67 comes to 201.34 a bag that held; limits are the retention's turned over."""
    held = figures["unit retention", "CB", "spore bag", "21"]
    each = figures["cash per retained unit", "CB", "spore bag", "21"]
    assert held.value == pytest.approx(2 / 3)
    assert each.value == pytest.approx(402.67 / 2)
    assert (each.low, each.high) == pytest.approx((402.67 / 3 / held.high, 402.67 / 3 / held.low))
    assert each.note.startswith("402.67 EUR for 3 put down; the interval is that of what the cost is divided by")
    # nobody has looked at the nose's bag
    nose = figures["cash per retained unit", "NP", "spore bag", "21"]
    assert (nose.state, nose.note) == ("not estimable", figures["unit retention", "NP", "spore bag", "21"].note)


def test_per_retained_unit_between_two_visits(new_programme, rules):
    """Where retention is known only between bounds, so is the cost."""
    check = """
        visit_key   site_key   happened     unit_key   state      search_time_min
        L1          CB         2025-03-11   B3         attached   .
        L2          CB         2025-03-25   B1         attached   .
        L2          CB         2025-03-25   B2         attached   .
        L2          CB         2025-03-25   B3         absent     20
    """
    programme = told(new_programme, rules, deployment=DEPLOYMENT, check=check)
    held = programme.figures()["unit retention", "CB", "spore bag", "21"]
    each = programme.figures()["cash per retained unit", "CB", "spore bag", "21"]
    assert (held.value_from, held.value_to) == (pytest.approx(2 / 3), 1)
    cost = programme.figures()["cash in all", "CB"].value
    assert (each.state, each.value_from, each.value_to) == ("bounded", pytest.approx(cost / 3), pytest.approx(cost / 2))


def test_no_day_of_release(new_programme, rules):
    """Where retention is not told for the end of the release window, the refusal says what to add."""
    programme = new_programme(rules=rules + MORE)
    programme.take({"programme/cost.csv": COST, "club/deployment.csv": DEPLOYMENT})
    refused = programme.figures()["cash per retained unit", "all"]
    assert refused.note == "no retention is told for day 21, the end of the release window: add it to retention_days"


def test_per_recruit(figures):
    """27 recruits less 4 on 1.5 m2 are 15.33 per m2, on 100 m2 1,533 beyond control, for 402.67."""
    what = ("CB", "Laminaria hyperborea", "recruit", "2025-06-01", "frames")
    more, each = figures["treated minus control", *what], figures["cash per recruit", *what]
    assert each.value == pytest.approx(402.67 / (23 / 1.5 * 100))
    assert (each.low, each.high) == pytest.approx((402.67 / 100 / more.high, 402.67 / 100 / more.low))
    assert set(more.cautions) < set(each.cautions)
    assert figures["hours per recruit", *what].note == "no such cost is recorded"
    together = figures["cash per recruit", "all", "Laminaria hyperborea", "recruit", "frames"]
    assert together.note == "no comparison with control plots at NP"


def test_no_cost_of_recruits_made_of_chance(new_programme, rules):
    """Where the difference to control may be nothing, there is no cost per recruit."""
    files = {"deployment": DEPLOYMENT, "survey": survey(control=(2, 4, 3, 6, 5, 1))}
    refused = told(new_programme, rules, **files).figures()[
        "cash per recruit", "CB", "Laminaria hyperborea", "recruit", "2025-06-01", "frames"
    ]
    assert refused.note.startswith("cannot tell whether there are more recruits than in control plots (-")


def test_no_cost_of_recruits_on_area_told_per_unit(new_programme, rules):
    """Frames speak of whole plots: where treated area is told per unit, recruits are not scaled up."""
    rules = rules.replace("[rules]", '[rules]\ntreated_area_rule = "area per unit"')
    refused = told(new_programme, rules, deployment=DEPLOYMENT, survey=survey()).figures()[
        "cash per recruit", "CB", "Laminaria hyperborea", "recruit", "2025-06-01", "frames"
    ]
    assert refused.note.startswith("treated area is told per unit")


def test_nothing_to_divide_by(new_programme, rules):
    """Without counts, rules or costs every cost of an outcome says what is missing."""
    bare = told(new_programme, rules, deployment=DEPLOYMENT).figures()
    assert bare["cash per recruit", "all"].note.startswith("no recruits were counted in treated and control plots")
    assert bare["cash per hectare meeting the rule", "all"].note == "no success rule is set"
    free = told(new_programme, rules, "happened   form   amount\n", deployment=DEPLOYMENT, check=CHECK).figures()
    assert free["cash in all", "all"].note == "no such cost is recorded"
    assert free["cash per retained unit", "CB", "spore bag", "21"].note == "no such cost is recorded"
    assert free["cash per unit", "all", "spore bag"].note == "no such cost is recorded"
    assert free["value of hours", "all"].note == "no hours are recorded"


def estimate(value=None, low=None, high=None, state="estimated", **more):
    """A fraction of ten units."""
    return Estimate(state, "fraction", 10, "units", "drawn", value, low, high, **more)


@pytest.mark.parametrize(
    ("part", "state", "numbers", "note"),
    [
        (estimate(0.5, 0.25, 0.8), "estimated", (20, 12.5, 40, None, None), "taken as exact"),
        (estimate(0.5, 0.0, 0.8), "estimated", (20, None, None, None, None), "none held, so only: at least 12.5"),
        (estimate(0.5), "estimated", (20, None, None, None, None), "what the cost is divided by has none"),
        (estimate(0.0, 0.0, 0.2), "not estimable", (None,) * 5, "it may be that none held"),
        (
            estimate(low=0.2, high=0.9, state="bounded", value_from=0.4, value_to=0.5),
            "bounded",
            (None, 100 / 9, 50, 20, 25),
            "taken as exact",
        ),
        (
            estimate(low=0.0, high=0.9, state="bounded", value_from=0.0, value_to=0.5),
            "not estimable",
            (None,) * 5,
            "none held, at least 20 EUR per unit",
        ),
        (not_estimable("nobody looked", unit="fraction", n=10, n_of="units"), "not estimable", (None,) * 5, "nobody looked"),
    ],
)  # fmt: skip
def test_a_cost_over_an_estimate(part, state, numbers, note):
    """100 EUR over ten units of which a fraction held: limits and bounds turned over, none where it may be nothing."""
    made = over(100, part, 10, "EUR per unit", "100 EUR", "none held")
    assert made.state == state
    found = (made.value, made.low, made.high, made.value_from, made.value_to)
    assert found == tuple(None if x is None else pytest.approx(x) for x in numbers)
    assert note in made.note


def test_what_was_given_back_has_no_price():
    """Where refunds outweigh what was paid, nothing is divided."""
    made = over(-5, estimate(0.5, 0.25, 0.8), 10, "EUR per unit", "-5 EUR", "none held")
    assert made.note == "-5 EUR: more was given back than paid"


def test_a_sum_of_recruits():
    """Differences of 4 (1 to 9) on 10 m2 and 2 (-1 to 5) on 20 m2 are 80, less and more by the roots of summed squares."""
    one, other = estimate(4.0, 1.0, 9.0), estimate(2.0, -1.0, 5.0)
    value, low, high = total([(one, 10.0), (other, 20.0)])
    assert (value, low, high) == pytest.approx((80, 80 - (30**2 + 60**2) ** 0.5, 80 + (50**2 + 60**2) ** 0.5))
    refusal = not_estimable("no control", unit="per m2", n=3, n_of="frames")
    assert total([(one, 10.0), (refusal, 20.0)]) == "no control"


def paid(amount, **more):
    """A cost of one site in cents of the programme's currency."""
    told = {"site": "A", "share_key": None, "form": "cash", "currency": "EUR", "per_unit": Decimal(1), "rate_dated": None,
            "category": "boat", "phase": "deploy", "payer": "club", "method": None, "year": 2025, "month": 3,
            "bought_on": None, "life_years": None}  # fmt: skip
    return Paid(**{**told, **more}, hundredths=amount)


BOOKS = Books((paid(50000),), {"A": Area("A", 4, Decimal(100)), "B": Area("B", 4, Decimal(60))}, (), (), "EUR", dt.date(2025, 6, 1))  # fmt: skip


def test_which_round_counts():
    """Recruits are those of the first round that is late enough and can be compared, whatever later rounds say."""
    refusal = not_estimable("no control", unit="per m2", n=3, n_of="frames")
    rounds = {
        "04-01": estimate(9.0, 8.0, 10.0),
        "06-01": refusal,
        "07-01": estimate(4.0, 2.0, 6.0),
        "08-01": estimate(8.0, 7.0, 9.0),
    }
    made = [
        Figure(
            "treated minus control",
            scope(site="A", species="Saccharina latissima", stage="recruit", survey=f"2025-{day}"),
            e,
        )
        for day, e in rounds.items()
    ]
    told = [f for late in (made, made[:2]) for f in outcomes(BOOKS, late, 21, {"A": dt.date(2025, 5, 1)}, True)]
    found = [
        (f.of("survey"), f.estimate.value, f.estimate.note)
        for f in told
        if f.indicator == "cash per recruit" and f.of("survey")
    ]
    assert found[0][:2] == ("2025-07-01", 500 / 400)
    assert found[1] == ("2025-06-01", None, "no control")


@pytest.mark.parametrize(
    ("verdicts", "value", "bounds", "note"),
    [
        ({"A": "met", "B": "met"}, 31250, (None, None), "500.00 EUR at all sites; 160 m2 meet it (A, B); no interval"),
        ({"A": "not met", "B": "not met"}, None, (None, None), "no treated area meets it"),
        ({"A": "met", "B": "cannot tell"}, None, (31250, 50000), "100 m2 meet it (A); of B nobody can tell"),
        ({"A": "met"}, None, (31250, 50000), "of B nobody can tell"),
        (
            {"A": "not met", "B": "cannot tell"},
            None,
            (pytest.approx(500 / 0.006), None),
            "0 m2 meet it; of B nobody can tell",
        ),
    ],
)
def test_per_hectare_that_meets_the_rule(verdicts, value, bounds, note):
    """500 EUR over the treated area of the sites whose last verdict is met; bounds where nobody can tell of a site."""
    made = [
        Figure("success rule", scope(site=s, survey=day, rule="thick"),
               Estimate("estimated", "per m2", 6, "frames", "m", 1.0, 0.5, 2.0, note=f"{said}: the rule wants more"))
        for s, last in verdicts.items() for day, said in (("2025-06-01", "cannot tell"), ("2025-09-01", last))
    ]  # fmt: skip
    [figure] = [f for f in outcomes(BOOKS, made, 21, {}, True) if f.indicator == "cash per hectare meeting the rule"]
    e = figure.estimate
    assert figure.scope == (("site", "all"), ("rule", "thick"))
    assert (e.value, (e.value_from, e.value_to)) == (value, bounds)
    assert note in e.note


def test_the_dinghy_is_used_up_as_days_go_by(new_programme, rules):
    """By 31 March, 30 days of 1,461 are over, so 30.00 of 1,461.00 counts; a life that is over counts whole."""
    programme = told(new_programme, rules, deployment=DEPLOYMENT, survey=survey())
    early = programme.figures(dt.date(2025, 3, 31), groups=[costs])
    assert early["cash in all", "all", "dinghy"].value == 30
    late = programme.take(
        {"club/visit.csv": "visit_key   site_key   happened     outcome\nL9   CB   2026-03-01   found"}
    )
    assert late
    assert programme.figures(groups=[costs])["cash in all", "all", "dinghy"].value == 365


@pytest.mark.parametrize(
    "key",
    [
        ("cash in all", "all", "equal"),
        ("cash in all", "all", "all but monitor, report"),
        ("cash per hectare in base-year prices", "all"),
        ("cash per retained unit", "CB", "spore bag", "21"),
        ("cash per recruit", "CB", "Laminaria hyperborea", "recruit", "2025-06-01", "frames"),
        ("cash per recruit", "all", "Laminaria hyperborea", "recruit", "frames"),
    ],
    ids=" ".join,
)
def test_evidence_gives_the_same_cost(measured, tmp_path, key):
    """A programme of only the rows behind a cost gives that cost again, things that last and all."""
    figure = next(f for f in look.published(measured.root) if (f.indicator, *(v for _, v in f.scope)) == key)
    assert look.evidence(measured.root, figure, tmp_path / "e")


@pytest.fixture(scope="module")
def measured(new_programme, rules):
    """The drawn programme with both sites compared to controls, published."""
    programme = told(new_programme, rules, deployment=DEPLOYMENT, check=CHECK, survey=survey())
    plot = "site_key   plot_key   plot_kind   area_m2   control_kind   assigned_by\nNP   C1   control   50   untouched   random"
    programme.take({"programme/plot.csv": plot, "club/survey-np.csv": survey(day="2025-06-02").replace("CB", "NP").replace("D1", "D2")})  # fmt: skip
    run.refresh(programme.root)
    return programme


def test_recruits_of_all_sites(measured):
    """Both sites have 15.33 recruits per m2 beyond control: 1,533 and 767 for 472.00 and one more day of the dinghy."""
    figures = {(f.indicator, *(v for _, v in f.scope)): f for f in look.published(measured.root)}
    each = figures["cash per recruit", "all", "Laminaria hyperborea", "recruit", "frames"].estimate
    assert each.value == pytest.approx(473 / (23 / 1.5 * 150))
    more = figures["treated minus control", "CB", "Laminaria hyperborea", "recruit", "2025-06-01", "frames"].estimate
    down = (more.value - more.low) * (100**2 + 50**2) ** 0.5
    assert each.high == pytest.approx(473 / (23 / 1.5 * 150 - down))


def test_a_cost_leads_home(measured):
    """A partner's sum counts that partner's rows alone; a budget counts planned rows; a recruit's cost frames too."""
    figures = {(f.indicator, *(v for _, v in f.scope)): f for f in look.published(measured.root)}
    what = ("CB", "Laminaria hyperborea", "recruit", "2025-06-01", "frames")

    def rows_of(*key):
        homes = look.lead_home(measured.root, figures[key])
        return sorted({h.key if h.kind == "cost" else h.kind for h in homes if h.role == "counted"})

    assert rows_of("cash in all", "all", "club") == ["R1", "R4"]
    assert rows_of("cash in all", "all", "area") == ["R2"]
    assert rows_of("cash in all", "all", "direct") == ["R1", "R3", "R4"]
    assert rows_of("cash in all", "all", "gear") == ["R3"]
    assert rows_of("cash per hectare without monitoring", "CB", "all but monitor, report") == ["R1", "R2", "R6"]
    assert rows_of("cash budgeted", "all") == ["R7"]
    assert rows_of("cash per recruit", *what) == ["R1", "R2", "R4", "R6", "survey"]
    assert rows_of("cash per retained unit", "CB", "spore bag", "21") == ["R1", "R2", "R4", "R6", "check", "deployment"]
