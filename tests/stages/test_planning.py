"""Plans: drawn programmes in, numbers worked by hand or by the published formulas out; what is not known is said to be assumed."""

import datetime as dt
import math
from decimal import Decimal

import pytest

from pipeline import look, run
from pipeline.errors import BadUsage
from pipeline.indicators.plan_cost import Spent, next_season
from pipeline.indicators.plan_frames import ControlFrames, frames_to_plan
from pipeline.indicators.plan_units import Gone, baseline, other_share, units_to_plan
from pipeline.indicators.plan_visits import Wanted, next_looks
from pipeline.indicators.remember import Memory
from pipeline.indicators.sample_size import frames_for_ratio
from pipeline.programme import parse_rules

KELP = "Laminaria hyperborea"


def day(text):
    """A day."""
    return dt.date.fromisoformat(text)


# --- frames -------------------------------------------------------------------------------------------------


def controls(*sites, on="2025-06-10", area="0.25", stage="recruit"):
    """Control frames: the counts of each site."""
    return [
        ControlFrames(f"S{n}", day(on), KELP, stage, "frames", count, Decimal(area), 1)
        for n, counts in enumerate(sites)
        for count in counts
    ]


def frames(rows, zero_k=0.5, around=None):
    """The two plans for frames, at one site and over sites."""
    told = frames_to_plan(rows, around or {}, zero_k, Memory())
    return [f.estimate for f in told if f.of("stage") == "recruit"]


def test_frames_from_the_programmes_own_controls():
    """Three sites with 0 2 4, 1 2 3 and 0 3 3: mean 2, s2 - m of 2 -1 1, so 1/k is 2 over 10, by hand; approach 2 does the rest."""
    one, over = frames(controls([0, 2, 4], [1, 2, 3], [0, 3, 3]))
    # squares: m2 - s2/n = 4 - 4/3, 4 - 1/3, 4 - 1; 1/k = (2 - 1 + 1) / (8/3 + 11/3 + 3)
    inv_k = 2 / (8 / 3 + 11 / 3 + 3)
    assert one.value == math.ceil(frames_for_ratio(2, 2, inv_k))
    assert (one.n, one.n_of) == (9, "frames")
    assert f"2 a frame of 0.25 m2, k {1 / inv_k:.3g} pooled over 3 sites" in one.note
    assert one.cautions == ()
    assert (over.value, "times 1.00" in over.note) == (one.value, True)  # sites differ less than their frames


def test_sites_that_differ_need_more_frames():
    """Where a site's frames are alike, more are needed over sites than at one: by 1 + (frames - 1) times how alike."""
    one, over = frames(controls([0, 1, 0, 1], [4, 5, 5, 4], [9, 8, 9, 8]))
    assert over.value > 3 * one.value
    assert "intraclass correlation 0.9" in over.note


def test_what_is_not_known_is_assumed_aloud():
    """With two control sites k is the programme's, and said so; how alike a site's frames are is then not known."""
    one, over = frames(controls([0, 2, 4], [1, 2, 3]))
    assert one.value == math.ceil(frames_for_ratio(2, 2, 2))
    assert one.cautions == ("k 0.5 is assumed: under 3 control sites with two frames tell of it",)
    assert over.state == "not estimable"
    assert over.note.startswith("how alike frames of one site are is not known from 2 control sites")


def test_a_doubling_of_nothing():
    """Where the controls are empty no number of frames shows a doubling, and both plans say so."""
    for e in frames(controls([0, 0], [0, 0], [0, 0])):
        assert e.state == "not estimable"
        assert e.note.startswith("nothing was found in the 6 control frames of 2025-06 to 2025-08")


def test_frames_of_several_sizes_give_no_plan():
    """A mean per frame of a quarter and of a whole square metre is a mean of nothing."""
    for e in frames(controls([1, 2]) + controls([], [4, 5], area="1")):
        assert e.note == "control frames of 2025-06 to 2025-08 are of different sizes, from 0.25 to 1 m2"


def test_the_last_season_is_planned_with():
    """Frames of an earlier season do not count, nor an earlier round of a site in the last; its cautions travel."""
    old = controls([50, 60], [50, 60], on="2024-06-10") + controls([30, 30], on="2025-06-01")
    around = {("S0", day("2025-06-10")): ["some doubt"], ("S0", day("2024-06-10")): ["an old doubt"]}
    told, wanted = frames(old + controls([0, 2, 4], [1, 2, 3]), around=around), frames(controls([0, 2, 4], [1, 2, 3]))
    assert told[0].value == wanted[0].value
    assert "some doubt" in told[0].cautions
    assert "an old doubt" not in told[0].cautions


