"""An archive of a small drawn programme: what is in it, what is not, and how each thing is told."""

import datetime as dt
import json

import pytest
from archived import RULES, SEA, fill
from archives import every_byte, member, rows

from pipeline import look, run
from pipeline.archive.columns import TABLES
from pipeline.archiving import make_archive
from pipeline.cli import main
from pipeline.errors import BadUsage


@pytest.fixture(scope="module")
def made(new_programme):
    """The programme and its archive's folder."""
    programme = new_programme(sea=False)
    return programme, fill(programme)


@pytest.fixture(scope="module")
def folder(made):
    """The archive's folder."""
    return made[1]


def of(folder, status="present"):
    """Occurrences by what they were counted as: (kind of plot, frame's event, species) -> row."""
    remarks = {e["eventID"]: e["eventRemarks"] for e in rows(folder, "event")}
    return [
        (remarks[o["eventID"]].split(" in a ")[-1], o)
        for o in rows(folder, "occurrence")
        if o["occurrenceStatus"] == status
    ]


def test_every_event_row_has_every_field(folder):
    """Place, datum, uncertainty, days, depths, protocol and licence stand on every event, since no repository inherits them."""
    wanted = ("eventDate", "decimalLatitude", "decimalLongitude", "geodeticDatum", "coordinateUncertaintyInMeters",
              "samplingProtocol", "license", "rightsHolder", "locationID", "type", "eventType")  # fmt: skip
    for e in rows(folder, "event"):
        depths = () if e["eventType"] == "collection" else ("minimumDepthInMeters", "maximumDepthInMeters")
        assert [c for c in (*wanted, *depths) if not e[c]] == [], e
    assert {e["type"] for e in rows(folder, "event")} == {"Event"}


def test_the_hierarchy_holds_together(folder):
    """Every event but the programme's hangs on one of the archive that contains its days and depths; frames hang five deep."""
    by = {e["eventID"]: e for e in rows(folder, "event")}

    def days(e):
        first, _, last = e["eventDate"].partition("/")
        return first, last or first

    for e in by.values():
        if e["eventType"] == "Project":
            assert e["parentEventID"] == ""
            continue
        parent = by[e["parentEventID"]]
        assert days(parent)[0] <= days(e)[0] <= days(e)[1] <= days(parent)[1]
        if e["minimumDepthInMeters"]:
            assert float(parent["minimumDepthInMeters"]) <= float(e["minimumDepthInMeters"])
            assert float(e["maximumDepthInMeters"]) <= float(parent["maximumDepthInMeters"])
    frame = next(e for e in by.values() if e["eventType"] == "quadrat")
    types = []
    while frame:
        types.append(frame["eventType"])
        frame = by.get(frame["parentEventID"])
    assert types == ["quadrat", "plot", "siteVisit", "site", "Project"]


def test_identifiers_are_unique_and_refer_to_what_is_there(folder):
    """Every table's key is unique; every extension row, and every occurrence a measurement is of, is in the archive."""
    tables = {t.name: rows(folder, t.name) for t in TABLES}
    for t in TABLES:
        keys = [r[t.key] for r in tables[t.name]]
        assert len(keys) == len(set(keys)) > 0
    events = {e["eventID"] for e in tables["event"]}
    occurrences = {o["occurrenceID"]: o["eventID"] for o in tables["occurrence"]}
    assert all(r["eventID"] in events for name in tables for r in tables[name])
    for fact in tables["extendedmeasurementorfact"]:
        assert not fact["occurrenceID"] or occurrences[fact["occurrenceID"]] == fact["eventID"]


