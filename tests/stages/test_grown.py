"""What became of plants: survival, fertile ones, cover, lengths and grazers, from one drawn sea."""

from decimal import Decimal

import pytest

from pipeline import look, run
from pipeline.errors import BadUsage
from pipeline.indicators.cohorts import APPARENT
from pipeline.programme import parse_rules

KELP, URCHIN = "Laminaria hyperborea", "Echinus esculentus"
HEAD = (
    "visit_key   happened   site_key   plot_key   frame_key   frame_type   placement   protocol   species   stage   plant_no   "
    "count   area_m2   points   cover_pct   length_cm   fertile_count"
)
FIRST, NEXT, SOON, YEAR_ON = "2025-07-01", "2025-07-02", "2025-09-02", "2026-07-05"
# FX: fixed frames. RN: laid anew. FN: fixed, under other names. DF: larger at the second survey. TS: counted again too soon.
# RJ: two stages of four. CV: cover by eye. PT: points. LE: lengths. BI: one length for many. GZ: grazers. FE: fertile plants.
SITES = ("FX", "RN", "FN", "DF", "TS", "RJ", "CV", "PT", "LE", "BI", "GZ", "FE")
THERE, LEFT = [4, 2, 0, 3, 1, 2], [2, 2, 1, 1, 0, 2]
MORE = f"""
[recruitment]
recruit_days = 120

[[grazer_limit]]
key = "urchins"
dated = 2026-01-01
species = "{URCHIN}"
stage = "any"
most_per_m2 = 2
source = "the programme's own"

[[protocol]]
key = "stand"
dated = 2025-01-01
frame = "quadrat"
placement = "random"
[[protocol.search]]
species = "{KELP}"
stages = ["recruit", "juvenile", "sub-canopy", "canopy"]
[[protocol.search]]
species = "{URCHIN}"
stages = ["any"]
"""


def row(day, site, frame, *, plot="T1", stage="recruit", count=".", species=KELP, **more):
    """One drawn row; what is not told is blank."""
    told = {
        "kind": "quadrat", "placement": "random", "protocol": "stand", "no": ".", "area": "0.25", "points": ".", "cover": ".", "cm": ".",
        "fertile": ".", **more,
    }  # fmt: skip
    return "   ".join(
        str(cell)
        for cell in (
            f"{site}{plot}{day}", day, site, plot, frame, told["kind"], told["placement"], told["protocol"], species, stage, told["no"],
            count, told["area"], told["points"], told["cover"], told["cm"], told["fertile"],
        )
    )  # fmt: skip


def cohort(site, names="abcdef", second=YEAR_ON, area="0.25", **more):
    """Recruits at the first survey, juveniles and new recruits at the second."""
    rows = [row(FIRST, site, n, count=count, **more) for n, count in zip("abcdef", THERE, strict=True)]
    for n, count in zip(names, LEFT, strict=True):
        rows.append(row(second, site, n, count=count, stage="juvenile", area=area, **more))
        rows.append(row(second, site, n, count=7, area=area, **more))
    return rows


