"""Treated plots against reference forests and baselines, over sites, and under rules of success: drawn tables in, figures out."""

import math

import pytest

from pipeline import look, run
from pipeline.errors import BadUsage
from pipeline.indicators.baci import FIXED
from pipeline.programme import parse_rules

KELP = "Laminaria hyperborea"
HEAD = "visit_key   happened   site_key   plot_key   frame_key   frame_type   placement   protocol   species   stage   count   area_m2   stage_basis"
PLOTS = """
    site_key   plot_key   plot_kind   area_m2   control_kind   assigned_by
    CB         R1         reference   100       .              .
    NP         C1         control     50        untouched      random
    XX         T1         treated     50        .              random
    XX         C1         control     50        untouched      random
"""
XX = """
    site_key   name   latitude   longitude   datum       uncertainty_m   radius_m   country
    XX         Exe    39.2       -9.2        EPSG:4326   10              200        PT
"""
BAGS = """
    unit_key   method      site_key   plot_key   happened
    B1         spore bag   CB         T1         2025-04-01
    B2         spore bag   NP         T1         2025-04-01
    B3         spore bag   XX         T1         2025-04-01
"""
BEFORE, AFTER, AUTUMN = "2025-03-10", "2026-03-12", "2025-10-01"


def frames(day, site, plot, counts, *, area="0.25", kind="quadrat", placed="random", species=KELP, basis="."):
    """One drawn row a frame."""
    return [
        f"{site}{plot}{day}   {day}   {site}   {plot}   {n}   {kind}   {placed}   frames   {species}   recruit   {count}   {area}   {basis}"
        for n, count in enumerate(counts)
    ]


def sheet(*parts):
    """A drawn survey sheet."""
    return "\n".join([HEAD, *(row for part in parts for row in part)])


@pytest.fixture
def sea(new_programme, rules):
    """Make the drawn sea with a reference plot, a third site, bags put down, rules added; surveys as drawn rows."""

    def make(*parts, more="", plots=PLOTS, bags=BAGS, files=None):
        programme = new_programme(rules=rules + more)
        programme.take({"programme/site-2.csv": XX, "programme/plot-2.csv": plots})
        programme.take({"club/deployment.csv": bags, "club/survey.csv": sheet(*parts), **(files or {})})
        return programme

    return make


def of(programme, indicator, **scope):
    """The one figure of that indicator and scope."""
    run.project(programme.root)
    figures, _ = run.figures_of(programme.root, run.LATEST)
    wanted = [
        f
        for f in figures
        if f.indicator == indicator and f.of("stage") == "recruit" and all(f.of(k) == v for k, v in scope.items())
    ]
    assert len(wanted) == 1, [(f.indicator, f.scope) for f in figures if f.indicator == indicator]
    return wanted[0]


def refusal(programme, indicator, **scope):
    """Why there is no such figure."""
    e = of(programme, indicator, **scope).estimate
    assert (e.state, e.value, e.low, e.high) == ("not estimable", None, None, None)
    return e.note


T, C, R = [3, 5, 4, 7, 6, 2], [0, 1, 0, 0, 2, 1], [8, 9, 7, 10, 6, 11]


# --- against the reference forest


def test_the_share_of_the_reference_forest_reached(sea):
    """27 recruits over 51 in equal frames: a share of .529, and 16 per m2 fewer beside it."""
    programme = sea(frames(AFTER, "CB", "T1", T), frames(AFTER, "CB", "R1", R))
    share, less = (of(programme, f"treated {w} reference", against="CB") for w in ("over", "minus"))
    assert share.estimate.value == pytest.approx(27 / 51)
    assert share.estimate.unit == "times reference"
    assert less.estimate.value == pytest.approx((27 - 51) / 1.5)
    assert share.estimate.note == "6 treated and 6 reference frames"


def test_an_old_survey_of_the_reference_is_refused(sea):
    """A reference plot counted in another season says nothing of this year's forest."""
    programme = sea(frames(AFTER, "CB", "T1", T), frames(AUTUMN, "CB", "R1", R))
    assert refusal(programme, "treated over reference").startswith("no reference survey in the same season")