def test_a_season_that_tells_of_spread_is_planned_with():
    """A last season with one site only gives way to the one before, in which three sites tell of spread."""
    before, after = controls([0, 2, 4], [1, 2, 3], [0, 3, 3], on="2025-03-10"), controls([9, 9])
    assert frames(before + after)[0] == frames(before)[0]


# --- units --------------------------------------------------------------------------------------------------


def units(gone, points=20, plan=(15, 30, 60), missed=0.0, on=30):
    """The four plans for one method's units, by indicator."""
    told = units_to_plan(gone, [on], points, {on: plan}, missed, Memory())
    return {f.indicator: f.estimate for f in told}


def held(*sites, on=30):
    """Units of several sites: (attached on that day, gone by the day before)."""
    return [
        g
        for n, (kept, lost) in enumerate(sites)
        for g in (Gone("bag", f"S{n}", on, None, kept), Gone("bag", f"S{n}", 0, on - 1, lost))
        if g.units
    ]


def test_units_from_the_programmes_own_retention():
    """80 of 100 attached: 62 to know it to 10 points, 82 a fixing against 60 %, 81 by the arcsine, as statsmodels and R have it."""
    told = units(held((40, 10), (40, 10)))
    know, apart, losses = (
        told[n] for n in ("units to know retention", "units to tell fixings apart", "losses to tell fixings apart")
    )
    assert (know.value, know.n) == (62, 100)
    assert "(Wald 62, Wilson 60)" in know.note
    assert know.cautions[0].startswith(
        "units of one site are taken as no more alike than others: 100 units of known fate at 2"
    )
    # 0.80 and 20 points: 1.00 leaves no room, so worse
    assert (apart.value, "against 0.60; by the arcsine 81" in apart.note) == (82, True)
    ratio = math.log(0.8) / math.log(0.6)
    assert losses.value == math.ceil(4 * (1.959964 + 0.841621) ** 2 / math.log(ratio) ** 2)


def test_alike_units_of_a_site_ask_for_more():
    """Sites that kept all, half and none have units alike, and the plan for retention is multiplied."""
    told = units(held((20, 0), (10, 10), (0, 20)))
    e = told["units to know retention"]
    assert e.value > 5 * 97
    assert "97 if units were independent" in e.note
    assert "20 units a site" in e.note
    assert "if whole sites get one fixing, times" in told["units to tell fixings apart"].note


@pytest.mark.parametrize(
    "gone",
    [
        [Gone("bag", "S0", 0, None, 20)],  # never looked at again
        [Gone("bag", "S0", 10, None, 20)],  # last seen before that day
    ],
)
def test_without_retention_one_half_is_assumed_aloud(gone):
    """Where the programme's own units tell nothing of that day, one half is assumed, 97 units, and every plan says so."""
    told = units(gone)
    assert told["units to know retention"].value == 97
    assert told.pop("power of the planned checks").note.startswith("nothing to simulate with")
    for e in told.values():
        assert any(c.startswith("one half attached on day 30 is assumed") for c in e.cautions)


def test_between_visits_the_share_that_asks_for_most_is_planned_with():
    """Units lost between day 20 and 40 may be there on day 30: of 0.2 to 1 attached, one half asks for most units."""
    base = baseline([Gone("bag", "S0", 20, 40, 8), Gone("bag", "S0", 60, None, 2)], 30)
    assert (base.share, base.assumed) == (0.5, "")


def test_a_share_of_all_is_not_planned_with():
    """20 of 20 attached is taken as 19.5, since nothing says that the next cannot go."""
    assert baseline(held((20, 0)), 30).share == pytest.approx(0.975)


@pytest.mark.parametrize(
    ("share", "points", "other"), [(0.6, 20, 0.8), (0.8, 20, 0.6), (0.975, 10, 0.875), (0.5, 60, None)]
)
def test_the_other_fixings_share(share, points, other):
    """The other fixing is better where there is room, else worse; where neither fits nothing is planned."""
    found = other_share(share, points)
    assert found == (None if other is None else pytest.approx(other))


def test_a_difference_that_does_not_fit_is_refused():
    """60 points do not fit beside one half, and the three plans that need them say so."""
    told = units(held((10, 10), (10, 10)), points=60)
    for name in ("units to tell fixings apart", "losses to tell fixings apart", "power of the planned checks"):
        assert told[name].note.startswith("a difference of 60 points does not fit beside 0.50")


