"""Archives made by others, or by hand from the guide, go through the gate with sensible findings."""

import datetime as dt
import os
import zipfile
from pathlib import Path

import pytest
from drafts import Draft, draft, event
from dwca.read import DwCAReader
from dwca.test.archive_builder import build_archive

from pipeline.cli import main
from pipeline.gate.check import check
from pipeline.gate.opened import MOST_RATIO, SURELY_FINE
from pipeline.gate.rule import Effect

TODAY = dt.date(2026, 1, 1)
STANDARDS = os.environ.get("WRACKLINE_STANDARDS")
DWC = "http://rs.tdwg.org/dwc/terms/"

GUIDE = """<archive xmlns="http://rs.tdwg.org/dwc/text/">
  <core encoding="UTF-8" fieldsTerminatedBy="," linesTerminatedBy="\\n" fieldsEnclosedBy="&quot;" ignoreHeaderLines="1"
      rowType="http://rs.tdwg.org/dwc/xsd/simpledarwincore/SimpleDarwinRecord">
    <files><location>specimens.csv</location></files>
    <field index="0" term="http://rs.tdwg.org/dwc/terms/catalogNumber"/>
    <field index="1" term="http://rs.tdwg.org/dwc/terms/scientificName"/>
    <field index="2" term="http://rs.tdwg.org/dwc/terms/individualCount"/>
    <field term="http://rs.tdwg.org/dwc/terms/datasetID" default="urn:lsid:tim.lsid.tdwg.org:collections:1"/>
  </core>
</archive>
"""


def found(path: Path) -> dict[str, Effect]:
    """The rules that were hit, and the worst that a repository does."""
    verdict = check(path, TODAY)
    return {f.rule.name: verdict.worst(f) for f in verdict.findings}


def test_the_guides_own_example(tmp_path):
    """The smallest archive of the Darwin Core text guide (1.2; its cells from memory) is read, and may not leave without metadata."""
    (tmp_path / "meta.xml").write_text(GUIDE)
    (tmp_path / "specimens.csv").write_text(
        'ID,"Scientific Name",Count\n123,"Cryptantha gypsophila Reveal & C.R. Broome",12\n124,"Buxbaumia piperi",2\n'
    )
    assert found(tmp_path) == {"metadata not named": Effect.REFUSES, "rowType unknown": Effect.LOWERS}
    assert check(tmp_path, TODAY).rows == (("specimens.csv", 2),)


def test_an_archive_built_by_another_package(tmp_path):
    """Occurrences that python-dwca-reader's own builder writes: rows are counted alike, lacks are told row by row."""
    terms = [DWC + t for t in ("occurrenceID", "scientificName", "decimalLatitude", "decimalLongitude", "eventDate")]
    rows = [["a", "Laminaria digitata", "50.1", "-4.3", "2020-07-01"], ["b", "Fucus serratus", "", "", "01/07/2020"]]
    folder = build_archive(str(tmp_path), rows, terms=terms, defaults={DWC + "basisOfRecord": "HumanObservation"})
    told = found(Path(folder))
    assert {n for n, e in told.items() if e >= Effect.DROPS} == {"metadata not named", "position missing"}
    assert {n for n, e in told.items() if e == Effect.FLAGS} == {"eventDate is no ISO date", "occurrenceStatus missing"}
    with DwCAReader(folder) as theirs:
        assert check(Path(folder), TODAY).rows == (("occurrence.txt", len(theirs.rows)),)


@pytest.mark.parametrize(
    ("encoding", "delimiter", "quote", "line_end"),
    [("latin-1", ";", '"', "\r\n"), ("utf-16", ",", '"', "\n"), ("cp1252", "\t", "", "\r"), ("utf-8", "|", "'", "\n")],
)
def test_any_way_of_writing_is_read(encoding, delimiter, quote, line_end, tmp_path):
    """Encodings, marks and line ends that meta.xml tells are read as another reader reads them."""
    rows = [["a", "Zostère", "50.1"], ["b", f"one{' ' if not quote else delimiter}two", "50.2"], ["c", "three", ""]]
    build_archive(
        str(tmp_path), rows, columns=3, terms=[DWC + t for t in ("occurrenceID", "scientificName", "decimalLatitude")],
        encoding=encoding, fields_terminated_by=delimiter, fields_enclosed_by=quote, lines_terminated_by=line_end,
    )  # fmt: skip
    verdict = check(tmp_path, TODAY)
    by_name = {f.rule.name: f for f in verdict.findings}
    assert verdict.rows == (("occurrence.txt", 3),)
    assert by_name["position missing"].rows == 3
    assert "row too long" not in by_name
    assert "bytes of another encoding" not in by_name


