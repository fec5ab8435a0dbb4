"""Planted is never wild: the case table, and the block on what would say otherwise."""

from decimal import Decimal

import pytest
from archived import SEA, fill
from archives import rows

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


NEAR = {
    "programme/site.csv": "\n NQ   Nosequay   39.5009   -9.25431   EPSG:4326   10   50   PT   none   3   8",
    "programme/plot.csv": "\n NQ   C1   control   50   untouched   random   60\n NQ   C2   control   50   untouched   random   900"
    "\n NQ   T1   treated   50   .   .   .",
    "club/survey.csv": "".join(
        f"\n V{n}   NQ   {plot}   1   quadrat   random   0.25   frames   Saccharina latissima   juvenile   {count}   .   {day}   mb   .   ."
        for n, plot, count, day in ((7, "C1", 11, "2025-02-02"), (9, "C1", 12, "2025-04-02"), (9, "C2", 13, "2025-04-02"),
                                    (9, "T1", 14, "2025-04-02"))
    ),
}  # fmt: skip


def told_by_count(programme, more, *dropped):
    """Occurrences of an archive of the drawn sea with more rows and without the plantings of some units: count (an identifier for 1) -> row."""
    deployment = SEA["club/deployment.csv"].strip().splitlines()
    for unit in dropped:  # such a row is held
        deployment = [
            line.replace("2025-03", "2025-13") if line.strip().startswith(unit) else line for line in deployment
        ]
    sea = {name: SEA.get(name, "").rstrip() + more.get(name, "") for name in {**SEA, **more}}
    folder = fill(programme, sea=sea | {"club/deployment.csv": "\n".join(deployment)})
    return {
        (o["individualCount"], o["occurrenceID"])[o["individualCount"] == "1"]: o
        for o in rows(folder, "occurrence")
        if o["occurrenceStatus"] == "present"
    }


def test_a_planting_nobody_told_yet_is_uncertain(new_programme):
    """Where a treated plot's planting is not told, its plants and those of controls in reach are uncertain; beyond reach native."""
    told = told_by_count(new_programme(sea=False), NEAR)
    means = {
        n: (told[n]["establishmentMeans"], told[n]["degreeOfEstablishment"]) for n in ("11", "12", "13", "14", "2")
    }
    assert means == {
        "11": ("uncertain", ""), "12": ("uncertain", ""), "13": ("native", "native"), "14": ("uncertain", ""),
        "2": ("native", "native"),  # before a planting that is told
    }  # fmt: skip
    assert "no planting is told yet" in told["14"]["occurrenceRemarks"]


def test_a_held_planting_is_uncertain(new_programme):
    """Held, a planting makes nothing native in its plot nor in a control whose distance is not told, and its day is not told."""
    told = told_by_count(new_programme(sea=False), {}, "CB-1")
    assert [told[n]["establishmentMeans"] for n in ("7", "2")] == ["uncertain", "uncertain"]
    assert "since" not in "".join(o["occurrenceRemarks"] for o in told.values())


def test_a_planting_that_is_not_published_counts_and_its_day_is_not_told(new_programme):
    """Told by a partner that is left out: a baseline before it is native, a neighbour's planting reaches over, the day is not told."""
    later = (
        NEAR["club/survey.csv"]
        .rpartition("\n")[2]
        .replace("V9", "V8")
        .replace("   14 ", "   15 ")
        .replace("-04-", "-06-")
    )
    told = told_by_count(new_programme(sea=False), NEAR | {
        "club/survey.csv": NEAR["club/survey.csv"] + "\n" + later,
        "lab/deployment.csv": SEA["club/deployment.csv"].strip().splitlines()[0]
        + "\n NQ-1   spore bag   NQ   T1   2025-05-01   B1   .   .   .   .   .",
    })  # fmt: skip
    means = [told[n]["establishmentMeans"] for n in ("11", "12", "13", "14", "15")]
    assert means == ["native", "uncertain", "native", "native", "nativeReintroduced"]
    assert "in a plot that was planted" in told["15"]["occurrenceRemarks"]
    assert "may be in reach" in told["12"]["occurrenceRemarks"] and "2025-05-01" not in str(told)
