"""Names of species: every way of writing one comes out as one, and what nobody can tell is asked about."""

import string

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.errors import BadUsage
from pipeline.intake.angles import Unread
from pipeline.intake.names import Names, names_of, same
from pipeline.programme import parse_rules

NAMES = Names()

# --- what is known -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("Saccharina latissima", "Saccharina latissima"), ("saccharina  latissima", "Saccharina latissima"),
        ("SACCHARINA LATISSIMA", "Saccharina latissima"), ("Saccharina_latissima", "Saccharina latissima"),
        ("Saccharina.latissima", "Saccharina latissima"), ("S. latissima", "Saccharina latissima"), ("S latissima", "Saccharina latissima"),
        ("Laminaria saccharina", "Saccharina latissima"), ("L. saccharina", "Saccharina latissima"),
        ("Laminaria hyperborea (Gunnerus) Foslie, 1884", "Laminaria hyperborea"), ("Laminaria hyperborea Foslie", "Laminaria hyperborea"),
        ("Laminaria digitata (Hudson) J.V.Lamouroux", "Laminaria digitata"),
        ("sugar kelp", "Saccharina latissima"), ("Sugarkelp", "Saccharina latissima"), ("Sea-belt", "Saccharina latissima"),
        ("sukkertare", "Saccharina latissima"), ("Sukker-tare", "Saccharina latissima"), ("laminaria doce", "Saccharina latissima"),
        ("kombu de azúcar", "Saccharina latissima"), ("LAMINAIRE SUCRÉE", "Saccharina latissima"), ("dabberlocks", "Alaria esculenta"),
        ("giant kelps", "Macrocystis pyrifera"),
        ("Saccharina latissima (sugar kelp)", "Saccharina latissima"), ("Sugar kelp (Saccharina latissima)", "Saccharina latissima"),
        ("tangle (L. hyperborea)", "Laminaria hyperborea"), ("Laminaria", "Laminaria"), ("LAMINARIA", "Laminaria"),
        ("Laminaria sp.", "Laminaria sp."), ("laminaria SP", "Laminaria sp."),
    ],
)  # fmt: skip
def test_every_way_of_writing_a_species_is_one(text, name):
    """Case, marks, accents, authors, a genus cut short, synonyms and common names of six languages do not make another species."""
    assert NAMES.read(text) == name


@pytest.mark.parametrize(
    "text",
    [
        "Mytilus edulis", "Bare rock", "turf", "CCA", "mussels", "Laminaria sp. 1", "Laminaria sp. A", "Ulva rotundata",
        "Saccharina latissima f. angustissima", "Fucus vesiculosus var. linearis", "algas rojas", "-", "7",
    ],
)  # fmt: skip
def test_names_unlike_any_stay_as_written(text):
    """A name that is unlike every known one is taken as it stands: nobody keeps a list of all that lives."""
    assert NAMES.read(text) == text


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("laminaria CF hyperborea", "Laminaria cf. hyperborea"), ("L. cf. saccharina", "Saccharina cf. latissima"),
        ("cf. Laminaria hyperborea", "cf. Laminaria hyperborea"), ("Laminaria hyperborea?", "Laminaria cf. hyperborea"),
        ("Laminaria hyperborea (?)", "Laminaria cf. hyperborea"), ("? L. hyperborea", "Laminaria cf. hyperborea"),
        ("sugar kelp ?", "Saccharina cf. latissima"), ("Laminaria ?", "Laminaria ?"), ("red thing ?", "red thing ?"),
    ],
)  # fmt: skip
def test_doubts_stay_in_the_name(text, name):
    """How sure the finder was stays, in one spelling, wherever it was written: what may be a species is not the species."""
    assert NAMES.read(text) == name


