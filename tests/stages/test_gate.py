"""An archive broken in one place is stopped or flagged for exactly that reason; its mended twin has nothing found."""

import datetime as dt
from collections.abc import Callable

import pytest
from drafts import Draft, draft

from pipeline.gate import eml as eml_rules
from pipeline.gate.ask import RULES
from pipeline.gate.check import check
from pipeline.gate.opened import opened
from pipeline.gate.rule import Effect, Hits, Verdict

TODAY = dt.date(2026, 1, 1)


def names(verdict: Verdict) -> list[str]:
    """The rules that were hit."""
    return [f.rule.name for f in verdict.findings]


def put(table: str, row: int, **cells: str) -> Callable[[Draft], None]:
    """A change: these cells of one row."""
    return lambda d: getattr(d, table)[row].update(cells)


def put_all(table: str, **cells: str) -> Callable[[Draft], None]:
    """A change: these cells of every row."""

    def change(d: Draft) -> None:
        for row in getattr(d, table):
            row.update(cells)

    return change


def meta(old: str, new: str) -> Callable[[Draft], None]:
    """A change: a text of meta.xml, where it first stands."""
    return lambda d: d.meta.append(lambda text: text.replace(old, new, 1))


def eml(old: str, new: str) -> Callable[[Draft], None]:
    """A change: a text of eml.xml."""

    def change(d: Draft) -> None:
        assert old in d.eml
        d.eml = d.eml.replace(old, new)

    return change


def raw(name: str, make: Callable[[bytes], bytes | None]) -> Callable[[Draft], None]:
    """A change: the bytes of a file."""

    def change(d: Draft) -> None:
        d.raw[name] = make(d.files()[name])

    return change


def both(*changes: Callable[[Draft], None]) -> Callable[[Draft], None]:
    """Several changes that make one fault."""

    def change(d: Draft) -> None:
        for c in changes:
            c(d)

    return change


def last_line(change: Callable[[bytes], bytes]) -> Callable[[bytes], bytes]:
    """A change to the last line of a file."""
    return lambda data: data[: data[:-1].rindex(b"\n") + 1] + change(data[data[:-1].rindex(b"\n") + 1 : -1]) + b"\n"


OCCURRENCE_INDEX = '<field index="2" term="http://rs.tdwg.org/dwc/terms/occurrenceID"/>'
LAT, LON = "decimalLatitude", "decimalLongitude"
NO_BOX = {"footprintWKT": ""}

