"""The catalogues of letters, blank sheets and pages as a reader of their language expects them."""

import re
from itertools import product

import pytest
from babel.messages.pofile import read_po

from pipeline.blanks.words import FOLDER as BLANKS
from pipeline.outputs.words import FOLDER as LETTERS
from pipeline.pages.words import FOLDER as PAGES
from pipeline.tongue import LANGUAGES

OTHERS = [code for code in LANGUAGES if code != "en"]
EVERY = list(product((LETTERS, BLANKS, PAGES), OTHERS))
TO_ONE = {  # words that speak to one person, or to several as friends do
    "es": r"usted|vosotros|vosotras|os|vuestr[oa]s?|(?<!que )(?<!se )(escriba|rellene|corrija|entregue|avise|pida|ponga|deje|guarde)",
    "pt": r"você|te|teus?|tuas?|(?<!que )(escreva|preencha|corrija|avise|ponha|deixe|guarde)",
    "fr": r"tu|te|ton|tes|toi",
    "nb": r"du|deg|din|ditt|dine",
}


def said(folder, language):
    """Each text of a catalogue and its translation."""
    with (folder / f"{language}.po").open("rb") as f:
        return [(str(m.id), str(m.string)) for m in read_po(f, locale=language) if m.id]


@pytest.mark.parametrize(("folder", "language"), EVERY)
def test_every_gap_is_kept(folder, language):
    """A translation has the gaps of its text, each as often."""
    told = said(folder, language)
    assert len(told) > 100
    gaps = re.compile(r"\{\w+\}")
    assert [s for text, s in told if sorted(gaps.findall(s)) != sorted(gaps.findall(text))] == []


@pytest.mark.parametrize(("folder", "language"), EVERY)
def test_a_partner_is_several_people(folder, language):
    """No text speaks to one person: a partner is a club, a laboratory, a town."""
    one = re.compile(rf"\b({TO_ONE[language]})\b", re.IGNORECASE)
    assert [s for _, s in said(folder, language) if one.search(s)] == []


@pytest.mark.parametrize("folder", [LETTERS, BLANKS, PAGES])
def test_marks_stand_as_each_language_sets_them(folder):
    """French parts : ; ! ? % and what « » hold by narrow blanks that do not break, Spanish opens its questions, none keeps English marks."""
    assert [s for _, s in said(folder, "fr") if re.search(r"[^\S\u202f][:;!?»%]|«(?!\u202f)|[^\u202f]»|’", s)] == []
    assert [s for _, s in said(folder, "es") if s.count("?") != s.count("¿") or s.count("!") != s.count("¡")] == []
    assert [s for language in OTHERS for _, s in said(folder, language) if re.search("[“”]", s)] == []