def test_an_occurrence_is_told_once_for_every_row_that_saw_something(folder):
    """Nine survey rows of the club saw something at a place that may be seen, and one cutting; zeros and bounds from above did not."""
    present = [o for _, o in of(folder)]
    assert sorted((o["scientificName"], o["individualCount"]) for o in present if o["basisOfRecord"] == "HumanObservation") == [
        ("Ecklonia radiata", "4"), ("Laminaria hyperborea", "3"), ("Saccharina", "1"), ("Saccharina latissima", ""),
        ("Saccharina latissima", "1"), ("Saccharina latissima", "1"), ("Saccharina latissima", "2"),
        ("Saccharina latissima", "7"), ("Saccharina latissima", "9"),
    ]  # fmt: skip
    assert all(o["individualCount"] != "0" for o in present)


def test_units_and_spores_are_no_occurrences_and_tissue_is_of_its_bed(folder):
    """A bag put down is an event without an occurrence; a cutting is material of its bed, native there."""
    kinds = {e["eventID"]: e["eventType"] for e in rows(folder, "event")}
    assert {kinds[o["eventID"]] for o in rows(folder, "occurrence")} == {"quadrat", "collection"}
    [tissue] = [o for o in rows(folder, "occurrence") if o["basisOfRecord"] == "MaterialSample"]
    assert (tissue["individualCount"], tissue["establishmentMeans"], tissue["degreeOfEstablishment"]) == (
        "40",
        "native",
        "native",
    )


def test_planted_is_never_wild(folder):
    """By plot and day: before planting native, planted reintroduced and released, a control in reach uncertain, beyond it native."""
    kelps = [
        (place, o)
        for place, o in of(folder)
        if o["scientificName"] == "Saccharina" or o["scientificName"].endswith("latissima")
    ]
    told = [
        (place, o["individualCount"], o["establishmentMeans"], o["degreeOfEstablishment"], o["pathway"])
        for place, o in kelps if o["basisOfRecord"] != "MaterialSample"
    ]  # fmt: skip
    assert sorted(told) == [
        ("control plot", "1", "native", "native", ""),  # 800 m away, where 500 are stated as reach
        ("control plot", "1", "uncertain", "", ""),
        ("reference plot", "", "native", "native", ""),
        ("reference plot", "9", "native", "native", ""),
        ("treated plot", "1", "uncertain", "", ""),  # cf.: no rule is of it
        ("treated plot", "2", "native", "native", ""),
        ("treated plot", "7", "nativeReintroduced", "released", "conservationOrWildlifeManagement"),
    ]


def test_remarks_name_the_planting(folder):
    """What may be of a planting names the day and the event of the first one; the event is in the archive."""
    events = {e["eventID"] for e in rows(folder, "event")}
    said = [o["occurrenceRemarks"] for _, o in of(folder) if o["pathway"] or o["establishmentMeans"] == "uncertain"]
    assert len(said) == 3
    for text in said:
        assert "planted since 2025-03-01" in text and text.rpartition("event ")[2] in events


def test_a_stages_zero_is_a_measurement_and_no_absence(folder):
    """No juveniles beside seven recruits: a density of 0 on the frame's event; the species is not told as absent there."""
    seven = next(o for _, o in of(folder) if o["individualCount"] == "7")
    at = [f for f in rows(folder, "extendedmeasurementorfact") if f["eventID"] == seven["eventID"]]
    zero = next(f for f in at if f["measurementRemarks"].startswith("Saccharina latissima, juvenile: 0"))
    assert (zero["measurementValue"], zero["occurrenceID"], zero["measurementTypeID"]) == ("0", "", "")
    assert [o["scientificName"] for _, o in of(folder, "absent") if o["eventID"] == seven["eventID"]] == [
        "Laminaria hyperborea"
    ]
    dense = next(f for f in at if f["occurrenceID"] == seven["occurrenceID"] and "SDBIOL02" in f["measurementTypeID"])
    assert (dense["measurementValue"], dense["measurementUnitID"].split("/")[-2]) == ("28", "UPMS")


