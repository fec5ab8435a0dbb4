"""What may be compared, and how a rule of success is judged: cells and figures in, reasons and verdicts out."""

import datetime as dt
from decimal import Decimal

import pytest

from pipeline.errors import BadUsage
from pipeline.indicators.cells import Around, Cell, Plants, Rows, laid, too_early
from pipeline.indicators.compare import compare
from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.fair import unfair
from pipeline.indicators.figure import Figure, scope
from pipeline.indicators.left_out import NOT_FAIR, named, sites_left_out
from pipeline.indicators.recruitment import POOLED
from pipeline.indicators.remember import Memory
from pipeline.indicators.success import verdicts
from pipeline.programme import parse_rules
from pipeline.rules.recruitment import RecruitmentRules

KELP = "Laminaria hyperborea"
DAY = dt.date(2026, 3, 12)
TREATED = Cell("CB", "treated", KELP, "recruit", DAY, "frames", "plot")
CONTROL = TREATED._replace(plot_kind="control")
ARMS = {"treated": TREATED, "control": CONTROL}


def around(**told):
    """Nothing stands around, but what is told."""
    empty = {name: {} for name in Around.__dataclass_fields__ if name != "zero_k"}
    alike = {laid(cell): (("quadrat",), False) for cell in ARMS.values()}
    return Around(**{**empty, "frames_of": alike, "zero_k": 0.5, **told})


def reason(treated=("0.25",), control=("0.25",), **told):
    """Why frames of these sizes cannot be compared."""
    sizes = {TREATED: treated, CONTROL: control}
    return unfair(ARMS, {c: Rows((1, Decimal(a), 2) for a in areas) for c, areas in sizes.items()}, around(**told))


@pytest.mark.parametrize(
    ("sizes", "why"),
    [
        ((["0.25"], ["1"]), "frames differ in size: treated 0.25 m2, control 1 m2 on average"),
        ((["0.25", "0.25", "1"], ["0.25"]), "frames differ in size: treated 0.5 m2, control 0.25 m2 on average"),
        ((["0.25"], ["0.270"]), ""),
        ((["0.25"], ["0.276"]), "frames differ in size: treated 0.25 m2, control 0.276 m2 on average"),
    ],
)
def test_frames_of_unlike_size_are_not_compared(sizes, why):
    """Frames whose mean sizes are more than a tenth apart see clumps differently, so they are not compared."""
    assert reason(*sizes) == why


def test_frames_of_another_kind_are_not_compared():
    """Quadrats are not held against belts."""
    kinds = {laid(TREATED): (("quadrat",), False), laid(CONTROL): (("belt", "quadrat"), False)}
    assert reason(frames_of=kinds) == "frames differ: treated quadrat, control belt and quadrat"


@pytest.mark.parametrize(
    ("treated", "control", "why"),
    [
        (["length"], ["eye"], "stages were judged differently: treated by length, control by eye"),
        (["length"], ["length", "eye"], "stages were judged differently: treated by length, control by eye and length"),
        (["length"], ["length"], ""),
        (["length"], [""], ""),
        (["length"], [], ""),
    ],
)
def test_stages_judged_otherwise_are_not_compared(treated, control, why):
    """A recruit by length is no recruit by eye; where one arm does not tell, nothing is known to differ."""
    plants = {
        laid(cell): [Plants(KELP, "recruit", basis) for basis in told]
        for cell, told in ((TREATED, treated), (CONTROL, control))
    }
    assert reason(plants=plants) == why


@pytest.mark.parametrize(
    ("name", "stage", "refused"),
    [
        ("Laminaria", "recruit", True),
        ("Laminaria sp.", "any", True),
        ("Laminaria sp.", "canopy", False),
        ("Laminaria cf. hyperborea", "recruit", True),
        ("Laminariales", "recruit", True),
        ("Saccharina sp.", "recruit", False),
        ("Laminaria digitata", "recruit", False),
    ],
)
def test_plants_named_to_a_wider_rank_forbid_a_comparison(name, stage, refused):
    """Where an arm has plants that may be of the species and stage but are named to a wider rank, it is not compared."""
    told = reason(plants={laid(CONTROL): [Plants(name, stage, "")]})
    assert told.startswith(f"in the control frames some plants are called only {name}") == refused
    assert bool(told) == refused


