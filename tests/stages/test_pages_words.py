"""What figures hold in English is said again on pages of another language, numbers and days as written there."""

import re
from pathlib import Path

import pytest

from pipeline.pages.charts import Shown, described
from pipeline.pages.words import FOLDER, LANGUAGES, stored, words


@pytest.mark.parametrize(
    ("english", "french"),
    [
        ("fewer than 3.03 per m2 with 97.5 % confidence under k=0.5", "moins de 3,03 par m² avec 97,5 % de confiance sous k=0,5"),
        ("over 6 sites; losses whose day is known", "sur 6 sites ; pertes dont le jour est connu"),
        ("242.91 hours on 190 m2; one site: no interval", "242,91 heures sur 190 m² ; un seul site : pas d'intervalle"),
        ("report due on 2026-03-31", "rapport à rendre le 31 mars 2026"),
        ("every site has the same weight: LQ -0.833, TH 0, HN 1,234.5", "tous les sites ont le même poids : LQ -0,833, TH 0, HN 1\u202f234,5"),
        ("cannot tell: none found", "indéterminé : aucune trouvée"),
        ("HN: units told to lie beyond the site: 2", "HN : unités dites hors du site : 2"),
        ("steps that nobody told of: dried, held cool", "étapes dont personne n'a parlé : séchage, gardé au frais"),
        ("Refused for loads without tags. Speaks of one site.", "Refusé pour les charges sans étiquettes. Parle d'un seul site."),
    ],
)  # fmt: skip
def test_a_stored_sentence_is_said_again(english, french):
    """A sentence is found by its gaps, part by part; digits stay as many, days, marks and the blanks before them are those of the language."""
    french = re.sub(" (?=[:;%])", "\u202f", french)
    assert words("fr").again(english) == french and words("fr").knows(english)
    assert words("en").again(english) == english


@pytest.mark.parametrize("english", ["nobody ever wrote this", "HN: nor this", "over 6 sites; but this is new", "k=x"])
def test_what_is_not_ours_stays_as_it_is(english):
    """A sentence of nobody's is left in English, whole or as the part that is not known, and is known as such."""
    told = words("nb")
    assert not told.knows(english)
    assert told.again(english).endswith(english.rpartition("; ")[2])


def test_a_longer_sentence_wins_over_one_with_more_gaps():
    """Of two patterns that fit the one with more firm letters says it, and a joined sentence of ours is found whole."""
    english = "planned for 2025-08-05 (every 180 days; the last survey was on 2025-02-06): due when conditions and your supervisor allow"
    assert words("nb").again(english).startswith("planlagt til 5. aug. 2025 (hver 180. dag; siste")
    assert words("nb").again("2.5 hours on 190 m2") == "2,5 timer på 190 m²"


def test_blanks_before_marks_come_from_the_language():
    """Shares and what stands behind a colon are parted as the language does: French by a narrow blank that does not break."""
    french, english = words("fr"), words("en")
    assert (french.of(0.705, "fraction"), english.of(0.705, "fraction")) == ("70\u202f%", "70 %")
    assert french.span(0.5, 0.71, "fraction") == "50 à 71\u202f%"
    assert "A\u202f: 70\u202f%." in described([Shown("treated", "A", 0.7, None, None)], french, "fraction")
    assert (french("; "), french(": "), english(": ")) == ("\u202f; ", "\u202f: ", ": ")
    assert [french.parted(u) for u in ("%", "fraction", "m2")] == ["\u202f%", "", " m²"]
    templates = Path(FOLDER).parent / "templates"
    hard = re.compile(r"(?:\}\}|%\}|</\w+>)[:;] |\{\{ \"[:;]")
    assert len(list(templates.glob("*.html"))) > 9
    assert [(p.name, m[0]) for p in templates.glob("*.html") for m in hard.finditer(p.read_text())] == []


def test_every_language_says_the_same_sentences_again():
    """No stored sentence lacks a language."""
    for code in (c for c in LANGUAGES if c != "en"):
        assert [s for s in stored() if not words(code).texts.get(s)] == [], code