def test_power_with_the_visit_plan():
    """The planned checks give the chance with its own interval; missed ones lower it; without a plan it is refused."""
    full, missed, none = (
        units(held((40, 10), (40, 10)), plan=plan, missed=m)["power of the planned checks"]
        for plan, m in (((10, 20, 30, 60), 0.0), ((30,), 0.5), ((), 0.0))
    )
    assert full.low < full.value < full.high
    assert full.value > missed.value
    assert "checks on days 10, 20, 30, 60, 0% of them missed" in full.note
    assert (none.state, none.note) == ("not estimable", "no [[visit_plan]] of checks stands in programme.toml")


def test_too_many_units_are_not_simulated():
    """A difference of one point asks for thousands of units, which is refused rather than simulated for minutes."""
    e = units(held((40, 10), (40, 10)), points=1)["power of the planned checks"]
    assert e.state == "not estimable"
    assert e.note.endswith("more than is worth simulating")


# --- visits -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("days", "every", "looks", "planned", "on"),
    [
        ((14, 45, 90), 0, [], 14, "2025-03-15"),
        ((14, 45, 90), 0, ["2025-03-15"], 45, "2025-04-15"),
        ((14, 45, 90), 0, ["2025-03-09"], 45, "2025-04-15"),  # day 8, within a week of day 14
        ((14, 45, 90), 0, ["2025-03-03"], 14, "2025-03-15"),  # day 2 is no look of day 14
        ((14, 45, 90), 0, ["2025-05-20"], 90, "2025-05-30"),  # two were not made: nothing is said of them
        ((14, 45, 90), 0, ["2025-02-01"], 14, "2025-03-15"),  # before the last planting
        ((), 30, [], 30, "2025-03-31"),
        ((), 30, ["2025-03-11", "2025-03-21"], 50, "2025-04-20"),
    ],
)
def test_the_next_check_by_hand(days, every, looks, planned, on):
    """The next planned day after the last look, counted from planting on 1 March, with its date and its reason."""
    told = {("CB", "check"): [day(d) for d in looks], ("CB", "survey"): [day("2025-12-01")]}
    [f] = next_looks({"CB": day("2025-03-01")}, told, [Wanted("check", days, every)], 7)
    assert (f.indicator, f.estimate.value) == ("next check", planned)
    assert f.estimate.note.startswith(f"planned for {on} (")
    assert f.estimate.note.endswith("due when conditions and your supervisor allow")
    assert "overdue" not in f.estimate.note


def test_nothing_more_is_planned():
    """After the last planned day nothing is due, and that is said with the last look."""
    told = {("CB", "check"): [day("2025-06-01")]}
    [f] = next_looks({"CB": day("2025-03-01")}, told, [Wanted("check", (14, 90), 0)], 7)
    assert f.estimate.note == "no check is planned after the last one, on 2025-06-01, day 92 after planting"


# --- cost ---------------------------------------------------------------------------------------------------


def cost(spent, put_down, planned=0, treated=5000, waiting=0):
    """The costs of the next season, by indicator."""
    told = next_season(spent, put_down, planned, "EUR", Decimal(treated), Decimal(1000), waiting)
    return {f.indicator: f.estimate for f in told}


def test_the_next_season_by_hand():
    """300 EUR and 115 NOK at 11.5 are 310 EUR for 20 units: 50 units cost 775 EUR; 30 hours make 75."""
    told = cost(
        [Spent("cash", Decimal(1), 30_000, 2), Spent("cash", Decimal("11.5"), 11_500, 1), Spent("hours", None, 3_000, 4)],
        {2024: 15, 2025: 5}, 50,
    )  # fmt: skip
    assert told["cash for next season"].value == 775
    assert told["cash for next season"].note.startswith(
        "310.00 EUR for 20 units so far (costs told of: 3), 50 units planned"
    )
    assert (told["hours for next season"].value, told["hours for next season"].unit) == (75, "hours")
    assert told["gifts in kind for next season"].note == "no in kind cost is recorded"
    assert told["cash for next season"].cautions == (
        "part was changed from other currencies at the programme's dated rates",
    )
    assert told["hours for next season"].cautions == ()


def test_costs_of_a_trial_are_stamped_and_assumptions_told():
    """Under the programme's area it is a trial cost; without planned units last year's number is assumed; waiting costs are told."""
    e = cost([Spent("cash", Decimal(1), 30_000, 1)], {2024: 15, 2025: 5}, treated=999, waiting=2)[
        "cash for next season"
    ]
    assert e.value == 75
    assert e.cautions == (
        "2 costs wait for a place or a rate and are left out",
        "as many units as were put down in 2025 are assumed: programme.toml does not say how many are planned",
        "trial cost, do not scale: under the 1000 m2 that the programme asks for",
    )


