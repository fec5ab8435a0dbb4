"""Treated plots against reference forests and baselines, over sites, and under a rule of success: one drawn sea, many figures."""

import math

import pytest

from pipeline import look, run
from pipeline.indicators.baci import FIXED

KELP = "Laminaria hyperborea"
HEAD = "visit_key   happened   site_key   plot_key   frame_key   frame_type   placement   protocol   species   stage   count   area_m2"
BEFORE, AUTUMN, AFTER, LATER = "2025-03-10", "2025-10-01", "2026-03-12", "2026-09-12"
T, C, R = [3, 5, 4, 7, 6, 2], [0, 1, 0, 0, 2, 1], [8, 9, 7, 10, 6, 11]
WAS = {"T1": [1, 0, 1, 0, 1, 0], "C1": [1, 0, 0, 0, 1, 0]}  # before planting

# CB has a reference plot; EA was planted late, FX has fixed frames, GR was cleared of grazers where it was planted only,
# LN has larger control frames, GE plants named to the genus, NC no control, NB a baseline of another season.
SITES = ("CB", "NP", "XX", "EA", "FX", "GR", "LN", "GE", "NC", "NB", "TR", "LI")
# TR and LI were planted with transplants and lines, for which other days hold.
PLANTED = {"EA": "2026-03-01", "FX": "2025-10-20"}
METHODS = {"TR": "transplant", "LI": "seeded line"}
MORE = f"""
[recruitment]
season_starts = [3, 6, 9, 12]

[[recruitment.first_meaningful_day]]
species = "{KELP}"
method = "transplant"
day = 70

[[recruitment.first_meaningful_day]]
method = "seeded line"
day = 60

[[success]]
key = "came"
dated = 2026-01-01
indicator = "treated minus control"
species = "{KELP}"
stage = "recruit"
at_least = 1
from_day = 100
"""


def table(head, rows):
    """A drawn table."""
    return "\n".join([head, *rows])


def frames(day, site, plot, counts, *, area="0.25", placed="random", species=KELP):
    """One drawn row a frame."""
    return [
        f"{site}{plot}{day}   {day}   {site}   {plot}   {n}   quadrat   {placed}   frames   {species}   recruit   {count}   {area}"
        for n, count in enumerate(counts)
    ]


def four(site, treated=T, before=BEFORE, after=AFTER, **more):
    """Treated and control frames before planting and after it."""
    first = [row for plot, counts in WAS.items() for row in frames(before, site, plot, counts, **more)]
    return [*first, *frames(after, site, "T1", treated, **more), *frames(after, site, "C1", C, **more)]


SURVEYS = [
    *four("CB"), *four("NP", [1, 2, 2, 3, 3, 2]), *four("XX", [4, 4, 4, 4, 4, 0]), *four("GR", [1, 1, 1, 1, 1, 1]),
    *frames("2026-04-20", "CB", "R1", R), *frames(AUTUMN, "NP", "T1", T),
    *frames(AUTUMN, "CB", "T1", T), *frames(AUTUMN, "CB", "C1", C), *frames(AUTUMN, "CB", "R1", R),
    *frames(AFTER, "EA", "T1", T), *frames(AFTER, "EA", "C1", C),
    *four("FX", before="2025-09-10", after=LATER, placed="fixed"),
    *frames(LATER, "LN", "T1", T), *frames(LATER, "LN", "C1", C, area="1"),
    *frames(LATER, "GE", "T1", T), *frames(LATER, "GE", "C1", C), *frames(LATER, "GE", "C1", [0, 3], species="Laminaria sp."),
    *frames(AFTER, "TR", "C1", C), *frames(AFTER, "LI", "C1", C),
    *frames(BEFORE, "NC", "T1", C), *frames(LATER, "NC", "T1", T), *four("NB", before="2025-02-10", after=LATER),
]  # fmt: skip