def test_too_early_ends_on_the_day():
    """The day from which recruits show is no longer too early; a round before planting is not called so."""
    since = {("CB", DAY, KELP): (29, 30)}
    assert too_early(TREATED, around(since=since)) == "too early: day 29 of the 30 after which recruits show"
    assert too_early(TREATED, around(since={("CB", DAY, KELP): (30, 30)})) == ""
    assert too_early(TREATED, around()) == ""


# --- seasons


@pytest.mark.parametrize(
    ("starts", "month", "began"),
    [
        ((3, 6, 9, 12), 2, (12, 1)), ((3, 6, 9, 12), 3, (3, 0)), ((3, 6, 9, 12), 12, (12, 0)),
        ((1, 4, 7, 10), 1, (1, 0)), ((5,), 4, (5, 1)), ((5,), 6, (5, 0)),
    ],
)  # fmt: skip
def test_the_month_in_which_a_season_began(starts, month, began):
    """Every month belongs to the season that began last, perhaps in the year before."""
    assert RecruitmentRules(starts).began(month) == began


# --- rules of success


def rule(limit, indicator="density", dated="2025-01-01", days="from_day = 100", key="ours"):
    """A [[success]] rule on recruits, as TOML."""
    return f'[[success]]\nkey = "{key}"\ndated = {dated}\nindicator = "{indicator}"\nspecies = "{KELP}"\nstage = "recruit"\n{limit}\n{days}\n'


def density(day="2026-03-12", low=10.0, high=30.0, *cautions, kind="treated"):
    """A density of recruits at one site."""
    e = Estimate("estimated", "per m2", 6, "frames", "given", value=18.0, low=low, high=high).with_cautions(*cautions)
    what = scope(site="CB", plot_kind=kind, species=KELP, stage="recruit", survey=day, protocol="frames", placed="plot")
    return Figure("density", what, e)


def judged(rules, toml, *figures):
    """Verdicts on figures of a site planted on 1 April 2025."""
    success = parse_rules((rules + toml).encode()).recruitment.success
    return verdicts(figures, success, {"CB": dt.date(2025, 4, 1)})


@pytest.mark.parametrize(
    ("limit", "verdict"),
    [
        ("at_least = 5", "met"), ("at_least = 10", "met"), ("at_least = 18", "cannot tell"), ("at_least = 30", "cannot tell"),
        ("at_least = 31", "not met"), ("at_most = 31", "met"), ("at_most = 30", "met"), ("at_most = 18", "cannot tell"),
        ("at_most = 10", "cannot tell"), ("at_most = 9.5", "not met"),
    ],
)  # fmt: skip
def test_a_rule_is_judged_by_the_whole_interval(rules, limit, verdict):
    """An interval of 10 to 30 is met or not met only by a limit that it does not reach across."""
    [made] = judged(rules, rule(limit), density())
    assert made.estimate.note.partition(":")[0] == verdict
    assert (made.indicator, made.of("rule"), made.of("plot_kind")) == ("success rule", "ours", "treated")
    assert (made.estimate.value, made.estimate.low, made.estimate.high) == (18.0, 10.0, 30.0)


@pytest.mark.parametrize(
    ("figure", "why"),
    [
        (Figure("density", density().scope, not_estimable("no frame", unit="per m2", n=0, n_of="frames")), "no frame"),
        (density("2026-03-12", None, None), "there is no interval"),
        (
            density("2026-03-12", 10.0, 30.0, "3 frames: too few to decide anything by"),
            "3 frames: too few to decide anything by",
        ),
        (density("2026-03-12", 10.0, 30.0, "too early: day 20 of the 30 ..."), "too early: day 20 of the 30 ..."),
    ],
)
def test_a_rule_that_cannot_be_judged_says_why(rules, figure, why):
    """A refusal, no interval, too few frames or too early a day give: cannot tell, and the reason."""
    [made] = judged(rules, rule("at_least = 5"), figure)
    assert made.estimate.note == f"cannot tell: {why}"


def test_a_rule_judges_treated_plots_within_its_days(rules):
    """Control plots and surveys outside the rule's days are not judged."""
    figures = [density(day) for day in ("2025-03-01", "2025-06-01", "2025-10-01", "2026-03-12")]
    [made] = judged(rules, rule("at_least = 5", days="from_day = 100\nto_day = 200"), *figures, density(kind="control"))
    assert made.of("survey") == "2025-10-01"