def test_the_nearest_reference_forest_stands_in(sea):
    """A site without a reference plot is held against the nearest that has one, and the figure says how far that is."""
    programme = sea(frames(AFTER, "NP", "T1", T), frames("2026-04-20", "CB", "R1", R))
    figure = of(programme, "treated over reference", site="NP", against="CB")
    assert figure.estimate.value == pytest.approx(27 / 51)
    told = " ".join(figure.estimate.cautions)
    assert "the reference forest lies at CB, 14.1 km away: planting and site cannot be told apart" in told
    assert "the reference plots were counted in the round from 2026-04-20" in told


def test_the_season_is_the_programme_s(sea):
    """A survey of late May and one of early June are of two seasons, unless the programme begins its seasons otherwise."""
    parts = frames("2026-05-28", "NP", "T1", T), frames("2026-06-02", "CB", "R1", R)
    assert "season that began in 2026-03" in refusal(sea(*parts), "treated over reference")
    programme = sea(*parts, more="[recruitment]\nseason_starts = [1, 4, 7, 10]")
    assert of(programme, "treated over reference").estimate.value == pytest.approx(27 / 51)


# --- what cannot be compared


def test_too_early_to_compare(sea):
    """Before the programme's day every comparison reads too early; the density keeps its value and the caution."""
    programme = sea(*(frames("2025-04-21", "CB", p, c) for p, c in (("T1", T), ("C1", C), ("R1", R))))
    why = "too early: day 20 of the 30 after which recruits show"
    for indicator in ("treated over control", "treated minus control", "treated over reference", "before-after ratio"):
        assert refusal(programme, indicator) == why
    density = of(programme, "density", plot_kind="treated").estimate
    assert density.value == pytest.approx(18)
    assert why in density.cautions
    assert (
        "too early for recruits to show at CB"
        in of(programme, "density over sites", plot_kind="treated").estimate.cautions
    )


@pytest.mark.parametrize(
    ("rule", "needed"),
    [
        (f'species = "{KELP}"\nday = 50', 50),
        ('method = "spore bag"\nday = 60', 60),
        (f'species = "{KELP}"\nmethod = "spore bag"\nday = 70', 70),
        ('method = "transplant"\nday = 80', 30),
    ],
)
def test_the_day_may_be_of_a_species_and_method(sea, rule, needed):
    """The day from which recruits show is that of species and method, then of either, then of the programme."""
    more = f"[[recruitment.first_meaningful_day]]\n{rule}"
    programme = sea(frames("2025-05-11", "CB", "T1", T), frames("2025-05-11", "CB", "C1", C), more=more)
    figure = of(programme, "treated minus control").estimate
    early = f"too early: day 40 of the {needed} after which recruits show"
    assert (figure.note == early) if needed > 40 else (figure.value == pytest.approx((27 - 4) / 1.5))


@pytest.mark.parametrize(
    ("treated", "control", "why"),
    [
        ({}, {"area": "1"}, "frames differ in size: treated 0.25 m2, control 1 m2 on average"),
        ({}, {"kind": "belt"}, "frames differ: treated quadrat, control belt"),
        ({"basis": "length"}, {"basis": "eye"}, "stages were judged differently: treated by length, control by eye"),
    ],
)
def test_unlike_frames_and_stages_are_not_compared(sea, treated, control, why):
    """Frames of another kind or size, or stages judged otherwise, make a comparison unfair, and it is refused."""
    programme = sea(frames(AFTER, "CB", "T1", T, **treated), frames(AFTER, "CB", "C1", C, **control))
    assert refusal(programme, "treated over control") == why
    assert refusal(programme, "treated minus control") == why


def test_frames_nearly_alike_are_compared(sea):
    """Sizes within a tenth of each other count as alike, and a basis that only one arm tells is no difference."""
    programme = sea(frames(AFTER, "CB", "T1", T, area="0.27"), frames(AFTER, "CB", "C1", C, basis="eye"))
    assert of(programme, "treated minus control").estimate.value == pytest.approx(27 / 1.62 - 4 / 1.5)


@pytest.mark.parametrize(
    ("name", "refused"),
    [
        ("Laminaria", True),
        ("Laminaria sp.", True),
        ("Laminaria cf. hyperborea", True),
        ("Laminariales", True),
        ("Saccharina sp.", False),
        ("Laminaria digitata", False),
    ],
)
def test_plants_named_to_a_wider_rank_forbid_a_comparison(sea, name, refused):
    """Where an arm has plants that may be of the species but are named only to genus or order, the species is not compared."""
    programme = sea(
        frames(AFTER, "CB", "T1", T), frames(AFTER, "CB", "C1", C), frames(AFTER, "CB", "C1", [0, 3], species=name)
    )
    figure = of(programme, "treated minus control", species=KELP).estimate
    assert ("only what is named to the same rank can be compared" in figure.note) == refused
    assert (figure.value is None) == refused