@pytest.fixture(scope="module")
def told(new_programme, rules):
    """The drawn sea, measured."""
    programme = new_programme(sea=False, rules=rules + MORE)
    site, plot = "site_key   name   latitude   longitude   datum   uncertainty_m   radius_m   country", []
    sites = [f"{s}   {s}   39.{n:02}   -9.{n:02}   EPSG:4326   10   200   PT" for n, s in enumerate(SITES)]
    for s in SITES:
        plot += [f"{s}   T1   treated   100   .   random", f"{s}   C1   control   100   untouched   random"]
    plot.append("CB   R1   reference   100   .   .")
    bags = [f"{s}-1   {METHODS.get(s, 'spore bag')}   {s}   T1   {PLANTED.get(s, '2025-04-01')}" for s in SITES]
    bags.append("XX-2   transplant   XX   T1   2025-04-01")
    programme.take({
        "programme/site.csv": table(site, sites),
        "programme/plot.csv": table("site_key   plot_key   plot_kind   area_m2   control_kind   assigned_by", plot),
        "club/deployment.csv": table("unit_key   method   site_key   plot_key   happened", bags),
        "club/treatment.csv": table(
            "site_key   plot_key   happened   action   area_m2", ["GR   T1   2025-04-01   grazers removed   100"]
        ),
        "club/survey.csv": table(HEAD, SURVEYS),
    })  # fmt: skip
    run.refresh(programme.root)
    return programme


@pytest.fixture(scope="module")
def of(told):
    """The one published figure of recruits of an indicator and scope."""
    published = [f for f in look.published(told.root) if f.of("stage") == "recruit" and f.of("species") == KELP]

    def one(indicator, site, when, kind=""):
        [found] = [
            f
            for f in published
            if (f.indicator, f.of("site"), f.of("survey") or f.of("season")) == (indicator, site, when)
            and kind in ("", f.of("plot_kind"))
        ]
        return found

    return one


def refusal(figure):
    """Why there is no such figure."""
    e = figure.estimate
    assert (e.state, e.value, e.low, e.high) == ("not estimable", None, None, None)
    return e.note


# --- against the reference forest


def test_the_share_of_the_reference_forest_reached(of):
    """27 recruits over 51 in equal frames: a share of .529, and 16 per m2 fewer beside it."""
    share, less = (of(f"treated {which} reference", "CB", AUTUMN) for which in ("over", "minus"))
    assert (share.of("against"), share.estimate.unit) == ("CB", "times reference")
    assert share.estimate.value == pytest.approx(27 / 51)
    assert less.estimate.value == pytest.approx((27 - 51) / 1.5)
    assert share.estimate.note == "6 treated and 6 reference frames"
    assert share.estimate.cautions == ()


def test_the_nearest_reference_forest_of_the_season_stands_in(of):
    """A site without a reference plot is held against the nearest that has one, and the figure says how far that is."""
    e = of("treated over reference", "NP", AFTER).estimate
    assert e.value == pytest.approx(13 / 51)
    assert "the reference forest lies at CB, 1.4 km away: planting and site cannot be told apart" in e.cautions
    assert "the reference plots were counted in the round from 2026-04-20" in e.cautions


def test_an_old_survey_of_the_reference_is_refused(of):
    """A reference plot counted in earlier seasons says nothing of this year's forest."""
    why = refusal(of("treated over reference", "FX", LATER))
    assert why.startswith(
        "no reference survey in the same season: no reference plot was counted under frames in the season"
    )
    assert refusal(of("treated minus reference", "FX", LATER)) == why


# --- what cannot be compared


def test_too_early_to_compare(of):
    """Before the programme's day every comparison reads too early; the density keeps its value and the caution."""
    why = "too early: day 11 of the 30 after which recruits show"
    for indicator in ("treated over control", "treated minus control", "treated over reference", "before-after ratio"):
        assert refusal(of(indicator, "EA", AFTER)) == why
    density = of("density", "EA", AFTER, "treated").estimate
    assert density.value == pytest.approx(18)
    assert why in density.cautions