def test_a_rule_without_a_survey_in_its_days_says_so(rules):
    """Where no survey falls into the rule's days, the figure says which was the last and on what day."""
    figures = [density(day) for day in ("2025-06-01", "2026-03-12")]
    [made] = judged(rules, rule("at_least = 5", days="from_day = 400"), *figures)
    assert made.estimate.state == "not estimable"
    assert made.estimate.note == (
        "cannot tell: the rule judges surveys from day 400 on; the last one here, from 2026-03-12, was on day 345"
    )


@pytest.mark.parametrize(("dated", "marked"), [("2025-10-01", False), ("2025-10-02", True), ("2027-01-01", True)])
def test_a_rule_written_afterwards_is_marked(rules, dated, marked):
    """A rule dated after the first survey it judges is marked on every verdict; one dated that day is not."""
    figures = [density(day) for day in ("2025-10-01", "2026-03-12")]
    made = judged(rules, rule("at_least = 5", dated=dated), *figures)
    mark = f"written afterwards: the rule is dated {dated}, the first survey it judges here was from 2025-10-01"
    assert [mark in f.estimate.cautions for f in made] == [marked, marked]


@pytest.mark.parametrize(
    ("more", "why"),
    [
        (rule("at_least = 1\nat_most = 2"), "one of `at_least` and `at_most` is wanted"),
        (rule("at_least = 1") * 2, r"\[\[success\]\] key ours stands twice"),
        (rule("at_least = 1").replace(KELP, "Alaria esculenta"), "which no \\[\\[protocol\\]\\] searches for"),
        (rule("at_least = 1", days="from_day = 9\nto_day = 3"), "a day not before `from_day` is wanted"),
        (rule("at_least = 1", "cover"), "`indicator` is 'cover'; one of"),
        ("[recruitment]\nseason_starts = [6, 3]", r"`season_starts` is \[6, 3\]; months in order"),
        ("[recruitment]\nseason_starts = [0, 3]", r"`season_starts` is \[0, 3\]; months in order"),
        ("[[recruitment.first_meaningful_day]]\nday = 9", "a `species`, a `method` or both are wanted"),
        ('[[recruitment.first_meaningful_day]]\nmethod = "x"\nday = 9\n' * 2, "species and method .* stands twice"),
    ],
)
def test_a_slip_of_the_pen_in_the_rules_is_told(rules, more, why):
    """What could not be judged or would be ambiguous is refused when the rules are read, with what is wanted."""
    with pytest.raises(BadUsage, match=why):
        parse_rules((rules + more).encode())


@pytest.mark.parametrize("k", ["0", "-0.5"])
def test_a_spread_of_nothing_is_refused(k):
    """A `zero_k` of 0 or less would divide by zero; it is refused with the cure."""
    with pytest.raises(BadUsage, match=r"`zero_k` is .*; a number above 0 is wanted"):
        parse_rules(f'[programme]\nkey = "k"\nname = "n"\n[rules]\nzero_k = {k}\n'.encode())


def test_a_borrowed_spread_is_named():
    """A difference whose few frames take their spread from other sites says so; with frames enough it does not."""
    sites = [TREATED._replace(site=s, plot_kind=kind) for s in "ABC" for kind in ("treated", "control")]
    laid_out = {laid(cell): (("quadrat",), False) for cell in sites}
    for n, expected in ((3, [f"{POOLED} 3 comparable sites"]), (8, [])):
        frames = {cell: Rows((count, Decimal("0.25"), 1) for count in range(n)) for cell in sites}
        told = compare(frames, around(frames_of=laid_out), Memory())
        minus = [f.estimate for f in told if f.indicator == "treated minus control"]
        assert len(minus) == 3
        assert [[c for c in e.cautions if c.startswith(POOLED)] for e in minus] == [expected] * 3


def test_sites_left_out_are_read_again():
    """What a caution names is read again from it; of many sites it tells only how many, and none is read."""
    figure = Figure("any", (), not_estimable("", unit="", n=0, n_of="sites"))
    for sites, read in ((["CB", "NP"], ["CB", "NP"]), (["CB"], ["CB"]), ([f"S{n}" for n in range(20)], [])):
        told = figure.estimate.with_cautions("other", f"{NOT_FAIR} {named(sites)}")
        assert sites_left_out(Figure("any", (), told)) == read