SURVEYS = [
    *cohort("FX", placement="fixed"), *cohort("RN"), *cohort("FN", names="uvwxyz", placement="fixed"), *cohort("DF", area="1"),
    *cohort("TS", second=SOON), *cohort("RJ", protocol="frames"),
    # 10, 20 and 30 %; one frame without the kelp, of which the urchins' cover was told; one in which nobody told it
    *(row(FIRST, "CV", n, stage="any", count=1, cover=10 * (n + 1)) for n in range(3)),
    row(FIRST, "CV", 3, stage="any", species=URCHIN, count=1, cover=5), row(FIRST, "CV", 4, stage="any", count=2),
    row(FIRST, "CV", 4, stage="any", species=URCHIN, count=0, cover=0),
    row(FIRST, "CV", 5, stage="any", count=1, cover=90, no=1), row(FIRST, "CV", 5, stage="any", count=1, cover="lots", no=2),
    *(row(FIRST, "PT", n, stage="any", kind="points", points=20, count=hits, area=".") for n, hits in enumerate([5, 10, 9])),
    # a fixed frame counted twice in a round
    row(FIRST, "PT", 3, stage="any", kind="points", points=20, count=15, area=".", placement="fixed"),
    row(NEXT, "PT", 3, stage="any", kind="points", points=20, count=0, area=".", placement="fixed"),
    *(row(FIRST, "LE", n // 2, stage=".", no=n % 2 + 1, count=1, cm=cm) for n, cm in enumerate([4, 6, 9, 11, 30, 12, 8, 16])),
    row(FIRST, "LE", 9, stage="recruit", count=1), row(FIRST, "BI", 1, stage="canopy", count=8, cm=200),
    *(row(FIRST, "GZ", n, species=URCHIN, stage="any", count=3) for n in range(8)),
    *(row(FIRST, "GZ", n, species=URCHIN, stage="any", count=0, plot="C1") for n in range(20)),
    *(row(FIRST, "GZ", n, species=URCHIN, stage="any", count=n % 2, plot="R1") for n in range(6)),
    *(row(YEAR_ON, "GZ", n, species=URCHIN, stage="any", count=9) for n in range(2)),
    *(row(FIRST, "FE", n, stage="canopy", count=2, fertile=n % 2) for n in range(5)),
    row(FIRST, "FE", 5, stage="canopy", count=3), row(FIRST, "FE", 6, stage="recruit", count=2),
]  # fmt: skip


def drawn(head, rows):
    """A drawn table."""
    return "\n".join([head, *rows])


@pytest.fixture(scope="module")
def told(new_programme, rules):
    """The drawn sea, measured."""
    programme = new_programme(sea=False, rules=rules + MORE)
    sites = [f"{s}   {s}   39.{n:02}   -9.{n:02}   EPSG:4326   10   200   PT" for n, s in enumerate(SITES)]
    plots = [f"{s}   T1   treated   50   .   ." for s in SITES]
    plots += ["GZ   C1   control   50   untouched   random", "GZ   R1   reference   50   .   ."]
    units = [f"{s}-1   spore bag   {s}   T1   2025-04-01" for s in SITES] + ["RN-2   spore bag   RN   T1   2025-11-01"]
    programme.take({
        "programme/site.csv": drawn("site_key   name   latitude   longitude   datum   uncertainty_m   radius_m   country", sites),
        "programme/plot.csv": drawn("site_key   plot_key   plot_kind   area_m2   control_kind   assigned_by", plots),
        "club/deployment.csv": drawn("unit_key   method   site_key   plot_key   happened", units),
        "club/survey.csv": drawn(HEAD, SURVEYS),
    })  # fmt: skip
    assert [told[:3] for told in programme.held()] == [("survey.csv", "survey", "cover_pct")]
    run.refresh(programme.root)
    return programme


@pytest.fixture(scope="module")
def of(told):
    """The one published figure of an indicator and site."""
    published = look.published(told.root)

    def one(indicator, site, species=KELP, **scope):
        wanted = {"site": site, "species": species, **scope}
        [found] = [f for f in published if f.indicator == indicator and all(f.of(k) == v for k, v in wanted.items())]
        return found

    return one


def test_survival_in_fixed_frames(of):
    """12 plants in five of six fixed frames, eight plants past the recruit stage a year on, newcomers left out: two in three."""
    figure = of("apparent survival", "FX", survey=YEAR_ON)
    e = figure.estimate
    assert (figure.of("cohort"), e.value, e.n) == (FIRST, pytest.approx(8 / 12), 6)
    assert 0 < e.low < e.value < e.high
    assert e.note == "12 plants in 5 of 6 fixed frames, 8 at the second survey"
    assert APPARENT in e.cautions
    assert of("second-year survival", "FX").estimate == e


def test_survival_in_frames_laid_anew(of):
    """The same numbers in frames laid anew are two samples: a wider interval, and a word on what was put down in between."""
    anew, fixed = of("apparent survival", "RN").estimate, of("apparent survival", "FX").estimate
    assert anew.value == pytest.approx(8 / 12)
    assert anew.low < fixed.low < fixed.high < anew.high
    assert "put down between the two surveys, so that some survivors may be theirs: 1 unit" in anew.cautions


@pytest.mark.parametrize(
    ("site", "why"),
    [
        ("FN", "frames are fixed, but fewer than two have the same name at both surveys"),
        ("DF", "frames differ in size: first 0.25 m2, second 1 m2 on average"),
        ("TS", "too soon: 63 days after the first survey plants may still be recruits"),
        ("RJ", f"not every stage of {KELP} is searched for under frames"),
    ],
)
def test_survival_is_refused(of, site, why):
    """Unlike frames, stages nobody searched for and surveys too close together are refused, each with its reason."""
    e = of("apparent survival", site).estimate
    assert (e.state, e.value) == ("not estimable", None)
    assert e.note.startswith(why)


def test_fertile_plants(of):
    """Two fertile plants in five frames told and one without canopy plants, 1.5 m2; the frame of which nobody told is left out."""
    e = of("fertile plants", "FE", stage="canopy").estimate
    assert (e.value, e.n) == (pytest.approx(2 / 1.5), 6)
    assert any(c.endswith("left out: 1 frame") for c in e.cautions)


def test_cover_by_eye(of):
    """Frames of 10, 20, 30 % and one in which only something else was told of: 15 %; untold cover and a frame with a held row are left out."""
    e = of("cover", "CV").estimate
    assert (e.value, e.n) == (pytest.approx(0.15), 4)
    assert 0 < e.low < 0.15 < e.high < 1
    assert "whose cover of it nobody told, left out: 2 frames" in e.cautions


def test_cover_by_points(of):
    """24 of 80 points hit in four frames of points, which need no area and count once a round: 30 %."""
    e = of("cover", "PT").estimate
    assert (e.value, e.n, e.note) == (pytest.approx(0.3), 4, "24 of 80 points")


def test_lengths(of):
    """Eight of nine plants measured in four frames: mean 12 cm, median 10 cm; the unmeasured one is told of."""
    mean, median = of("mean length", "LE").estimate, of("median length", "LE").estimate
    assert (mean.value, median.value, mean.n) == (pytest.approx(12), pytest.approx(10), 8)
    assert mean.low < 12 < mean.high
    assert any(c.startswith("of 9 plants 8 were measured") for c in mean.cautions)


def test_one_length_beside_many_plants_is_none(of, told):
    """A length beside eight plants is that of one nobody knows: no figure is made of it."""
    assert [f.id for f in look.published(told.root) if f.indicator == "mean length" and f.of("site") == "BI"] == []
    assert of("density", "BI", stage="canopy").estimate.value == 32


@pytest.mark.parametrize(
    ("plot", "survey", "said"),
    [("treated", FIRST, "above"), ("control", FIRST, "below"), ("reference", FIRST, "cannot tell: the interval"), ("treated", YEAR_ON, "cannot tell: too few")],
)  # fmt: skip
def test_grazers(of, plot, survey, said):
    """Above or below is said only where the whole interval is, with frames enough; a limit written later is marked so."""
    figure = of("grazers", "GZ", URCHIN, plot_kind=plot, survey=survey)
    density = of("density", "GZ", URCHIN, plot_kind=plot, survey=survey, stage="any").estimate
    assert figure.of("rule") == "urchins"
    assert (figure.estimate.value, figure.estimate.low, figure.estimate.high) == (
        density.value,
        density.low,
        density.high,
    )
    assert figure.estimate.note.startswith(said)
    afterwards = any(
        c.startswith("written afterwards: the limit is dated 2026-01-01") for c in figure.estimate.cautions
    )
    assert afterwards == (survey == FIRST)


FRAMES = {
    "cover": ("PT", {"0", "1", "2", "3"}),
    "apparent survival": ("FX", set("abcdef")),
    "mean length": ("LE", set("01239")),
}


@pytest.mark.parametrize("indicator", FRAMES)
def test_counted_rows(told, of, indicator):
    """Counted are the rows of the figure's frames at every survey that it speaks of."""
    site, frames = FRAMES[indicator]
    counted = [h.key.split(" | ") for h in look.lead_home(told.root, of(indicator, site)) if h.role == "counted"]
    assert {frame for _, _, frame, *_ in counted} == frames
    assert {dive[-10:] for dive, *_ in counted} == {FIRST, *{"FX": [YEAR_ON], "PT": [NEXT]}.get(site, [])}


@pytest.mark.parametrize("indicator", ["cover", "apparent survival"])
def test_evidence(told, of, tmp_path, indicator):
    """A programme of only a figure's rows gives the same figure."""
    assert look.evidence(told.root, of(indicator, FRAMES[indicator][0]), tmp_path / "e")


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (("most_per_m2 = 2", "most_per_m2 = 0"), "a number above 0 is wanted"),
        ((f'species = "{URCHIN}"\nstage = "any"', f'species = "{URCHIN}"\nstage = "canopy"'), r"\[\[grazer_limit\]\] urchins speaks of"),
    ],
)  # fmt: skip
def test_limits_that_say_nothing_are_refused(rules, change, why):
    """A limit of nothing, and one on what no protocol searches for, is refused with its name."""
    with pytest.raises(BadUsage, match=why):
        parse_rules((rules + MORE.replace(*change)).encode())


def test_rules_are_read(rules):
    """The limit and the days for which a recruit is one are read; without them there is none, and 120 days."""
    read, bare = parse_rules((rules + MORE.replace("= 120", "= 90")).encode()), parse_rules(rules.encode())
    assert (read.recruitment.recruit_days, read.recruitment.grazers[0].most_per_m2) == (90, Decimal(2))
    assert (bare.recruitment.recruit_days, bare.recruitment.grazers) == (120, ())