# --- before and after


def four(site, treated_after=T, control_after=C, before=BEFORE, after=AFTER, **more):
    """Treated and control frames before planting and after it: three and two recruits to six frames before."""
    return [
        *frames(before, site, "T1", [1, 0, 1, 0, 1, 0], **more),
        *frames(before, site, "C1", [1, 0, 0, 0, 1, 0], **more),
        *frames(after, site, "T1", treated_after, **more),
        *frames(after, site, "C1", control_after, **more),
    ]


def test_change_beyond_control(sea):
    """27 over 3 in treated plots, 4 over 2 in control plots: 4.5 times the change in control; 16 less 1.33 per m2."""
    programme = sea(four("CB"))
    ratio = of(programme, "before-after ratio", survey=AFTER)
    assert ratio.of("since") == BEFORE
    assert ratio.estimate.value == pytest.approx((27 / 3) / (4 / 2))
    assert ratio.estimate.low < 4.5 < ratio.estimate.high
    difference = of(programme, "before-after difference", survey=AFTER).estimate
    assert difference.value == pytest.approx((27 - 3) / 1.5 - (4 - 2) / 1.5)
    assert "one site: it says nothing of others" in difference.cautions


@pytest.mark.parametrize(
    ("parts", "why"),
    [
        (
            [frames(AFTER, "CB", "T1", T), frames(AFTER, "CB", "C1", C)],
            "no baseline: treated and control plots were not both counted here before planting",
        ),
        (
            [frames(AFTER, "CB", "T1", T), frames(AFTER, "CB", "C1", C), frames(BEFORE, "CB", "T1", C)],
            "no baseline: treated and control plots were not both counted here before planting",
        ),
        (
            [four("CB", before="2025-02-10")],
            "no baseline in the same season: the last round before planting was from 2025-02-10, in another season of the year",
        ),
        ([frames(AFTER, "CB", "T1", T)], "no control plot was counted in this round under this protocol"),
    ],
    ids=["nothing before", "no control before", "another season", "no control"],
)
def test_no_baseline(sea, parts, why):
    """Without both kinds of plot counted before planting, in the same season of the year, the change is refused."""
    assert refusal(sea(*parts), "before-after ratio", survey=AFTER) == why


def test_fixed_frames_give_no_interval_at_one_site(sea):
    """Fixed frames counted before and after are the same frames: the change has a value and no interval."""
    e = of(sea(four("CB", placed="fixed")), "before-after difference", survey=AFTER).estimate
    assert e.value == pytest.approx((27 - 3) / 1.5 - (4 - 2) / 1.5)
    assert (e.low, e.high) == (None, None)
    assert FIXED in e.note


# --- over sites


def three(**more):
    """Three sites before and after, with 27, 13 and 20 recruits in treated frames and 4 in control ones."""
    return [*four("CB", **more), *four("NP", [1, 2, 2, 3, 3, 2], **more), *four("XX", [4, 4, 4, 4, 4, 0], **more)]


def test_the_site_is_the_unit(sea):
    """Three sites of 18, 8.67 and 13.3 recruits per m2: their mean 13.3 with t on two degrees of freedom, each site told."""
    programme = sea(three())
    season = "2026-03"
    mean = of(programme, "density over sites", season=season, plot_kind="treated").estimate
    values = [27 / 1.5, 13 / 1.5, 20 / 1.5]
    m = sum(values) / 3
    se = math.sqrt(sum((v - m) ** 2 for v in values) / 2 / 3) / m
    assert (mean.value, mean.n, mean.n_of) == (pytest.approx(m), 3, "sites")
    assert mean.high == pytest.approx(m * math.exp(4.302653 * se), rel=1e-6)
    assert mean.note == "every site has the same weight: NP 8.67, XX 13.3, CB 18"
    minus = of(programme, "treated minus control over sites", season=season).estimate
    assert minus.value == pytest.approx(m - 4 / 1.5)
    ratio = of(programme, "before-after ratio over sites", season=season).estimate
    assert ratio.value == pytest.approx((4.5 * (13 / 3 / 2) * (20 / 3 / 2)) ** (1 / 3))
    assert ratio.unit == "times the change in control"
    difference = of(programme, "before-after difference over sites", season=season).estimate
    assert difference.value == pytest.approx(m - 2 - 2 / 1.5)
    geometric = of(programme, "geometric density over sites", season=season, plot_kind="treated").estimate
    assert geometric.value == pytest.approx(math.prod(values) ** (1 / 3))