# what is wrong, and the rule that must say so, alone
STRUCTURE = [
    ("meta.xml missing", raw("meta.xml", lambda _: None)),
    ("meta.xml unreadable", raw("meta.xml", lambda b: b[:-12])),
    ("meta.xml unreadable", raw("meta.xml", lambda b: b'<!DOCTYPE a [<!ENTITY x SYSTEM "file:///etc/passwd">]>' + b)),
    ("meta.xml of another kind", meta("http://rs.tdwg.org/dwc/text/", "http://rs.tdwg.org/dwc/texts/")),
    ("not one core", lambda d: d.meta.append(lambda t: t.replace("<core ", "<extension ").replace("/core>", "/extension>").replace("<id ", "<coreid "))),
    ("unknown element", meta("<id index", "<colour/><id index")),
    ("unknown element", meta('ignoreHeaderLines="1"', 'ignoreHeaderLines="1" separator=","')),
    ("rowType missing", meta('rowType="http://rs.tdwg.org/dwc/terms/Event" ', "")),
    ("no file named", meta("<location>event.txt</location>", "")),
    ("file elsewhere", meta("<location>event.txt</location>", "<location>../event.txt</location>")),
    ("core without id", meta('<id index="0"/>', "")),
    ("extension without coreid", meta('<coreid index="0"/>', "")),
    ("field without term", meta(OCCURRENCE_INDEX, '<field index="2" term="occurrenceID"/>' + OCCURRENCE_INDEX)),
    ("index is no column number", meta('<id index="0"/>', '<id index="0"/><field index="-1" term="http://purl.org/dc/terms/references"/>')),
    ("index beyond the columns", meta('<field index="1" ', '<field index="91" term="http://purl.org/dc/terms/references"/><field index="1" ')),
    ("field without a value", meta('<field index="1" ', '<field term="http://purl.org/dc/terms/references"/><field index="1" ')),
    ("term twice", meta(OCCURRENCE_INDEX, OCCURRENCE_INDEX + '<field term="http://rs.tdwg.org/dwc/terms/occurrenceID" default="o9"/>')),
    ("column twice", meta(OCCURRENCE_INDEX, OCCURRENCE_INDEX + '<field index="2" term="http://purl.org/dc/terms/references"/>')),
    ("term unknown", meta("http://purl.org/dc/terms/license", "http://rs.tdwg.org/dwc/terms/license")),
    ("encoding unknown", meta('encoding="UTF-8"', 'encoding="UTF-88"')),
    ("marks cannot be used", meta('fieldsTerminatedBy="\\t"', 'fieldsTerminatedBy=""')),
    ("header lines not a number", meta('ignoreHeaderLines="1"', 'ignoreHeaderLines="one"')),
    ("headings read as data", meta('ignoreHeaderLines="1"', 'ignoreHeaderLines="0"')),
    ("heading of another term", raw("event.txt", lambda b: b.replace(b"decimalLatitude\tdecimalLongitude", b"decimalLongitude\tdecimalLatitude"))),
    ("metadata not named", meta(' metadata="eml.xml"', "")),
    ("file missing", raw("emof.txt", lambda _: None)),
    ("file that nobody names", lambda d: d.raw.update({"notes.txt": b"hello"})),
    ("bytes of another encoding", raw("humboldt.txt", lambda b: b.decode().encode("latin-1"))),
    ("no rows", raw("event.txt", lambda _: b"")),
    ("row too short", raw("emof.txt", last_line(lambda line: line.rsplit(b"\t", 1)[0]))),
    ("row too long", raw("emof.txt", last_line(lambda line: line + b"\tmore"))),
    ("row too long", raw("emof.txt", last_line(lambda line: line + b"\tmore\tand more"))),
    ("word for no value", put("event", 3, samplingEffort="\\N")),
    ("path leads out", lambda d: d.raw.update({"../../outside.txt": b"x"})),
]  # fmt: skip

