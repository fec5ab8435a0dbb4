"""Figures on units put down: by what they have in common, working apart from holding, doubts, each from drawn tables."""

import pytest

from pipeline import look, run
from pipeline.errors import BadUsage
from pipeline.groups import retention
from pipeline.indicators.catalogue.retention import ENTRIES
from pipeline.programme import parse_rules

DAYS = "2025-03-31"  # 30 days after the 1st of March


def put_down(*units):
    """A drawn sheet of bags. units: (key, site, fixing, substrate, depth)."""
    rows = [
        f"{k}   spore bag   {site}   T1   2025-03-01   {fixing}   {ground}   {depth}"
        for k, site, fixing, ground, depth in units
    ]
    return "\n".join(["unit_key   method   site_key   plot_key   happened   fixing   substrate   depth_m", *rows])


def looked(*looks):
    """A drawn sheet of checks. looks: (dive, site, day, unit, state)."""
    rows = [f"{dive}   {site}   {day}   {unit}   {state}   10   ." for dive, site, day, unit, state in looks]
    return "\n".join(["visit_key   site_key   happened   unit_key   state   search_time_min   retrieved_whole", *rows])


@pytest.fixture(scope="module")
def drawn(new_programme):
    """Two sites: bolts and ties at the cove, bolts alone at the nose; one bag missed once, one torn, one called whole after."""
    programme = new_programme()
    programme.take({
        "club/deployment.csv": put_down(
            ("B1", "CB", "bolt", "Rock", 4), ("B2", "CB", "bolt", "rock", 4.9), ("B3", "CB", "tie", "sand", 5), ("B4", "CB", "tie", ".", "."),
        ),
        "lab/deployment.csv": put_down(("N1", "NP", "bolt", "rock", 7), ("N2", "NP", "bolt", "rock", 7)),
        "club/check.csv": looked(
            ("D1", "CB", "2025-03-21", "B1", "absent"), ("D1", "CB", "2025-03-21", "B2", "torn"),
            ("D1", "CB", "2025-03-21", "B3", "absent"), ("D1", "CB", "2025-03-21", "B4", "attached"),
            ("D2", "CB", "2025-04-10", "B1", "attached"), ("D2", "CB", "2025-04-10", "B2", "attached"),
            ("D2", "CB", "2025-04-10", "B3", "absent"), ("D2", "CB", "2025-04-10", "B4", "absent"),
        ),
        "lab/check.csv": looked(("E1", "NP", "2025-04-10", "N1", "attached"), ("E1", "NP", "2025-04-10", "N2", "attached")),
    })  # fmt: skip
    run.refresh(programme.root)
    return programme


@pytest.fixture(scope="module")
def told(drawn):
    """Every figure of it."""
    return {(f.indicator, *(v for _, v in f.scope)): f.estimate for f in look.published(drawn.root)}


BAG = "spore bag"


def kept(told, sort, value, site="all"):
    """Retention on day 30 of the units of one value."""
    return told[f"unit retention by {sort}", site, BAG, "30", value]


def test_by_fixing(told):
    """All four bolts hold; of two ties one was gone by day 20 and the other went after it, so that bounds are told."""
    assert kept(told, "fixing", "bolt").value == 1.0
    tie = kept(told, "fixing", "tie")
    assert (tie.state, tie.value_from, tie.value_to) == ("bounded", 0.0, 0.5)
    assert tie.n == 2 and tie.low is None


def test_by_substrate_however_it_is_written(told):
    """Rock and rock are one substrate; the bag of which none is told is left out and counted."""
    assert kept(told, "substrate", "rock").n == 4
    assert kept(told, "substrate", "sand").value == 0.0
    assert "units whose substrate is not told, left out: 1" in kept(told, "substrate", "sand").cautions


def test_by_depth_in_bands_of_five_metres(told):
    """4.9 m lies in the band to 5 m, 5 m in the next."""
    assert kept(told, "depth", "0-5 m").n == 2
    assert kept(told, "depth", "5-10 m").n == 3


