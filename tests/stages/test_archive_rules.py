"""What a programme's rules keep out of an archive: agreements, embargoes, sensitive places and species."""

import datetime as dt
import json
from decimal import Decimal

import pytest
from archived import fill
from archives import every_byte, rows

from pipeline.archive_figures import Seen, facts, may_be_told
from pipeline.archive_figures import rows as indicator_rows
from pipeline.errors import BadUsage
from pipeline.indicators.estimate import Estimate
from pipeline.indicators.figure import Figure, scope
from pipeline.programme import parse_rules
from pipeline.rules.publishing import FOR_EVER, Agreed, PublishingRules

TODAY = dt.date(2025, 6, 1)
MORE = """
[[publishing.sensitive]]
species = "Ecklonia radiata"
level = "withheld"
[[publishing.sensitive]]
species = "Laminaria hyperborea"
level = "0.1"
[[publishing.sensitive]]
site = "NP"
level = "withheld"
until = 2099-01-01
[[publishing.sensitive]]
bed = "OLD"
level = "1"
until = 2020-01-01
"""


@pytest.fixture(scope="module")
def folder(new_programme):
    """An archive under those rules."""
    return fill(new_programme(sea=False), rules=MORE)


def test_a_withheld_species_is_nowhere(folder):
    """No file, list, scope or caution names a species that is withheld; that something is, is said."""
    for name, data in every_byte(folder).items():
        assert b"Ecklonia" not in data or name.endswith(".zip"), name
    assert (
        "Everything of 1 species that may not be told of."
        in json.loads((folder / "about.json").read_text())["left_out"]
    )


def test_a_sensitive_species_blurs_every_site_where_it_was_seen(folder):
    """The site is rounded as the species asks, though the register asks for less; a rule whose day is over blurs nothing."""
    [site] = [e for e in rows(folder, "event") if e["eventType"] == "site"]
    assert (site["decimalLatitude"], site["coordinatePrecision"]) == ("39", "0.1")
    [bed] = [e for e in rows(folder, "event") if e["eventType"] == "collection"]
    assert bed["coordinatePrecision"] == "0.1"  # the default of beds, not the lapsed degree


def test_a_site_under_embargo_is_not_there(folder):
    """Until its day no event, name or place of it is published, and how many are left out is said."""
    for name, data in every_byte(folder).items():
        assert b"Nose" not in data and b"39.5" not in data, name
    left = json.loads((folder / "about.json").read_text())["left_out"]
    assert any("at places that are withheld" in sentence for sentence in left)


def test_an_embargo_ends_on_its_day():
    """Nothing before the day of agreement or the end of an embargo; with days of embargo, only what is older than that."""
    agreed = Agreed("club", "CC-BY-4.0", dt.date(2025, 1, 1))
    assert agreed.open_until(TODAY) == FOR_EVER
    assert Agreed("club", "CC-BY-4.0", dt.date(2025, 6, 2)).open_until(TODAY) is None
    waiting = Agreed("club", "CC-BY-4.0", dt.date(2025, 1, 1), embargo_until=TODAY)
    assert waiting.open_until(TODAY) == FOR_EVER and waiting.open_until(TODAY - dt.timedelta(1)) is None
    late = Agreed("club", "CC-BY-4.0", dt.date(2025, 1, 1), embargo_days=31)
    assert late.open_until(TODAY) == dt.date(2025, 5, 1)


def test_only_partners_that_allow_what_the_archive_does_take_part():
    """A licence that asks for more than the archive's keeps its partner out; without any licence nobody takes part."""
    partners = tuple(
        Agreed(n, lic, dt.date(2025, 1, 1)) for n, lic in (("a", "CC0-1.0"), ("b", "CC-BY-4.0"), ("c", "CC-BY-NC-4.0"))
    )
    told = PublishingRules(licence="CC-BY-4.0", partners=partners)
    assert [p for p, _ in told.open_partners(TODAY)] == ["programme", "a", "b"]
    assert PublishingRules(partners=partners).open_partners(TODAY) == []


def test_rules_that_say_nothing_are_the_safest():
    """Without [publishing] there is no licence, no partner, no origin and nobody to name."""
    assert parse_rules(b'[programme]\nkey = "k"\nname = "K"\n').publishing == PublishingRules()


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ('[publishing]\nlicence = "CC-BY-SA-4.0"', "`licence` is 'CC-BY-SA-4.0'"),
        ('[[publishing.sensitive]]\nlevel = "0.1"', "one of `species`, `site` and `bed`"),
        ('[[publishing.sensitive]]\nspecies = "a b"\nlevel = "none"', "`level` is 'none'"),
        ('[[publishing.partner]]\nname = "a"\nlicence = "CC0-1.0"', "`agreed` is missing"),
        ('[publishing]\ntitle = "Kelp\\u0007"', "a text without the control character U+0007 is wanted"),
        ('[publishing]\nkeywords = ["kelp", "\\u0000"]', "a text without the control character U+0000 is wanted"),
        ('[publishing]\nabstract = "one\\uFFFEtwo"', "U+FFFE"),
        ('[publishing]\nlisence = "CC0-1.0"', "`lisence` is not known"),
    ],
)
def test_a_slip_in_the_rules_is_told(text, wrong):
    """A word that is not known, a missing day of agreement or a share-alike licence stop with where and what is wanted."""
    with pytest.raises(BadUsage) as stopped:
        parse_rules(f'[programme]\nkey = "k"\nname = "K"\n{text}\n'.encode())
    assert wrong in str(stopped.value)