ROWS = [
    ("core id missing", lambda d: d.event.append(dict(d.event[0], id="", eventID=""))),
    ("core id twice", lambda d: d.event.append(dict(d.event[0]))),
    ("coreid missing", lambda d: d.emof.append(dict(d.emof[1], id="", measurementID="m3"))),
    ("coreid without a core row", lambda d: d.emof.append(dict(d.emof[1], id="kelp:reef:v9", measurementID="m3"))),
    ("eventID missing", put("event", 1, eventID="")),
    ("eventID of another event", put("event", 1, eventID="kelp")),
    ("parent event missing", put("event", 1, parentEventID="kelps")),
    ("parents in a circle", both(put("event", 0, parentEventID="kelp:reef"))),
    ("child outlasts its parent", put("event", 3, eventDate="2025-07-13")),
    ("occurrenceID missing", put("occurrence", 1, occurrenceID="")),
    ("occurrenceID twice", put("occurrence", 1, occurrenceID="o3")),
    ("measurement of no occurrence", put("emof", 1, occurrenceID="o77")),
    ("measurement of another event", put("emof", 1, occurrenceID="o3")),
    ("measurementID twice", put("emof", 1, measurementID="m1")),
    ("two inventories of one event", lambda d: d.humboldt.append(dict(d.humboldt[0]))),
    ("position missing", put_all("event", decimalLatitude="", decimalLongitude="", **NO_BOX, coordinateUncertaintyInMeters="30")),
    ("position only on a parent event", put("event", 3, decimalLatitude="", decimalLongitude="")),
    ("position is no number", put("event", 3, decimalLatitude="50,1")),
    ("latitude out of range", put("event", 3, decimalLatitude="91", footprintWKT="", locationID="")),
    ("longitude out of range", put("event", 0, decimalLongitude="-204.3", **NO_BOX)),
    ("position is 0, 0", put("event", 0, decimalLatitude="0", decimalLongitude="0.0", **NO_BOX)),
    ("more decimals than are kept", put("event", 3, decimalLatitude="50.1000001")),
    ("datum missing", put("event", 3, geodeticDatum="")),
    ("datum unreadable", put("event", 3, geodeticDatum="of the chart")),
    ("datum is not WGS84", put("event", 3, geodeticDatum="EPSG:4258")),
    ("uncertainty is no radius", put("event", 3, coordinateUncertaintyInMeters="0")),
    ("uncertainty below the precision", put("event", 3, coordinatePrecision="0.01")),
    ("precision is no step of degrees", put("event", 3, coordinatePrecision="4 decimals")),
    ("spatial fit impossible", put("event", 3, pointRadiusSpatialFit="0.5")),
    ("on land", put("event", 0, decimalLatitude="52.2", decimalLongitude="-1.5", **NO_BOX)),
    ("perhaps on land", put("event", 0, decimalLatitude="52.2", decimalLongitude="-1.5", coordinateUncertaintyInMeters="300000", **NO_BOX)),
    ("depth missing", put_all("event", minimumDepthInMeters="", maximumDepthInMeters="")),
    ("depth is no number", put("event", 3, minimumDepthInMeters="5 m")),
    ("depth impossible", put("event", 3, maximumDepthInMeters="11001")),
    ("depth above the surface", put("event", 3, minimumDepthInMeters="-5")),
    ("depths swapped", put("event", 3, minimumDepthInMeters="8")),
    ("outline unreadable", put("event", 3, footprintWKT="POLYGON ((50.1 -4.3, 50.2 -4.3)")),
    ("outline elsewhere", put("event", 3, footprintWKT="POINT (50.1 -4.3)")),
    ("country is no code", put("event", 3, countryCode="UK")),
    ("eventDate missing", put_all("event", eventDate="", year="", month="")),
    ("eventDate only on a parent event", put("event", 3, eventDate="")),
    ("eventDate is no ISO date", put("event", 3, eventDate="12/07/2025")),
    ("eventDate in a form that is not read", put("event", 3, eventDate="2025-193")),
    ("eventDate with 00", put("event", 0, eventDate="2025-00-00")),
    ("eventDate that never was", put("event", 0, eventDate="2025-02-29")),
    ("eventDate ends before it starts", put("event", 0, eventDate="2025-12-31/2025-01-01")),
    ("eventDate in the future", put("event", 0, eventDate="2025-01-01/2026-01-02", year="")),
    ("eventDate before 1600", put("event", 0, eventDate="1590-04-11/2025-12-31", year="")),
    ("eventDate with unlike ends", put("event", 0, eventDate="2025-01/2025-12-31")),
    ("eventDate at midnight", put("event", 3, eventDate="2025-07-12T00:00")),
    ("eventDate and its parts disagree", put("event", 3, year="2024")),
    ("parts of a date are no numbers", put("event", 3, month="July")),
    ("dateIdentified unlikely", put("occurrence", 0, dateIdentified="1690-07-12")),
    ("modified unlikely", put("occurrence", 0, modified="2026-02-01")),
    ("measurementDeterminedDate is no ISO date", put("emof", 0, measurementDeterminedDate="12.7.2025")),
    ("scientificName missing", put("occurrence", 1, scientificName="", scientificNameID="")),
    ("scientificName missing beside its id", put("occurrence", 1, scientificName="")),
    ("qualifier in scientificName", put("occurrence", 1, scientificName="Laminaria cf. digitata")),
    ("scientificNameID missing", put("occurrence", 1, scientificNameID="")),
    ("scientificNameID is no WoRMS LSID", put("occurrence", 1, scientificNameID="urn:lsid:marinespecies.org:taxname:x145724")),
    ("basisOfRecord missing", put("occurrence", 1, basisOfRecord="")),
    ("basisOfRecord unknown", put("occurrence", 1, basisOfRecord="Diver")),
    ("basisOfRecord that OBIS does not know", put("occurrence", 1, basisOfRecord="MaterialEntity")),
    ("occurrenceStatus missing", put("occurrence", 1, occurrenceStatus="")),
    ("occurrenceStatus unknown", put("occurrence", 1, occurrenceStatus="detected")),
    ("individualCount is no count", put("occurrence", 1, individualCount="about 2")),
    ("none counted, yet present", put("occurrence", 1, individualCount="0")),
    ("some counted, yet absent", put("occurrence", 1, occurrenceStatus="absent")),
    ("quantity without its type", put("occurrence", 1, organismQuantity="12")),
    ("quantity type unknown", put("occurrence", 1, organismQuantity="12", organismQuantityType="plants per m2")),
    ("quantity is no number", put("occurrence", 1, organismQuantity="120", organismQuantityType="percentageCoverage")),
    ("establishmentMeans unknown", put("occurrence", 1, establishmentMeans="reintroduced")),
    ("degreeOfEstablishment unknown", put("occurrence", 1, degreeOfEstablishment="planted")),
    ("pathway unknown", put("occurrence", 1, pathway="bags")),
    ("planted read as wild", put("occurrence", 1, establishmentMeans="nativeReintroduced")),
    ("planted without a pathway", put("occurrence", 1, degreeOfEstablishment="released")),
    ("lifeStage unknown", put("occurrence", 1, lifeStage="recruit")),
    ("licence of a row not taken", put("event", 3, license="http://creativecommons.org/licenses/by-nd/4.0/legalcode")),
    ("sample size without its unit", put("event", 3, sampleSizeUnit="")),
    ("sample size is no number", put("event", 3, sampleSizeValue="a quarter")),
    ("sample size unit unknown", put("event", 3, sampleSizeUnit="quadrat")),
    ("several protocols in one event", put("event", 3, samplingProtocol="quadrats | video")),
    ("type is not Event", put("event", 1, type="Site")),
    ("measurementType missing", put("emof", 1, measurementType="", measurementTypeID="")),
    ("measurementTypeID missing", put("emof", 1, measurementTypeID="")),
    ("measurementValue missing", put("emof", 1, measurementValue="")),
    ("measurementUnit missing", put("emof", 1, measurementUnit="", measurementUnitID="")),
    ("measurementValueID of a number", put("emof", 1, measurementValueID="http://vocab.nerc.ac.uk/collection/S11/current/S1127/")),
    ("code misspelled", put("emof", 1, measurementTypeID="http://vocab.nerc.ac.uk/P01/AREABEDS")),
    ("Humboldt value without its unit", put("humboldt", 0, samplingEffortValue="10")),
    ("Humboldt value is no number", put("humboldt", 0, totalAreaSampledValue="small")),
    ("sampled more than the scope", put("humboldt", 0, totalAreaSampledValue="101")),
    ("unit with a plain 2", put("humboldt", 0, totalAreaSampledUnit="m2")),
    ("Humboldt flag is neither true nor false", put("humboldt", 0, isAbundanceReported="yes")),
    ("list with another separator", put("humboldt", 0, targetTaxonomicScope="Saccharina latissima|Laminaria digitata")),
    ("inventory type unknown", put("humboldt", 0, inventoryTypes="dive")),
    ("completeness unknown", put("humboldt", 0, taxonCompletenessReported="complete")),
    ("other taxa without a scope", put("humboldt", 0, nonTargetTaxa="Asterias rubens")),
    ("absence without a scope", put("humboldt", 0, targetTaxonomicScope="")),
    ("absence of nothing", put("humboldt", 0, id="kelp:reef:v1:q1")),
    ("absent under incomplete reporting", put("humboldt", 0, taxonCompletenessReported="reportedIncomplete")),
    ("no country", put("event", 3, countryCode="")),
    ("present without a number", put("occurrence", 1, individualCount="")),
]  # fmt: skip