def test_fixed_frames_give_an_interval_over_sites(sea):
    """Over sites, fixed frames are no hindrance: each site is one value."""
    e = of(sea(three(placed="fixed")), "before-after ratio over sites", season="2026-03").estimate
    assert e.low < e.value < e.high


def test_a_site_without_a_fair_comparison_is_left_out_and_named(sea):
    """Where only treated plots were cleared of grazers, the mean of differences leaves the site out, and says so."""
    cleared = "site_key   plot_key   happened   action   area_m2\nXX   T1   2025-04-01   grazers removed   50"
    e = of(
        sea(three(), files={"club/treatment.csv": cleared}), "treated minus control over sites", season="2026-03"
    ).estimate
    assert e.note == "only 2 sites to take a mean over: it needs 3"
    assert e.cautions == ("left out, since no comparison was fair there: XX",)


def test_one_site_is_no_mean(sea):
    """One site gives refusals over sites, never a mean of quadrats."""
    programme = sea(four("CB"))
    for indicator in ("treated minus control over sites", "before-after ratio over sites"):
        assert refusal(programme, indicator, season="2026-03") == "only 1 site to take a mean over: it needs 3"


# --- rules of success


def rule(limit, indicator="density", dated="2025-01-01", days="from_day = 100"):
    """A [[success]] rule on recruits."""
    return f'[[success]]\nkey = "ours"\ndated = {dated}\nindicator = "{indicator}"\nspecies = "{KELP}"\nstage = "recruit"\n{limit}\n{days}\n'


@pytest.mark.parametrize(
    ("limit", "verdict"),
    [
        ("at_least = 5", "met"), ("at_least = 18", "cannot tell"), ("at_least = 60", "not met"),
        ("at_most = 60", "met"), ("at_most = 18", "cannot tell"), ("at_most = 5", "not met"),
    ],
)  # fmt: skip
def test_a_rule_is_judged_with_the_interval(sea, limit, verdict):
    """Of 18 recruits per m2 (10.3 to 31.5) a limit below the interval, in it and above it gives three verdicts."""
    programme = sea(frames(AFTER, "CB", "T1", T), more=rule(limit))
    e = of(programme, "success rule", rule="ours").estimate
    density = of(programme, "density", plot_kind="treated").estimate
    assert e.note.partition(":")[0] == verdict
    assert (e.value, e.low, e.high) == (density.value, density.low, density.high)
    assert 5 < e.low < 18 < e.high < 60


def test_a_rule_that_cannot_be_judged_says_why(sea):
    """A refused comparison, and three frames alone, give: cannot tell."""
    no_control = sea(frames(AFTER, "CB", "T1", T), more=rule("at_least = 1", "treated minus control"))
    assert of(no_control, "success rule").estimate.note.startswith("cannot tell: no control plot was counted")
    few = sea(frames(AFTER, "CB", "T1", [40, 41, 42]), more=rule("at_least = 1"))
    assert of(few, "success rule").estimate.note == "cannot tell: 3 frames: too few to decide anything by"


def test_a_rule_judges_only_within_its_days(sea):
    """Surveys outside the rule's days are not judged; when there is none inside, the figure says which was the last."""
    parts = [frames(day, "CB", "T1", T) for day in ("2025-06-01", AUTUMN, AFTER)]
    programme = sea(*parts, more=rule("at_least = 5", days="from_day = 100\nto_day = 200"))
    assert of(programme, "success rule").of("survey") == AUTUMN
    programme = sea(*parts, more=rule("at_least = 5", days="from_day = 400"))
    assert of(programme, "success rule").estimate.note == (
        "cannot tell: the rule judges surveys from day 400 on; the last one here, from 2026-03-12, was on day 345"
    )