def test_absent_only_where_every_target_is_told(folder):
    """Absences stand in frames that tell of every species searched for; a doubtful name, a bound or “there, not counted” ends that."""
    humboldt = {h["eventID"]: h for h in rows(folder, "humboldt")}
    absent = {}
    for _, o in of(folder, "absent"):
        absent.setdefault(o["eventID"], []).append(o["scientificName"])
    for event, h in humboldt.items():
        assert (h["isAbsenceReported"] == "true") == (event in absent)
        if event in absent:
            assert h["isTaxonomicScopeFullyReported"] == "true"
            assert h["absentTaxa"].split(" | ") == sorted(absent[event])
            assert set(absent[event]) <= set(h["targetTaxonomicScope"].split(" | "))
    assert sorted(len(names) for names in absent.values()) == [1, 1, 1, 1, 2, 2]
    unsure = [
        o["eventID"]
        for _, o in of(folder)
        if o["identificationQualifier"] or (o["scientificName"] == "Saccharina latissima" and not o["individualCount"])
    ]
    assert all(humboldt[e]["isTaxonomicScopeFullyReported"] == "false" for e in unsure) and len(unsure) == 2


def test_effort_and_conditions_are_told(folder):
    """A dive tells divers and minutes as effort, water and visibility as measurements; values have units."""
    dive = next(e for e in rows(folder, "event") if e["samplingEffort"] == "80 diver-minutes")
    assert dive["eventType"] == "siteVisit"
    facts = {
        f["measurementType"]: f for f in rows(folder, "extendedmeasurementorfact") if f["eventID"] == dive["eventID"]
    }
    water, sight = facts["water temperature"], facts["underwater visibility"]
    assert (water["measurementValue"], water["measurementTypeID"].split("/")[-2]) == ("13.5", "TEMPPR01")
    assert (sight["measurementValue"], sight["measurementTypeID"]) == ("6", "")  # no code was verified: an honest blank
    for h in rows(folder, "humboldt"):
        for of_what in ("geospatialScopeArea", "totalAreaSampled", "eventDuration", "samplingEffort"):
            assert bool(h[f"{of_what}Value"]) == bool(h[f"{of_what}Unit"])
    for e in rows(folder, "event"):
        assert bool(e["sampleSizeValue"]) == bool(e["sampleSizeUnit"])


def test_names_have_the_identifiers_that_were_verified(folder):
    """WoRMS identifiers come from our list; an unverified name has none and is told of; a doubtful one is its genus."""
    ids = {
        (o["scientificName"], o["identificationQualifier"]): o["scientificNameID"] for o in rows(folder, "occurrence")
    }
    assert ids["Saccharina latissima", ""] == "urn:lsid:marinespecies.org:taxname:234483"
    assert ids["Saccharina", "cf. latissima"] == "" and ids["Ecklonia radiata", ""] == ""
    cautions = json.loads((folder / "about.json").read_text())["cautions"]
    assert any(c.startswith("Ecklonia radiata: no verified WoRMS identifier") for c in cautions)


def test_who_did_not_agree_or_consent_is_not_there(folder):
    """No word, name or code of a partner with a stricter licence, of a person without consent, or of free remarks is written."""
    for name, data in every_byte(folder).items():
        for word in (b"Nobody Tellable", b"Xanadu", b'"lab"', b"by-nc", b'"xx"'):
            assert word not in data, (name, word)
    assert all(word in member(folder, "eml.xml") for word in (b"Mora", b"Blau", b"0000-0000-0000-0002"))
    named = {(o["recordedBy"], o["recordedByID"]) for o in rows(folder, "occurrence")} - {("", "")}
    assert named == {("Mora Blau", "https://orcid.org/0000-0000-0000-0002")}
    said = member(folder, "eml.xml").decode()
    assert "1 event of partners that allow less than the archive's licence does." in said
    assert "2 events at places that are withheld" in said