DESCRIPTION = [
    ("EML missing", raw("eml.xml", lambda _: None)),
    ("EML unreadable", eml("</contact>", "")),
    ("EML of another kind", eml("https://eml.ecoinformatics.org/eml-2.2.0", "https://eml.ecoinformatics.org/eml-9")),
    ("EML without a dataset", lambda d: setattr(d, "eml", d.eml.replace("dataset>", "software>"))),
    ("EML without title", eml("<title>Drawn kelp counts</title>", "<title> </title>")),
    ("EML without creator", eml("creator>", "metadataProvider>")),
    ("EML without contact", eml("contact>", "publisher>")),
    ("EML without abstract", eml("Counts of kelp in quadrats at one invented reef.", "")),
    ("EML without pubDate", eml("<pubDate>2025-08-01</pubDate>", "")),
    ("agent without a name", eml("<organizationName>Drawn Reefs</organizationName>", "<electronicMailAddress>a@example.org</electronicMailAddress>")),
    ("EML without a licence", lambda d: setattr(d, "eml", d.eml[: d.eml.index("<intell")] + d.eml[d.eml.index("<coverage>") :])),
    ("licence not taken", eml("publicdomain/zero/1.0", "licenses/by-sa/4.0")),
    ("EML without packageId", eml('packageId="drawn/v1" ', "")),
    ("date in EML unreadable", eml("2025-08-01</pubDate>", "2025-08</pubDate>")),
    ("box impossible", eml("50.11</north", "95.0</north")),
    ("period backwards", eml("2025-12-31", "2024-12-31")),
    ("update frequency unknown", eml("annually", "sometimes")),
    ("EML out of order", eml("    <language>en</language>\n", "<purpose><para>x</para></purpose><language>en</language>")),
    ("EML without citation", eml("citation", "bibliography")),
]  # fmt: skip


