"""What a partner reads of values that are told differently, and of what was decided, is in its own language."""

import pytest
from sea import RULES

from pipeline import look, run, settle

RULE = """
[[settling]]
name = "festet"
kind = "deployment"
since = 2025-01-01
whose = "partners"
partners = ["clube", "klubb"]
columns = ["fixing"]
why = "De la dem ut."
"""
HEAD = "unit_key   method   site_key   plot_key   happened   fixing   mass_kg   retrieve_by   depth_m\n"
OURS = (
    HEAD
    + "CB-2   spore bag   CB   T1   2025-03-01   bolt   1.25   2026-04-01   8.5\nCB-3   spore bag   CB   T1   2025-03-01   bolt   1   2026-04-01   ."
)
THEIRS = """Merke;Slags;Sted;Felt;Dato;Feste;Kilo;Hentes
CB-2;pose;CB;T1;2025-03-01;limt;1,5;2026-05-17
CB-3;pose;CB;T1;2025-03-01;limt;1;2026-04-01
"""
MAPPING = """
language = "nb"
decimal = ","
[[sheet]]
files = ["poser*"]
kind = "deployment"
[sheet.columns]
unit_key = "Merke"
method = "Slags"
site_key = "Sted"
plot_key = "Felt"
happened = "Dato"
fixing = "Feste"
mass_kg = "Kilo"
retrieve_by = "Hentes"
[sheet.codes]
method = { pose = "spore bag" }
fixing = { limt = "glue", tau = "tie" }
"""


def page(programme, partner):
    """A partner's page of what is open, on one line."""
    return " ".join((programme.root / "out/letters" / partner / "standing.txt").read_text(encoding="utf-8").split())


@pytest.fixture(scope="module")
def disputed(new_programme):
    """A Norwegian club and another that tell differently of two bags, of one only how it was fixed, which a rule settles."""
    programme = new_programme(rules=RULES + RULE)
    programme.partner("klubb", MAPPING)
    programme.take({"clube/deployment.csv": OURS})
    programme.take({"klubb/poser.csv": THEIRS.encode()})
    run.refresh(programme.root)
    return programme


def test_values_told_differently_are_in_the_partners_language(disputed):
    """Fields by their names, our words as the partner writes them, numbers and days as its language does, and what is blank as blank."""
    text = page(disputed, "klubb")
    assert "feste «limt», masse (kg) «1,5», hentes hjem innen «17. mai 2026», dybde (m) ikke fylt ut" in text
    assert "feste «bolt», dybde (m) «8,5», masse (kg) «1,25», hentes hjem innen «1. apr. 2026»" in text
    assert "glue" not in text and "2026-0" not in text
    assert "mass (kg) “1.5”, bring home by “17 May 2026”" in page(disputed, "clube")


def test_a_rule_of_the_programme_is_told_in_the_partners_language(disputed):
    """The rule's own sentence and which word counts are in the partner's language; why it is so stays as the lead wrote it."""
    text = page(disputed, "klubb")
    assert "AVGJORT, 1 ting som dere har fortalt om." in text
    assert (
        "Etter programmets regel «festet»: Der partnere forteller ulikt om det samme (utsetting) og bare er uenige om feste, "
        "gjelder det som er fortalt av clube, ellers av klubb (siden 1. jan. 2025). De la dem ut." in text
    )
    assert "utsetting CB-3: det dere fortalte i «poser.csv» rad 3 (feste «limt»), gjelder ikke." in text


def test_a_ruling_is_told_in_the_partners_language(disputed, copy_of):
    """What was ruled, by whom, on which day and what is to be done is in the partner's language."""
    copy = copy_of(disputed)
    said = next(q.content for q in look.waiting(copy.root) if q.partner == "clube")
    settle.settle(copy.root, "CB-2", said, "mb", "the slate shows it")
    run.refresh(copy.root)
    text = page(copy, "klubb")
    assert " av mb: the slate shows it. - utsetting CB-2: det dere fortalte i «poser.csv» rad 2" in text
    assert "gjelder ikke. Det clube fortalte, gjelder. Snakk med dem" in text
    assert "counts" not in text and "told" not in text