@pytest.mark.parametrize(
    ("site", "why"),
    [
        ("LN", "frames differ in size: treated 0.25 m2, control 1 m2 on average"),
        ("GE", "in the control frames some plants are called only Laminaria sp., which may be Laminaria hyperborea: "
         "only what is named to the same rank can be compared"),
        ("NC", "no control plot was counted in this round under this protocol"),
    ],
)  # fmt: skip
def test_unlike_arms_are_not_compared(of, site, why):
    """Frames of another size, plants named to a wider rank and a missing control refuse ratio, difference and change."""
    for indicator in ("treated over control", "treated minus control", "before-after difference"):
        assert refusal(of(indicator, site, LATER)) == why


def test_the_day_is_that_of_species_and_method_or_of_the_method(told):
    """Of several methods put down the one furthest past its day counts, by the most special rule that speaks of it."""
    days = told.ask(
        "select site_key, days, needed from since_planting where round_on = date '2026-03-12' and site_key in ('EA', 'LI', 'TR', 'XX') order by 1"
    )
    assert days == [("EA", 11, 30), ("LI", 345, 60), ("TR", 345, 70), ("XX", 345, 30)]


# --- before and after


def test_change_beyond_control(of):
    """27 over 3 in treated plots, 4 over 2 in control plots: 4.5 times the change in control; 16 less 1.33 per m2."""
    ratio = of("before-after ratio", "CB", AFTER)
    assert ratio.of("since") == BEFORE
    assert ratio.estimate.value == pytest.approx((27 / 3) / (4 / 2))
    assert ratio.estimate.low < 4.5 < ratio.estimate.high
    difference = of("before-after difference", "CB", AFTER).estimate
    assert difference.value == pytest.approx((27 - 3) / 1.5 - (4 - 2) / 1.5)
    assert "one site: it says nothing of others" in difference.cautions


def test_without_a_baseline_there_is_no_change(of):
    """Without both kinds of plot counted before planting, in the same season of the year, the change is refused."""
    assert refusal(of("before-after ratio", "NB", LATER)) == (
        "no baseline in the same season: the last round before planting was from 2025-02-10, in another season of the year"
    )
    assert refusal(of("before-after ratio", "CB", AUTUMN)).startswith("no baseline in the same season")


def test_fixed_frames_give_no_interval_at_one_site(of):
    """Fixed frames counted before and after are the same frames: the change has a value and no interval."""
    e = of("before-after difference", "FX", LATER).estimate
    assert e.value == pytest.approx((27 - 3) / 1.5 - (4 - 2) / 1.5)
    assert (e.low, e.high) == (None, None)
    assert FIXED in e.note


# --- over sites


def test_the_site_is_the_unit(of):
    """Four sites of 18, 8.67, 13.3 and 4 recruits per m2: their mean with t on three degrees of freedom, each site told."""
    mean = of("density over sites", "all", "2026-03", "treated").estimate
    values = [27 / 1.5, 13 / 1.5, 20 / 1.5, 6 / 1.5]
    m = sum(values) / 4
    se = math.sqrt(sum((v - m) ** 2 for v in values) / 3 / 4) / m
    assert (mean.value, mean.n, mean.n_of) == (pytest.approx(m), 4, "sites")
    assert mean.high == pytest.approx(m * math.exp(3.182446 * se), rel=1e-6)
    assert mean.note == "every site has the same weight: GR 4, NP 8.67, XX 13.3, CB 18"
    assert mean.cautions == ("too early for recruits to show at EA",)
    geometric = of("geometric density over sites", "all", "2026-03", "treated").estimate
    assert geometric.value == pytest.approx(math.prod(values) ** (1 / 4))