@pytest.fixture(scope="module")
def whole(tmp_path_factory) -> Verdict:
    """What the gate says of the archive before anything is broken."""
    return check(draft().zipped(tmp_path_factory.mktemp("gate") / "whole.zip"), TODAY)


def test_the_mended_twin_has_nothing_found(whole):
    """The archive that every other test breaks in one place has no finding, and may leave."""
    assert names(whole) == []
    assert whole.may_leave
    assert dict(whole.rows) == {"event.txt": 5, "occurrence.txt": 3, "emof.txt": 2, "humboldt.txt": 1}


@pytest.mark.parametrize(("rule", "spoil"), STRUCTURE + ROWS, ids=lambda x: x if isinstance(x, str) else "")
def test_broken_in_one_place_is_told_for_that_reason(rule, spoil, tmp_path):
    """An archive with one fault has that one finding, and leaves only when no repository would drop or refuse for it."""
    broken = draft()
    spoil(broken)
    verdict = check(broken.zipped(tmp_path / "broken.zip"), TODAY)
    assert [n for n in names(verdict) if not n.endswith("not given")] == [rule]
    assert verdict.may_leave == (verdict.worst(verdict.findings[0]) < Effect.DROPS)


@pytest.mark.parametrize(("rule", "spoil"), DESCRIPTION, ids=lambda x: x if isinstance(x, str) else "")
def test_a_description_broken_in_one_place_is_told_for_that_reason(rule, spoil, tmp_path):
    """A metadata document with one fault has that one finding; as it was, it has none."""
    broken, hits, unbroken = draft(), Hits(), Hits()
    spoil(broken)
    for some, told in ((broken, hits), (draft(), unbroken)):
        with opened(some.zipped(tmp_path / "some.zip"), told) as archive:
            eml_rules.check(archive, "eml.xml", None, told, [])
    assert [f.rule.name for f in hits.findings()] == [rule]
    assert unbroken.findings() == ()


def test_every_rule_about_rows_has_an_archive_that_breaks_it():
    """Each rule about rows is broken by one of the cases; wishes for a term by the test below."""
    told = {r.name for r in RULES if not r.name.endswith("not given")}
    assert told - {name for name, _ in ROWS} == {"eventDate before 1582"}