def macroalgae() -> Draft:
    """OBIS manual, examples.md, “Macroalgae canopy cover”: one site, three zones, a quadrat and two transects."""
    d = draft()
    bare = dict.fromkeys(
        ("decimalLatitude", "decimalLongitude", "footprintWKT", "coordinateUncertaintyInMeters", "geodeticDatum"), ""
    )
    depth = [("0", "0"), ("0", "5"), ("5", "10")]
    site = event("site_1", "", "site", "", decimalLatitude="16.9425", decimalLongitude="54.7943", footprintWKT="")
    zones = [
        event(f"zone_{i + 1}", "site_1", "zone", "", **bare, minimumDepthInMeters=a, maximumDepthInMeters=b)
        for i, (a, b) in enumerate(depth)
    ]
    frames = [
        event(id, f"zone_{i + 1}", kind, f"2019-01-0{i + 2}", **bare, minimumDepthInMeters="", maximumDepthInMeters="")
        for i, (id, kind) in enumerate(
            [("quadrat_1", "quadrat"), ("transect_1", "transect"), ("transect_2", "transect")]
        )
    ]
    d.event = [site, *zones, *frames]
    for row in d.event:
        row["year"] = ""
    for row, of in zip(d.occurrence, ("quadrat_1", "transect_1", "transect_2"), strict=True):
        row |= {"id": of, "eventID": of}
    d.emof = [dict(d.emof[1], id="quadrat_1")]
    d.humboldt = [dict(d.humboldt[0], id="transect_2")]
    return d


def test_the_manuals_survey_keeps_its_place_with_obis_and_loses_it_with_gbif(tmp_path):
    """With inheritance the frames have the site's coordinates, without it none (OBIS manual, examples.md, format_event.md)."""
    verdict = check(macroalgae().folder(tmp_path), TODAY)
    told = {f.rule.name: f for f in verdict.findings}
    assert told["position only on a parent event"].rows == 3
    assert told["position only on a parent event"].example.value == "16.9425 54.7943"
    assert told["position only on a parent event"].rule.obis is None
    assert "position missing" not in told
    assert "depth missing" not in told


def test_only_what_a_repository_minds_counts_for_it(tmp_path):
    """Without any position OBIS drops the rows and GBIF flags them, so it may leave for GBIF and not for OBIS."""
    d = draft()
    for row in d.event:
        row |= {"decimalLatitude": "", "decimalLongitude": "", "footprintWKT": ""}
    path = d.folder(tmp_path)
    assert check(path, TODAY, repositories=("GBIF",)).may_leave
    assert not check(path, TODAY, repositories=("OBIS",)).may_leave


def test_a_day_that_obis_does_not_read(tmp_path):
    """OBIS accepts 1590-04-11 (obis-qc test_time.py) and nothing before 1582; GBIF flags both (before 1600)."""
    for day, both in (("1590-04-11", False), ("1581-12-31", True)):
        d = draft()
        d.event[3] |= {"eventDate": day, "year": "", "month": ""}
        told = found(d.folder(tmp_path / day))
        assert "eventDate before 1600" in told
        assert ("eventDate before 1582" in told) == both


@pytest.mark.parametrize(
    ("day", "parts", "flagged"),
    [
        ("2023-01-13", {"year": "2023", "month": "1", "day": "3"}, True),
        ("2023-01", {"year": "2023", "month": "2"}, True),
        ("2023-01-13/2023-02-03", {"year": "2023", "month": "1", "day": "25"}, False),
    ],
)
def test_parts_of_a_day_that_gbif_flags(day, parts, flagged, tmp_path):
    """RECORDED_DATE_MISMATCH of GBIF's temporal page (tech-docs, 2026-07-17): its two mismatches, and the one that it accepts."""
    d = draft()
    d.event[3] |= {"eventDate": day, "year": "", "month": "", "day": "", **parts}
    d.event[0] |= {"eventDate": "2023-01-01/2025-12-31", "year": ""}
    assert ("eventDate and its parts disagree" in found(d.folder(tmp_path))) == flagged