def test_only_fair_comparisons_count_over_sites(of):
    """Differences and changes over sites leave out the site whose treated plots alone were cleared, and the early one."""
    minus = of("treated minus control over sites", "all", "2026-03").estimate
    assert minus.value == pytest.approx((27 + 13 + 20) / 1.5 / 3 - 4 / 1.5)
    assert minus.n == 3
    assert minus.cautions == ("left out, since no comparison was fair there: EA, GR",)
    ratio = of("before-after ratio over sites", "all", "2026-03").estimate
    assert ratio.value == pytest.approx((4.5 * (13 / 3 / 2) * (20 / 3 / 2)) ** (1 / 3))
    assert (ratio.n, ratio.unit) == (3, "times the change in control")
    assert ratio.low < ratio.value < ratio.high
    difference = of("before-after difference over sites", "all", "2026-03").estimate
    assert difference.value == pytest.approx((27 + 13 + 20) / 1.5 / 3 - 2 - 2 / 1.5)


def test_one_site_is_no_mean(of):
    """One site with a fair comparison gives a refusal, never a mean of quadrats; fixed frames count as one site."""
    assert (
        refusal(of("before-after ratio over sites", "all", LATER[:7])) == "only 1 site to take a mean over: it needs 3"
    )


# --- a rule of success


def test_a_rule_of_success_marks_what_was_written_afterwards(of):
    """The rule of January 2026 was written after the first survey it judges at CB, and before that at XX."""
    cove, other = (of("success rule", site, AFTER).estimate for site in ("CB", "XX"))
    mark = f"written afterwards: the rule is dated 2026-01-01, the first survey it judges here was from {AUTUMN}"
    assert cove.note.startswith("met: the rule wants at least 1 per m2 from day 100 on; the interval lies wholly")
    assert mark in cove.cautions
    assert not any(c.startswith("written afterwards") for c in other.cautions)
    assert refusal(of("success rule", "GR", AFTER)).startswith("cannot tell: treatments differ in more than planting")
    assert "the last one here, from 2026-03-12, was on day 11" in refusal(of("success rule", "EA", AFTER))


# --- home

COUNTED = {
    ("treated over reference", "NP", AFTER): 12,
    ("before-after ratio", "CB", AFTER): 24,
    ("density over sites", "all", "2026-03"): 24,
    ("treated minus control over sites", "all", "2026-03"): 36,
    ("before-after difference over sites", "all", "2026-03"): 72,
    ("success rule", "CB", AFTER): 12,
}


@pytest.mark.parametrize("which", COUNTED, ids=lambda which: which[0])
def test_a_comparison_leads_home_and_its_rows_give_it_again(told, of, tmp_path, which):
    """The rows counted are those of the figure's frames and no other, and a programme of its rows gives the same figure."""
    figure = of(*which, kind="treated" if which[0] == "density over sites" else "")
    homes = look.lead_home(told.root, figure)
    assert len({h.identity for h in homes if h.role == "counted"}) == COUNTED[which]
    assert look.evidence(told.root, figure, tmp_path / "e")


@pytest.mark.parametrize(
    ("indicator", "site", "when"),
    [
        ("treated over reference", "FX", LATER), ("before-after ratio", "NB", LATER), ("treated minus control", "GE", LATER),
        ("before-after ratio over sites", "all", LATER[:7]),
    ],
)  # fmt: skip
def test_a_refusal_leads_home_too(told, of, tmp_path, indicator, site, when):
    """The rows of a refused comparison give the same refusal again."""
    assert look.evidence(told.root, of(indicator, site, when), tmp_path / "e")


def test_sites_left_out_are_not_counted(told, of):
    """Rows of sites that a mean over sites leaves out stand beside it; those of the sites it uses are counted."""
    figure = of("treated minus control over sites", "all", "2026-09")
    roles = {}
    for h in look.lead_home(told.root, figure):
        if h.kind == "survey":
            roles.setdefault(h.role, set()).add(h.key[:2])
    assert roles["counted"] == {"FX", "NB"}
    assert {"LN", "GE"} <= roles["beside"]
