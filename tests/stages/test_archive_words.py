"""Words that partners typed freely: kept back until the programme agreed to them, and said to be."""

import json

import pytest
from archived import SEA, fill
from archives import eml_schema, every_byte, faults_of, member, rows, standards

from pipeline import run
from pipeline.archive.taxa import is_of

AGREED = ("spore bag of rui valcovo", "cobble where rui dives", "buckets of rui", "Told by Rui", "Ruis weed")
TYPED = {
    "club/deployment.csv": """
        unit_key   method                     site_key   plot_key   happened     batch_key   depth_m   substrate
        CB-1       spore bag                  CB         T1         2025-03-01   B1          6         cobble where Rui dives
        NP-1       spore bag of Rui Valcovo   NP         T1         2025-03-02   B1          .         .
        WH-1       spore bag                  WH         T1         2025-03-02   B1          .         .
    """,
    "club/treatment.csv": """
        site_key   plot_key   action            area_m2   amount   amount_unit      happened
        NP         T1         grazers removed   20        7        buckets of Rui   2025-02-20
        CB         T1         grazers removed   20        55       animals          2025-02-20
    """,
    "club/survey-odd.csv": """
        visit_key   site_key   plot_key   frame_key   frame_type   placement   area_m2   protocol   species                stage      count   qualifier     happened
        V4          NP         T1         1           quadrat      random      0.25      frames     Saccharina latissima   juvenile   2       told by Rui   2025-05-01
        V4          NP         T1         1           quadrat      random      0.25      frames     Laminaria hyperborea   juvenile   3       cf.           2025-05-01
        V4          NP         T1         2           quadrat      random      0.25      frames     Ruis weed              juvenile   4       .             2025-05-01
    """,
}  # fmt: skip


@pytest.fixture(scope="module")
def kept(new_programme):
    """The folder of an archive of words that nobody agreed to, and what its export said."""
    programme = new_programme(sea=False)
    folder = fill(programme, sea={**SEA, **TYPED})
    files = every_byte(folder)
    return folder, files, run.archive(programme.root)


@pytest.fixture(scope="module")
def agreed(new_programme):
    """The same, agreed to."""
    own = f"words = {json.dumps(AGREED)}\n"
    return fill(new_programme(sea=False), rules="", sea={**SEA, **TYPED}, words=own)


def test_no_word_that_nobody_agreed_to_leaves(kept):
    """Not a byte of what was typed for a method, a ground, a unit, a doubt or a name stands in any file; that words are missing does."""
    folder, files, done = kept
    import pyarrow.parquet as pq

    texts = {n: d for n, d in files.items() if not n.endswith((".zip", ".parquet"))}
    texts |= {p.name: repr(pq.read_table(p).to_pylist()).encode() for p in folder.rglob("*.parquet")}
    for name, data in texts.items():
        assert b"Rui" not in data and b"rui " not in data and b"cobble" not in data and b"lab:" not in data, name
    said = " ".join(done.left_out)
    assert "amount unit 1, doubt about a name 1, habitat or substrate 1, method 1" in said
    assert "1 row of what was seen, under names that are on no list." in said
    assert said.split(" Costs, permits")[0] in member(folder, "eml.xml").decode()


def test_the_lead_is_told_by_name(kept):
    """The command alone names the partner that is left out and why, and each word, with the key that agrees to it."""
    _, _, done = kept
    assert "lab: 1 event, since it allows less than the archive's licence does." in done.inside
    told = " ".join(done.inside)
    for word in ("method “spore bag of Rui Valcovo”", "habitat or substrate “cobble where Rui dives”", "amount unit “buckets of Rui”",
                 "doubt about a name “told by Rui”", "name of what was seen “Ruis weed”", "`words` under [publishing]"):  # fmt: skip
        assert word in told
    assert "animals" not in told and "“cf.”" not in told


def test_what_stands_in_a_words_place_claims_no_more(kept):
    """A doubt stays a doubt; an amount without its unit is no measurement; where a row is kept back no frame says that nothing else was there."""
    folder, _, _ = kept
    doubts = {
        (o["scientificName"], o["identificationQualifier"])
        for o in rows(folder, "occurrence")
        if o["identificationQualifier"]
    }
    assert {("Saccharina latissima", "?"), ("Laminaria hyperborea", "cf.")} <= doubts
    amounts = {
        (f["measurementValue"], f["measurementUnit"])
        for f in rows(folder, "extendedmeasurementorfact")
        if f["measurementType"] == "amount removed"
    }
    assert amounts == {("55", "animals")}
    assert {h["hasNonTargetTaxa"] for h in rows(folder, "humboldt")} == {"", "true"}
    protocols = {e["samplingProtocol"] for e in rows(folder, "event") if e["eventType"] == "deployment"}
    assert protocols == {"units of kelp restoration put down", "units of kelp restoration put down: spore bag"}


def test_agreed_words_are_published(agreed):
    """Each stands where it belongs, whatever its capitals."""
    said = {e["samplingProtocol"] for e in rows(agreed, "event")}
    assert "units of kelp restoration put down: spore bag of Rui Valcovo" in said
    assert ("7", "buckets of Rui") in {
        (f["measurementValue"], f["measurementUnit"]) for f in rows(agreed, "extendedmeasurementorfact")
    }
    seen = {(o["scientificName"], o["identificationQualifier"]) for o in rows(agreed, "occurrence")}
    assert ("Saccharina latissima", "told by Rui") in seen and ("Ruis weed", "") in seen
    assert not any("Words that nobody agreed" in s for s in json.loads((agreed / "about.json").read_text())["left_out"])


@pytest.mark.parametrize(
    ("name", "may"),
    [
        ("Laminaria digitata", True),  # listed
        ("Laminaria cf. digitata", True),
        ("Laminaria pallida", True),  # of a listed genus
        ("Laminaria sp. 1", True),
        ("Saccharina ?", True),
        ("Rui Valcovo", False),
        ("Laminaria seen by Rui", False),
        ("ask rui", False),
        ("", False),
    ],
)
def test_a_name_has_a_genus_of_the_lists(name, may):
    """Listed names, and those shaped like names under a genus that is listed; whatever else anybody typed needs agreement."""
    assert is_of(name, ["Laminaria digitata", "Saccharina latissima"]) is may


def test_letters_that_xml_cannot_hold_do_not_stop_an_archive(kept):
    """A control character in what a partner wrote is a blank in the document, which stays valid."""
    from lxml import etree

    from pipeline.archive.eml import _add

    root = etree.Element("a")
    assert _add(root, "b", "one\x07two\ufffe\x00three").text == "one two three"
    standards()
    assert not faults_of(eml_schema("eml-gbif-profile-1.3"), member(kept[0], "eml.xml"))
