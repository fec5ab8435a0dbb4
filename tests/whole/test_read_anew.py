"""A file read again under a mended mapping: its letter says which values changed, under the partner's own headings."""

import pytest

from pipeline import run

MAPPING = """
language = "nb"
decimal = ","
dates = "DMY"

[[sheet]]
files = ["poser*.csv"]
kind = "deployment"
[sheet.columns]
unit_key = "Merke"
happened = "Dato"
site_key = "Sted"
plot_key = "Felt"
mass_kg = "Masse"
fixing = "Feste"
[sheet.fixed]
method = "spore bag"
"""
BAGS = """
    Merke   Dato         Sted   Felt   Masse   Feste
    P1      01/03/2025   CB     T1     150     tie
    P2      01/03/2025   CB     T1     150     tie
    P3      01/03/2025   CB     T1     200     .
"""
MENDED = MAPPING + '[sheet.units]\nmass_kg = "g"\n'


@pytest.fixture
def told(new_programme):
    """A programme with a file that was read in kilograms though it tells of grams, and one that tells of no mass."""
    programme = new_programme()
    programme.partner("klubb", MAPPING)
    no_mass = BAGS.replace("P", "Q").replace("150", ".").replace("200", ".")
    programme.take({"klubb/poser.csv": BAGS, "klubb/poser 2.csv": no_mass})
    run.refresh(programme.root)
    return programme


def letter(programme, file):
    """The newest letter about a file, on one line."""
    path = sorted((programme.root / "out/letters/klubb").glob(f"*-{file}.txt"))[-1]
    return " ".join(path.read_text(encoding="utf-8").split())


def test_the_letter_says_what_a_mended_mapping_changed(told):
    """Under each heading of the partner's each pair of old and new value stands once, with its rows; what did not change is not told."""
    told.partner("klubb", MENDED)
    assert len(told.retake()) == 2
    run.refresh(told.root)
    text = letter(told, "poser")
    assert "Det radene deres sier nå, siden de leses på en annen måte: 3 rader." in text
    assert "Kolonnen «Masse» - radene 2, 3: «150 kg» før, «0,15 kg» nå - rad 4: «200 kg» før, «0,2 kg» nå" in text
    assert "Feste" not in text and "lest på nytt" in text
    other = letter(told, "poser_2")
    assert "Lest på nytt sier radene deres det samme som før." in other and "siden de leses" not in other


def test_many_changes_are_counted_not_listed(told):
    """Of more pairs under one heading than a person reads the rest are counted."""
    many = "Merke   Dato   Sted   Felt   Masse   Feste\n" + "\n".join(
        f"R{n}   01/03/2025   CB   T1   {n}   tie" for n in range(1, 41)
    )
    told.take({"klubb/poser 3.csv": many})
    run.refresh(told.root)
    told.partner("klubb", MENDED)
    told.retake()
    run.refresh(told.root)
    assert "rad 2: «1 kg» før, «0,001 kg» nå" in letter(told, "poser_3")
    assert "... og 34 rader til" in letter(told, "poser_3") and "«7 kg»" not in letter(told, "poser_3")


def test_what_still_waits_is_not_said_to_need_nothing(told):
    """A file whose rows say the same when read again, and wait as before, is not called one that needs nothing."""
    told.take({"klubb/poser 4.csv": BAGS.replace("P", "S").replace("CB", "Ukjent")})
    run.refresh(told.root)
    told.partner("klubb", MENDED.replace('mass_kg = "g"', 'mass_kg = "kg"'))
    told.retake()
    run.refresh(told.root)
    text = letter(told, "poser_4")
    assert "Lest på nytt sier radene deres det samme som før." in text and "Ukjent er ennå ikke kjent" in text
    assert "Dere trenger ikke gjøre noe" not in text and "Dere trenger ikke gjøre noe" in letter(told, "poser_2")