def test_costs_without_units_give_no_plan():
    """Money spent before anything was put down tells nothing of what a unit costs."""
    assert cost([Spent("cash", Decimal(1), 30_000, 1)], {}, 50)["cash for next season"].note == "no unit was put down"


# --- rules --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("more", "why"),
    [
        ('[[visit_plan]]\nwhat = "check"\n', "either `days` after planting"),
        ('[[visit_plan]]\nwhat = "check"\ndays = [3]\nevery_days = 3\n', "either `days` after planting"),
        ('[[visit_plan]]\nwhat = "look"\ndays = [3]\n', 'one of "visit", "check", "survey"'),
        ('[[visit_plan]]\nwhat = "check"\ndays = [0, 3]\n', "are counted from 1"),
        (2 * '[[visit_plan]]\nwhat = "check"\ndays = [3]\n', "check stands twice"),
        ("[planning]\nfixing_difference_points = 0\n", "1 to 90 is wanted"),
        ("[planning]\nbags = 3\n", "`bags` is not known here"),
    ],
)
def test_rules_that_are_none(rules, more, why):
    """A slip in the rules on planning is refused with what is wanted."""
    with pytest.raises(BadUsage, match=why):
        parse_rules((rules + more).encode())


# --- home ---------------------------------------------------------------------------------------------------

PLAN = """
[planning]
units = 40
[[visit_plan]]
what = "check"
days = [14, 30, 60]
[[visit_plan]]
what = "survey"
every_days = 90
"""


@pytest.fixture(scope="module")
def told(new_programme, rules):
    """A small programme with plans, measured."""
    programme = new_programme(rules=rules + PLAN)
    head = "visit_key   happened     site_key   plot_key   frame_key   frame_type   placement   protocol   species   stage   count   area_m2"
    counts = [
        f"D1   2025-06-01   CB   {plot}   {n}   quadrat   random   frames   {KELP.replace(' ', ' ')}   recruit   {count}   0.25"
        for plot, found in (("C1", (0, 1, 3, "many")), ("T1", (5, 6)))
        for n, count in enumerate(found)
    ]
    programme.take({
        "club/deployment.csv": """
            unit_key   method      site_key   plot_key   happened
            B1         spore bag   CB         T1         2025-03-01
            B2         spore bag   CB         T1         2025-03-01
            B3         spore bag   NP         T1         2025-03-01
        """,
        "club/check.csv": """
            visit_key   site_key   happened     unit_key   state      search_time_min
            L1          CB         2025-03-20   B1         attached   5
            L1          CB         2025-03-20   B2         absent     9
            L2          CB         2025-04-05   B1         attached   5
        """,
        "club/visit.csv": "visit_key   site_key   happened     outcome     why\nN1   NP   2025-04-02   not found   swell",
        "club/survey.csv": "\n".join([head, *counts]),
        "programme/cost.csv": """
            happened     form    amount   currency   category   phase     for_kind     for_key   share_key
            2025-03-01   cash    300      EUR        boat       deploy    site         CB        .
            2025-03-01   hours   12       .          diving     deploy    .            .         units
        """,
    })  # fmt: skip
    run.refresh(programme.root)
    return programme


PLANS = ("frames", "units to", "losses to", "power", "next", "cash for", "hours for", "gifts")


def test_plans_of_a_programme(told):
    """From files to plans: 4 EUR and hours a unit by the rate of three, the next days from the plan, controls without the held frame."""
    found = {
        (f.indicator, f.of("site")): f.estimate for f in look.published(told.root) if f.indicator.startswith(PLANS)
    }
    assert found["cash for next season", "all"].value == 4000
    assert found["hours for next season", "all"].value == 160
    assert found["next check", "CB"].value == 60  # looked on days 19 and 35
    assert found["next check", "NP"].value == 14
    assert found["next survey", "CB"].value == 92 + 90
    assert found["frames for a doubling", ""].n == 3  # the fourth control frame is held
    assert any("held" in c for c in found["frames for a doubling", ""].cautions)
    assert found["units to know retention", ""].n == 2  # one attached on day 35, one gone by day 19
    assert "25% of them missed" in found["power of the planned checks", ""].note


def test_plans_lead_home(told, tmp_path):
    """Every plan rests on rows, and a programme of only those gives it again (one of each sort here)."""
    plans = {f.indicator: f for f in look.published(told.root) if f.indicator.startswith(PLANS)}
    assert len(plans) == 11
    for f in plans.values():
        assert any(h.role == "counted" for h in look.lead_home(told.root, f)), f
    for name in ("frames for a doubling", "power of the planned checks", "next check", "cash for next season"):
        assert look.evidence(told.root, plans[name], tmp_path / plans[name].id), name