def test_no_held_precision_leaks(folder):
    """Not one digit beyond the published ones of a blurred or withheld place stands in any byte of the export."""
    hidden = ["39.0123", "9.0765", "38.765", "9.1234", "39.7123", "9.3123", "39.0131", "9.0747", "Quillmere", "Whisper"]
    import pyarrow.parquet as pq

    texts = {n: d for n, d in every_byte(folder).items() if not n.endswith((".zip", ".parquet"))}
    texts |= {p.name: repr(pq.read_table(p).to_pylist()).encode() for p in folder.rglob("*.parquet")}
    assert len(texts) > 12
    for name, data in texts.items():
        assert not [h for h in hidden if h.encode() in data], name
    for h in ("39.01234", "-9.07654"):  # the test itself would notice
        assert h in SEA["programme/site.csv"]


def test_a_blurred_place_says_so(folder):
    """What is rounded says to what, how precisely and how surely; a place that is not sensitive stays as it is held."""
    by = {e["eventID"]: e for e in rows(folder, "event")}
    blurred = [e for e in by.values() if e["dataGeneralizations"]]
    assert blurred and all(e["informationWithheld"] and not e["locality"] and not e["footprintWKT"] for e in blurred)
    place = {(e["decimalLatitude"], e["decimalLongitude"], e["coordinatePrecision"]) for e in blurred}
    assert place == {("39.01", "-9.08", "0.01"), ("39.7", "-9.3", "0.1")}
    assert all(float(e["coordinateUncertaintyInMeters"]) > 1408 for e in blurred)  # of the digits alone, at 39 degrees
    nose = next(e for e in by.values() if e["locality"] == "Nose" and e["eventType"] == "site")
    assert (nose["decimalLongitude"], nose["coordinateUncertaintyInMeters"], nose["dataGeneralizations"]) == (
        "-9.25431",
        "210",
        "",
    )
    bag = next(e for e in by.values() if e["decimalLatitude"] == "39.50123")
    assert (bag["eventType"], bag["coordinateUncertaintyInMeters"]) == ("deployment", "5")


def test_what_was_done_and_seen_in_a_plot_can_be_joined(folder):
    """A plot's dives, frames, planting and preparation have its own locationID, other than its site's and than another plot's."""
    events = rows(folder, "event")
    by = {e["eventID"]: e for e in events}
    at = {}
    for e in events:
        if e["eventType"] in ("quadrat", "plot", "deployment"):
            kind = e["eventRemarks"].partition(" plot")[0].rpartition(" ")[2]
            at.setdefault((e["decimalLatitude"], kind), set()).add((e["locationID"], e["eventType"]))
    treated = at["39.01", "treated"]
    assert len({place for place, _ in treated}) == 1 and {kind for _, kind in treated} == {
        "quadrat",
        "plot",
        "deployment",
    }
    assert len({place for place, _ in at["39.01", "control"]}) == 2  # C1 and C2
    assert all(e["locationID"] == e["eventID"] for e in events if e["eventType"] == "site")
    assert {by[e["parentEventID"]]["locationID"] for e in events if e["eventType"] == "quadrat"} == {
        e["locationID"] for e in events if e["eventType"] == "quadrat"
    }


def test_names_of_places_are_listed(folder):
    """Those of open places are published as the registers have them: a caution lists them, and no other."""
    cautions = json.loads((folder / "about.json").read_text())["cautions"]
    assert [c for c in cautions if "as the registers have it" in c] == [
        "Published as the registers have it, name of a place: Nose."
    ]
    assert "of a protocol that was written down before; a zero" in member(folder, "eml.xml").decode()


def test_a_protocol_of_the_day_of_its_first_survey_is_not_called_written_before(new_programme):
    """The EML names it, and does not say that it was written down before."""
    folder = fill(new_programme(sea=False), dated="2025-02-01")
    eml = member(folder, "eml.xml").decode()
    assert "of a protocol; a zero" in eml and "Not dated before the first survey under them: frames." in eml