def test_a_rule_written_afterwards_is_marked(sea):
    """A rule dated after the first survey it judges is marked on every verdict; one dated that day is not."""
    parts = [frames(day, "CB", "T1", T) for day in (AUTUMN, AFTER)]
    late = sea(*parts, more=rule("at_least = 5", dated="2025-12-01"))
    mark = f"written afterwards: the rule is dated 2025-12-01, the first survey it judges here was from {AUTUMN}"
    for day in (AUTUMN, AFTER):
        assert mark in of(late, "success rule", survey=day).estimate.cautions
    timely = sea(*parts, more=rule("at_least = 5", dated=AUTUMN))
    assert of(timely, "success rule", survey=AUTUMN).estimate.cautions == ()


@pytest.mark.parametrize(
    ("more", "why"),
    [
        (rule("at_least = 1\nat_most = 2"), "one of `at_least` and `at_most` is wanted"),
        (rule("at_least = 1") * 2, r"\[\[success\]\] key ours stands twice"),
        (rule("at_least = 1").replace(KELP, "Alaria esculenta"), "which no \\[\\[protocol\\]\\] searches for"),
        (rule("at_least = 1", days="from_day = 9\nto_day = 3"), "a day not before `from_day` is wanted"),
        (rule("at_least = 1", "cover"), "`indicator` is 'cover'; one of"),
        ("[recruitment]\nseason_starts = [6, 3]", r"`season_starts` is \[6, 3\]; months in order"),
        ("[[recruitment.first_meaningful_day]]\nday = 9", "a `species`, a `method` or both are wanted"),
    ],
)
def test_a_slip_of_the_pen_in_the_rules_is_told(rules, more, why):
    """What could not be judged or would be ambiguous is refused when the rules are read, with what is wanted."""
    with pytest.raises(BadUsage, match=why):
        parse_rules((rules + more).encode())


# --- home


@pytest.fixture(scope="module")
def told(new_programme, rules):
    """A measured programme with every sort of comparison and much beside the point."""
    programme = new_programme(rules=rules + rule("at_least = 1", "treated minus control", dated="2026-01-01"))
    programme.take({"programme/site-2.csv": XX, "programme/plot-2.csv": PLOTS})
    extra = [frames(AUTUMN, s, p, c) for s, p, c in (("CB", "T1", T), ("CB", "C1", C), ("NP", "T1", T))]
    parts = [three(), frames(AFTER, "CB", "R1", R), frames(AUTUMN, "CB", "R1", R), *extra]
    programme.take({"club/deployment.csv": BAGS, "club/survey.csv": sheet(*parts)})
    run.refresh(programme.root)
    return programme


COUNTED = {
    ("treated over reference", "NP", AFTER): 12,
    ("before-after ratio", "CB", AFTER): 24,
    ("density over sites", "all", "2026-03"): 18,
    ("treated minus control over sites", "all", "2026-03"): 36,
    ("before-after difference over sites", "all", "2026-03"): 72,
    ("success rule", "CB", AFTER): 12,
}


@pytest.mark.parametrize("which", COUNTED, ids=lambda which: which[0])
def test_a_comparison_leads_home_and_its_rows_give_it_again(told, tmp_path, which):
    """The rows counted are those of the figure's frames and no other, and a programme of its rows gives the same figure."""
    indicator, site, when = which
    figure = next(
        f
        for f in look.published(told.root)
        if (f.indicator, f.of("site"), f.of("survey") or f.of("season")) == which
        and f.of("plot_kind") in ("", "treated")
        and f.of("stage") == "recruit"
    )
    assert figure.estimate.value is not None, figure
    homes = look.lead_home(told.root, figure)
    assert len({h.identity for h in homes if h.role == "counted"}) == COUNTED[which]
    assert look.evidence(told.root, figure, tmp_path / "e")


def test_refusals_lead_home_too(told, tmp_path):
    """A refused comparison's rows give the same refusal again."""
    refused = [
        f
        for f in look.published(told.root)
        if f.estimate.state == "not estimable" and f.of("stage") == "recruit"
        and f.indicator in ("before-after ratio", "treated over reference", "geometric density over sites")
    ]  # fmt: skip
    assert {f.indicator for f in refused} >= {"before-after ratio", "geometric density over sites"}
    for n, figure in enumerate(refused):
        assert look.evidence(told.root, figure, tmp_path / str(n)), figure