# --- what is asked about -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("Sacharina latisima", "Saccharina latissima"), ("Saccarina lattisima", "Saccharina latissima"),
        ("Laminaria hiperborea", "Laminaria hyperborea"), ("Laminria", "Laminaria"), ("sukertare", "Saccharina latissima"),
        ("Strongylocentrotus droebachensis", "Strongylocentrotus droebachiensis"), ("golden kelp", "Ecklonia radiata"),
        ("golden kelp ?", "Laminaria ochroleuca"), ("Laminaria hyperborea (sugar kelp)", "not the same species"),
        ("Laminaria hyperborea juv", "Laminaria hyperborea"), ("stortare small", "Laminaria hyperborea"), ("Laminaria sp. dead", "Laminaria sp."),
        ("kelp", "Laminaria hyperborea"), ("Kelps", "Saccorhiza polyschides"), ("tare", "Alaria esculenta"), ("laminaire", "Laminaria digitata"),
    ],
)  # fmt: skip
def test_what_nobody_can_tell_is_asked(text, told):
    """A slip of the pen, an everyday name of several species and a name with other words behind it are asked about, never guessed."""
    found = NAMES.read(text)
    assert isinstance(found, Unread) and told in found.wanted + found.advice and found.wanted and found.advice


@pytest.mark.parametrize(("must", "strange"), [(False, "Mytilus edulis"), (True, None)])
def test_the_programme_says_whether_strange_names_are_asked_about(must, strange):
    """A name near to a known one is always asked about; one unlike any only where the programme wants it."""
    read = [Names(must_be_known=must).read(t) for t in ("Laminaria hiperborea", "Mytilus edulis", "sugar kelp")]
    assert [None if isinstance(r, Unread) else r for r in read] == [None, strange, "Saccharina latissima"]


# --- a programme's own ---------------------------------------------------------------------------------------

OWN = """
[programme]
key = "k"
name = "K"
[species."Ecklonia stolonifera"]
aliases = ["ES", "turban kelp", "golden kelp"]
[[stage]]
species = "Laminaria saccharina"
stage = "recruit"
from_cm = 0
"""


def test_a_programme_adds_its_own_species_and_codes():
    """A species of the programme is known by its name, cut short too, and by its codes, which go before everyday names."""
    names = names_of(parse_rules(OWN.encode()))
    texts = ("es", "Turban-kelp", "E. stolonifera", "Ecklonia stolonifera Okamura, 1913", "golden kelp")
    assert {names.read(t) for t in texts} == {"Ecklonia stolonifera"}
    assert "Ecklonia stolonifera" in names.read("Eklonia stolonifera").wanted


def test_events_take_over_the_name_that_the_rules_use():
    """Where rules call a species by an old name, events do too: protocols, stages and older events keep meeting them."""
    names = names_of(parse_rules(OWN.encode()))
    texts = ("Saccharina latissima", "sugar kelp", "S. latissima", "Laminaria saccharina (L.) Lamouroux", "Sugarkelp")
    assert {names.read(t) for t in texts} == {"Laminaria saccharina"}
    both = names_of(
        parse_rules((OWN + '[[stage]]\nspecies = "Saccharina latissima"\nstage = "recruit"\nfrom_cm = 0').encode())
    )
    assert [both.read(t) for t in ("Laminaria saccharina", "sugar kelp")] == [
        "Laminaria saccharina",
        "Saccharina latissima",
    ]


def test_rules_that_read_names_alike_are_known():
    """Rules that name known species in other places read every name alike; one more alias does not."""
    assert same(NAMES, Names(used=("Laminaria hyperborea",)))
    assert not same(NAMES, Names(used=("Laminaria saccharina",)))
    assert not same(NAMES, names_of(parse_rules(OWN.encode())))
    assert not same(NAMES, Names(must_be_known=True))


# --- any writing ---------------------------------------------------------------------------------------------

KNOWN = st.sampled_from(sorted(NAMES.accepted))


@given(name=KNOWN, at=st.integers(0, 40), letter=st.sampled_from(string.ascii_lowercase), how=st.integers(0, 3))
def test_one_slip_never_makes_a_new_species(name, at, letter, how):
    """A known name with one letter left out, doubled, put in or exchanged is that name, another known one, or asked about."""
    at = at % len(name)
    slipped = {
        0: name[:at] + name[at + 1 :], 1: name[:at] + name[at] + name[at:], 2: name[:at] + letter + name[at:],
        3: name[:at] + letter + name[at + 1 :],
    }[how]  # fmt: skip
    found = NAMES.read(slipped.strip())
    assert isinstance(found, Unread) or found in NAMES.accepted, slipped


@given(text=st.text(max_size=40).map(str.strip).filter(bool))
def test_any_text_is_read(text):
    """Whatever stands in a cell is a name, as written or known, or asked about."""
    found = NAMES.read(text)
    assert isinstance(found, Unread) or found
