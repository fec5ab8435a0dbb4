"""Planted is never wild: the case table, and the block on what would say otherwise."""

from decimal import Decimal

import pytest
from archived import SEA, fill

from pipeline.archive.planted import MANAGED, origin_told, rule_for
from pipeline.errors import BadUsage
from pipeline.programme import parse_rules
from pipeline.rules.publishing import Origin

KELP = "Saccharina latissima"
HEAD = '[programme]\nkey = "k"\nname = "K"\n'


@pytest.mark.parametrize(
    ("planted", "method", "told"),
    [
        ("lost here", "spore bag", ("nativeReintroduced", "released", MANAGED)),
        ("living here", "spore bag", ("native", "released", MANAGED)),
        ("lost here", "seeded line", ("nativeReintroduced", "cultivated", MANAGED)),
        ("living here", "seeded line", ("native", "cultivated", MANAGED)),
        ("outside its range", "spore bag", ("introducedAssistedColonisation", "released", MANAGED)),
        ("parentage unknown", "spore bag", ("uncertain", "", "")),
    ],
)
def test_the_case_table(planted, method, told):
    """Each case of planting has the words of the TDWG vocabularies (establishmentMeans, degreeOfEstablishment, pathway, 2026-05-26)."""
    rule = Origin(KELP, natural="native", planted=planted, tended=("seeded line",))
    assert origin_told(rule, "planted", method) == told
    assert origin_told(rule, "natural", "") == ("native", "native", "")
    assert origin_told(rule, "uncertain", "") == ("uncertain", "", "")


def test_no_rule_claims_nothing():
    """Of a species without a rule a planting is uncertain and nothing else is said: neither native nor introduced."""
    assert origin_told(None, "planted", "spore bag") == ("uncertain", "", "")
    assert origin_told(None, "natural", "") == ("", "", "")
    assert origin_told(Origin(KELP, natural="introduced"), "natural", "") == ("introduced", "", "")


def test_a_sites_own_rule_goes_first():
    """A rule of a species at one site holds there, the general one everywhere else."""
    here, everywhere = Origin(KELP, "CB", planted="living here"), Origin(KELP, planted="lost here")
    assert rule_for((everywhere, here), KELP, "CB") is here
    assert rule_for((everywhere, here), KELP, "NP") is everywhere
    assert rule_for((everywhere, here), "Alaria esculenta", "NP") is None


def test_later_degrees_can_be_told_but_never_that_it_is_native():
    """A planting may be told as reproducing later on; “native” is no degree that a rule can give it."""
    rules = '[[publishing.origin]]\nspecies = "{}"\nplanted = "lost here"\ndegree = "{}"\n'
    [origin] = parse_rules((HEAD + rules.format(KELP, "reproducing")).encode()).publishing.origins
    assert origin_told(origin, "planted", "")[1] == "reproducing"
    with pytest.raises(BadUsage, match="`degree` is 'native'"):
        parse_rules((HEAD + rules.format(KELP, "native")).encode())
    twice = rules.format(KELP, "released") * 2
    with pytest.raises(BadUsage, match="stands twice"):
        parse_rules((HEAD + twice).encode())
    far = parse_rules((HEAD + rules.format(KELP, "released") + "dispersal_m = 12.5\n").encode()).publishing.origins[0]
    assert far.dispersal_m == Decimal("12.5")


def test_a_planted_reference_plot_blocks_the_archive(new_programme):
    """A bag in a reference plot would make plants there native: nothing is written, and the rows that say so are listed."""
    programme = new_programme(sea=False)
    header = SEA["club/deployment.csv"].strip().splitlines()[0]
    bag = header + "\n CB-2   spore bag   CB   R1   2025-03-05   B1   .   .   .   .   ."
    programme.put("club", "deployment-late.csv", bag)
    with pytest.raises(BadUsage, match="would be published as wild") as stopped:
        fill(programme)
    said = str(stopped.value)
    assert "2 rows" in said and "[[publishing.origin]]" in said
    assert "club/survey.csv, row 9: Saccharina latissima" in said and "Ecklonia" not in said
    assert not (programme.root / "out" / "archive").exists()