def figure(site="CB", indicator="density", species="Saccharina latissima", note="", against=None):
    """A figure of a site with a note."""
    made = Estimate(
        "estimated",
        "per m2",
        4,
        "frames",
        "e",
        value=1.0,
        low=0.5,
        high=2.0,
        note=note,
        cautions=(note,) if note else (),
    )
    return Figure(indicator, scope(site=site, species=species, against=against), made)


SEEN = Seen(
    {"CB": "k:site:abcdef0123456789", "NP": "k:site:fedcba9876543210"}, {"NP"}, {"WH"}, True, {"Ecklonia radiata"}
)


def test_a_figure_is_told_only_where_all_it_rests_on_is():
    """Not of a site of which something is kept back, not over sites then, not of a withheld species, never of costs."""
    assert may_be_told(figure(), SEEN)
    for other in (figure("NP"), figure("all", "density over sites"), figure(indicator="treated over reference"),
                  figure(species="Ecklonia radiata"), figure(indicator="cash per hectare"), figure("XX")):  # fmt: skip
        assert not may_be_told(other, SEEN)
    assert may_be_told(figure("all", "density over sites"), Seen(SEEN.locations, set(), set(), True, set()))


def test_a_verdict_compared_with_another_site_needs_that_site_too():
    """A success rule against a reference site is told only where that site is published and nothing is kept back anywhere."""
    free = Seen(SEEN.locations, set(), {"WH"}, True, set())
    assert may_be_told(figure(indicator="success rule", against="NP"), free)
    assert may_be_told(figure(indicator="success rule"), SEEN)
    for other in (
        figure(indicator="success rule", against="WH"),
        figure(indicator="treated over reference", against="WH"),
    ):
        assert not may_be_told(other, free)
    for against in ("NP", "CB"):
        assert not may_be_told(figure(indicator="success rule", against=against), SEEN)


def test_a_figure_of_a_partner_or_a_word_needs_their_agreement():
    """Retention by partner is told of one that agreed; a method, a ground or a protocol that is no agreed word is not."""
    free = Seen(SEEN.locations, set(), set(), False, set(), {"frames"}, {"club"}, {"spore bag", "cobble"})
    for what, told, kept in (("partner", "club", "lab"), ("method", "Spore bag", "bag of Rui"),
                             ("substrate", "cobble", "by Rui's rock"), ("protocol", "frames", "Rui's way")):  # fmt: skip
        for value, may in ((told, True), (kept, False)):
            of = Figure("unit retention", scope(site="CB", **{what: value}), figure().estimate)
            assert may_be_told(of, free) is may


def test_what_is_bounded_is_no_number():
    """A figure between bounds is a measurement in words that says so; open at one end it is at least; unknown it is none."""

    def said(**ends):
        estimate = Estimate("bounded", "fraction", 56, "units", "e", low=0.5, high=0.975, **ends)
        table = indicator_rows(
            [Figure("unit retention", scope(site="CB", method="spore bag", day=60), estimate)], TODAY, SEEN
        )
        return facts(table, "k")

    [fact] = said(value_from=0.25, value_to=0.75)
    assert (fact[0], fact[5]) == ("k:site:abcdef0123456789", "0.25 to 0.75")
    assert fact[9].startswith("spore bag, day 60; bounds, no estimate:") and "95 % interval 0.5 to 0.975" in fact[9]
    [fact] = said(value_from=0.25)
    assert fact[5] == "at least 0.25"
    assert said() == []


def test_a_figures_words_do_not_give_a_place_away():
    """Keys of sites become their published identifiers, and distances are not told while any site is blurred."""
    note = "the reference forest lies at NP, 10.2 km away"
    [row] = indicator_rows([figure(note=note)], TODAY, SEEN).to_pylist()
    assert row["locationID"] == "k:site:abcdef0123456789"
    assert (
        row["measurementRemarks"]
        == "the reference forest lies at site fedcba98, a withheld distance away"
        == row["cautions"]
    )
    for said, told in (("the datum of site NP was assumed", "the datum of site fedcba98 was assumed"),
                       ("nearer to WH than to WHY", "nearer to a withheld site than to WHY")):  # fmt: skip
        [row] = indicator_rows([figure(note=said)], TODAY, SEEN).to_pylist()
        assert row["cautions"] == told
    [open_row] = indicator_rows(
        [figure(note=note)], TODAY, Seen(SEEN.locations, set(), set(), False, set())
    ).to_pylist()
    assert "10.2 km away" in open_row["cautions"]