def test_terms_that_are_wished_for_are_told_of(tmp_path):
    """A strongly recommended term that is empty lowers the use of just those rows (standards reference, 1.7)."""
    d = draft()
    d.event[3]["samplingEffort"] = ""
    d.occurrence[0]["taxonRank"] = d.occurrence[1]["taxonRank"] = ""
    verdict = check(d.folder(tmp_path), TODAY)
    assert {f.rule.name: f.rows for f in verdict.findings} == {"samplingEffort not given": 1, "taxonRank not given": 2}
    assert verdict.may_leave


@pytest.mark.skipif(not STANDARDS, reason="WRACKLINE_STANDARDS names no folder of the standards' own schemas")
def test_our_draft_is_valid_by_the_standards_own_schemas(tmp_path):
    """meta.xml and EML of the unbroken draft pass the guide's schema, GBIF's profile and EML 2.2.0; broken ones do not."""
    fine = check(draft().zipped(tmp_path / "fine.zip"), TODAY, Path(STANDARDS))
    assert not fine.findings
    assert not [u for u in fine.unchecked if "schema" in u]
    d = draft()
    d.eml = d.eml.replace("<pubDate>2025-08-01</pubDate>", "")
    d.meta.append(lambda text: text.replace('<id index="0"/>', '<id index="zero"/>', 1))
    told = found_with_schemas(d, tmp_path / "broken.zip")
    assert {"invalid by the guide's schema", "index is no column number"} <= told
    d.meta.clear()
    assert "invalid by EML's schema" in found_with_schemas(d, tmp_path / "broken.zip")


def found_with_schemas(d: Draft, path: Path) -> set[str]:
    """The rules that were hit when the schemas are at hand."""
    return {f.rule.name for f in check(d.zipped(path), TODAY, Path(STANDARDS)).findings}


def test_without_the_schemas_the_table_says_so(tmp_path):
    """Where the standards' folder is not at hand, each schema that was not used is named."""
    unchecked = check(draft().folder(tmp_path), TODAY, tmp_path / "nothing here").unchecked
    assert sum("against the schema" in u for u in unchecked) == 3


def test_a_bomb_is_not_unfolded(tmp_path):
    """A file that unfolds to more than an ordinary multiple of its size is refused before it is unpacked."""
    bomb = tmp_path / "bomb.zip"
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as z:
        z.writestr("meta.xml", "x")
        with z.open("event.txt", "w", force_zip64=True) as f:
            for _ in range(SURELY_FINE // (1 << 20) + 1):
                f.write(b"0" * (1 << 20))
    assert bomb.stat().st_size * MOST_RATIO < SURELY_FINE * 2
    assert found(bomb) == {"unfolds too far": Effect.REFUSES}


@pytest.mark.parametrize("bytes_", [b"", b"PK\x03\x04 no", b"<archive/>"])
def test_what_is_no_zip_is_told(bytes_, tmp_path):
    """Bytes that are no zip file are a finding, not a crash."""
    (tmp_path / "a.zip").write_bytes(bytes_)
    assert found(tmp_path / "a.zip") == {"no archive": Effect.REFUSES}


def test_a_link_out_of_the_folder_is_not_followed(tmp_path):
    """A data file that is a link to somewhere else is refused and not read."""
    (tmp_path / "secret.txt").write_text("id\n")
    folder = draft().folder(tmp_path / "archive")
    (folder / "emof.txt").unlink()
    (folder / "emof.txt").symlink_to(tmp_path / "secret.txt")
    assert {"path leads out", "file missing"} <= found(folder).keys()


def test_the_command_prints_a_table_and_ends_with_seven(tmp_path, capsys):
    """`wrackline gate` ends with 0 or 7, and names the rule, the rows, an example and what repositories do."""
    assert main(["gate", str(draft().folder(tmp_path / "fine"))]) == 0
    assert "it may leave for OBIS and GBIF" in capsys.readouterr().out
    d = draft()
    d.event[3] |= {"decimalLatitude": "95", "footprintWKT": ""}
    path = d.folder(tmp_path / "broken")
    assert main(["gate", str(path)]) == 7
    text = " ".join(capsys.readouterr().out.split())
    assert "latitude out of range" in text
    assert "OBIS: row dropped" in text
    assert "it may not leave for OBIS and GBIF yet" in text
    assert main(["gate", str(path), "--for", "gbif", "--json"]) == 0
    assert '"gbif"' not in capsys.readouterr().out
    assert main(["gate", str(tmp_path / "nothing")]) == 2