def test_a_dive_keeps_its_identifier_when_it_is_told_elsewhere_too(new_programme):
    """A dive that is told of another site later adds a dive there; the one that its frames named stays, and leads home."""
    programme = new_programme(sea=False)
    folder = fill(programme)
    before = {e["eventID"]: e["locationID"] for e in rows(folder, "event")}
    lines = SEA["club/visit.csv"].strip().splitlines()
    told = lines[0].split()[:6]
    programme.take({"club/visit-late.csv": "   ".join(told) + "\nV2   CB   2025-04-02   found   2   40"})
    run.archive(programme.root)
    after = {e["eventID"]: e["locationID"] for e in rows(folder, "event")}
    assert before.items() <= after.items()
    [new] = after.keys() - before.keys()
    assert ":visit:" in new
    assert [(h.kind, h.name) for h in look.lead_archived_home(programme.root, new)] == [("visit", "visit-late.csv")]


def test_an_occurrence_leads_home(made, capsys):
    """One command leads from an occurrence, a frame and a measurement to the very rows of the drop that said them."""
    programme, folder = made
    seven = next(o for o in rows(folder, "occurrence") if o["individualCount"] == "7")
    assert main(["home", seven["occurrenceID"], "-p", str(programme.root), "--json"]) == 0
    [row] = json.loads(capsys.readouterr().out)
    assert (row["partner"], row["name"], row["row"], row["kind"]) == ("club", "survey.csv", 3, "survey")
    frame = look.lead_archived_home(programme.root, seven["eventID"])
    assert [(h.name, h.row) for h in frame] == [("survey.csv", 3), ("survey.csv", 4)]
    none = next(
        o for o in rows(folder, "occurrence") if o["occurrenceStatus"] == "absent" and o["eventID"] == seven["eventID"]
    )
    assert look.lead_archived_home(programme.root, none["occurrenceID"]) == frame
    assert main(["home", none["occurrenceID"], "-p", str(programme.root)]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert told.startswith("An absence is a species that the protocol searches for") and "survey.csv" in told
    assert main(["home", seven["occurrenceID"], "-p", str(programme.root)]) == 0
    assert "An absence" not in capsys.readouterr().out
    place = next(e["locationID"] for e in rows(folder, "event") if e["eventID"] == seven["eventID"])
    assert [(h.kind, h.name, h.key) for h in look.lead_archived_home(programme.root, place)] == [
        ("plot", "plot.csv", "CB | T1")
    ]
    fact = next(f for f in rows(folder, "extendedmeasurementorfact") if f["measurementType"] == "coverage of the bed")
    assert look.lead_archived_home(programme.root, fact["measurementID"])[0].row == 3
    assert main(["home", "other:survey:1", "-p", str(programme.root)]) == 2


def test_before_anybody_agreed_nothing_is_published(made, tmp_path):
    """On the day before the partners agreed there is nothing to write, and no folder is made."""
    with pytest.raises(BadUsage, match="Nothing may be published"):
        make_archive(made[0].root, tmp_path / "none", dt.date(2024, 12, 31))
    assert not (tmp_path / "none").exists()


def test_a_key_that_makes_no_identifier_is_refused(empty):
    """A programme's key with blanks or commas stands in no identifier: the archive is refused before anything is measured."""
    empty.rules(RULES.replace('key = "drawn"', 'key = "drawn, here"'))
    with pytest.raises(BadUsage, match="`key` is 'drawn, here'"):
        run.archive(empty.root)


@pytest.mark.parametrize("rules", ["", '\n[publishing]\ntitle = "T"\nabstract = "A"\norganisation = "O"\n'])
def test_without_a_licence_nothing_is_published(empty, rules):
    """Rules that say nothing of a licence write nothing, and say what is missing."""
    empty.rules(RULES.partition("[publishing]")[0] + rules)
    with pytest.raises(BadUsage, match=r"`licence`.*missing"):
        run.archive(empty.root)
    assert not (empty.root / "out").exists()