def test_by_who_put_them_down(told):
    """Partners at sites of their own cannot be told apart from them, and the figure says so."""
    assert kept(told, "partner", "lab").value == 1.0
    [caution] = [c for c in kept(told, "partner", "lab").cautions if "told apart" in c]
    assert caution == "partner and site cannot be told apart: lab was at NP only, and no other there"


def test_ties_share_their_site_with_bolts(told):
    """A fixing that shares its site with another is not mixed up with it."""
    assert not [c for c in kept(told, "fixing", "tie").cautions if "told apart" in c]


def test_fixings_need_more_than_four_units(told):
    """Two bolts and two ties at one site cannot be told apart, whatever befell them."""
    figure = told["fixings told apart", "all", BAG]
    assert figure.state == "not estimable" and "no outcome could tell them apart" in figure.note
    assert "times a unit called missing was seen again, so that other absences may be misses too: 1" in figure.cautions


def test_torn_is_attached_and_does_not_work(told):
    """B2 was torn on day 20 and called attached later: it holds on day 30, and does not work."""
    assert told["unit retention", "CB", BAG, "30"].value_to == 0.75
    working = told["working retention", "CB", BAG, "30"]
    assert (working.value_from, working.value_to) == (pytest.approx(0.25), pytest.approx(0.5))
    assert "times a unit seen torn or empty was called attached later, and counts as torn: 1" in working.cautions
    assert told["working retention over sites", "all", BAG, "30"].n == 6


def test_a_miss_is_counted_against_looks_at_what_was_there(told):
    """Before their last sightings B1 was missed once and B2 seen once; no other look says how well bags are found."""
    cove = told["missed though there", "CB", BAG]
    assert (cove.value, cove.n) == (0.5, 2)
    assert told["missed though there", "NP", BAG].state == "not estimable"
    assert told["missed though there", "all", BAG].n == 2


def test_last_absences_taken_as_misses(told):
    """B4 went by the word of one look: without it five of six hold on day 30, else four or five."""
    plain = told["unit retention over sites", "all", BAG, "30"]
    assert (plain.value_from, plain.value_to) == (pytest.approx(4 / 6), pytest.approx(5 / 6))
    assert told["unit retention if last absences were misses", "all", BAG, "30"].value == pytest.approx(5 / 6)


def test_half_are_not_gone(told):
    """At the cove half had gone by day 40; over both sites half were not gone."""
    assert told["day half are gone", "CB", BAG].value_to == 40
    assert "not reached" in told["day half are gone", "all", BAG].note


def test_a_smooth_curve_needs_three_sites_for_an_interval(told):
    """Two sites give Weibull's value without an interval, and say how many are needed."""
    smooth = told["unit retention, Weibull", "all", BAG, "30"]
    assert smooth.state == "estimated" and smooth.low is None and "2 of the 3 needed" in smooth.note


def test_every_site_was_found(told):
    """No figure tells of sites that were not found where every site was found."""
    assert not [name for name, *_ in told if name == "unit retention if not found"]


def test_one_value_needs_no_comparison(new_programme):
    """Bags that share their fixing, ground, depth and partner have no figure by any of these, and none of torn bags."""
    programme = new_programme()
    programme.take({
        "club/deployment.csv": put_down(("B1", "CB", "bolt", "rock", 4), ("B2", "CB", "bolt", "rock", 4)),
        "club/check.csv": looked(("D1", "CB", DAYS, "B1", "attached"), ("D1", "CB", DAYS, "B2", "absent")),
    })  # fmt: skip
    names = {name for name, *_ in programme.figures(groups=[retention])}
    assert not [n for n in names if "retention by " in n or n == "fixings told apart" or n.startswith("working")]
    assert "unit retention, Weibull" in names


def test_a_site_that_was_not_found_again(new_programme):
    """Bags at a site that a dive did not find lie between all lost and all kept, at the site and over all."""
    programme = new_programme()
    programme.take({
        "club/deployment.csv": put_down(("B1", "CB", "bolt", "rock", 4), ("N1", "NP", "tie", "rock", 4)),
        "club/check.csv": looked(("D1", "CB", "2025-04-10", "B1", "attached")),
        "club/visit.csv": "visit_key   site_key   happened   outcome   why\nD2   NP   2025-03-20   not found   no mark",
    })  # fmt: skip
    figures = programme.figures(groups=[retention])
    nose = figures["unit retention if not found", "NP", BAG, "30"]
    assert (nose.value_from, nose.value_to) == (0, 1)
    both = figures["unit retention if not found", "all", BAG, "30"]
    assert (both.value_from, both.value_to, both.n) == (0.5, 1, 2)
    tie = figures["unit retention by fixing", "all", BAG, "30", "tie"]
    assert "fixing and site cannot be told apart: tie was at NP only, and no other there" in tie.cautions


def test_retrieved_not_whole_is_torn(new_programme):
    """A bag brought home torn held to the end and stopped working by then."""
    programme = new_programme()
    checks = looked(("D1", "CB", "2025-03-11", "B1", "attached"), ("D2", "CB", DAYS, "B1", "retrieved"))
    programme.take({
        "club/deployment.csv": put_down(("B1", "CB", "bolt", "rock", 4)),
        "club/check.csv": checks.replace("retrieved   10   .", "retrieved   10   no"),
    })  # fmt: skip
    assert programme.ask("select unit_key, l, r from unit_work") == [("B1", 10, 30)]
    assert programme.ask("select unit_key, l, r from unit_life") == [("B1", 30, None)]


def test_bands_of_depth_are_the_programmes(new_programme, rules):
    """Bands stand in the programme's rules; what is shallower or deeper than all of them is a band too."""
    programme = new_programme(rules=rules + "\n[retention]\ndepth_bands_m = [3, 6]\n")
    programme.take({"club/deployment.csv": put_down(("B1", "CB", "bolt", "rock", 2), ("B2", "CB", "bolt", "rock", 3), ("B3", "CB", "bolt", "rock", 6))})  # fmt: skip
    found = programme.ask("select unit_key, value from unit_sort where sort = 'depth' order by all")
    assert found == [("B1", "under 3 m"), ("B2", "3-6 m"), ("B3", "6 m and deeper")]


@pytest.mark.parametrize("bands", ["[5, 5]", "[10, 5]", "[]"])
def test_bands_must_rise(rules, bands):
    """Bands that do not rise are refused with what is wanted."""
    with pytest.raises(BadUsage, match="bounds that rise are wanted"):
        parse_rules(f"{rules}\n[retention]\ndepth_bands_m = {bands}\n".encode())


def test_who_handed_in_first_does_not_matter(new_programme):
    """A bag that two partners tell of alike is told under one name, whoever was first."""
    names = set()
    for first, second in (("club", "lab"), ("lab", "club")):
        programme = new_programme()
        for partner in (first, second):
            programme.take({f"{partner}/deployment.csv": put_down(("B1", "CB", "bolt", "rock", 4))})
        names.update(programme.ask("select value from unit_sort where sort = 'partner'"))
    assert names == {("club",)}


def test_every_entry_is_reached(told):
    """Each entry of the catalogue but that of sites not found has a figure here."""
    names = {name for name, *_ in told}
    assert {e.name for e in ENTRIES} - names == {"unit retention if not found"}


@pytest.mark.parametrize(
    "indicator", ["unit retention by fixing", "unit retention by partner", "working retention over sites", "missed though there",
                  "gear due for retrieval"],
)  # fmt: skip
def test_evidence_gives_the_same_figure(drawn, tmp_path, indicator):
    """A programme of only a figure's rows gives the same figure."""
    figure = next(f for f in look.published(drawn.root) if f.indicator == indicator)
    assert look.evidence(drawn.root, figure, tmp_path / "e")
