"""A small Darwin Core Archive in which the gate finds nothing, as a draft that a test spoils in one place and writes.

Places are invented, in the sea; species and their WoRMS ids are real (standards reference, 3).
"""

import csv
import io
import zipfile
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from xml.sax.saxutils import quoteattr

from pipeline.gate.terms import DC, DCTERMS, DWC, ECO, EMOF, EVENT, HUMBOLDT, OBIS_TERMS, OCCURRENCE

P01, P06 = "http://vocab.nerc.ac.uk/collection/P01/current/", "http://vocab.nerc.ac.uk/collection/P06/current/"
LSID = "urn:lsid:marinespecies.org:taxname:"
CC0 = "http://creativecommons.org/publicdomain/zero/1.0/legalcode"
WHERE = {
    "decimalLatitude": "50.1000", "decimalLongitude": "-4.3000", "geodeticDatum": "EPSG:4326",
    "coordinateUncertaintyInMeters": "30", "coordinatePrecision": "0.0001", "countryCode": "GB",
    "footprintWKT": "POLYGON ((-4.31 50.09, -4.29 50.09, -4.29 50.11, -4.31 50.11, -4.31 50.09))",
    "minimumDepthInMeters": "5", "maximumDepthInMeters": "7", "locationID": "reef-1", "type": "Event",
    "license": CC0, "year": "2025",
}  # fmt: skip
EFFORT = {
    "samplingProtocol": "quadrats by divers", "sampleSizeValue": "0.25", "sampleSizeUnit": "square_metre",
    "samplingEffort": "10 diver-minutes",
}  # fmt: skip
NAMESPACES = {
    "type": DC, "license": DCTERMS, "modified": DCTERMS, "measurementTypeID": OBIS_TERMS, "measurementUnitID": OBIS_TERMS,
    "measurementValueID": OBIS_TERMS,
}  # fmt: skip


def event(id: str, parent: str, kind: str, day: str, **more: str) -> dict[str, str]:
    """A row of the core."""
    return {"id": id, "eventID": id, "parentEventID": parent, "eventType": kind, "eventDate": day, **WHERE, **more}


def occurrence(id: str, of: str, name: str, number: int, count: str) -> dict[str, str]:
    """A row of the occurrences."""
    return {
        "id": of, "eventID": of, "occurrenceID": id, "basisOfRecord": "HumanObservation", "scientificName": name,
        "scientificNameID": f"{LSID}{number}", "taxonRank": "species", "kingdom": "Chromista", "genus": name.partition(" ")[0],
        "order": "Laminariales", "individualCount": count, "occurrenceStatus": "present" if int(count) else "absent",
        "establishmentMeans": "native", "degreeOfEstablishment": "native", "lifeStage": "juvenile",
        "dateIdentified": "2025-07-12",
    }  # fmt: skip


def measured(
    id: str, of: str, occurrence: str, kind: str, value: str, unit: str, codes: tuple[str, str]
) -> dict[str, str]:
    """A row of the measurements."""
    return {
        "id": of, "measurementID": id, "occurrenceID": occurrence, "measurementType": kind, "measurementValue": value,
        "measurementUnit": unit, "measurementTypeID": f"{P01}{codes[0]}/", "measurementUnitID": f"{P06}{codes[1]}/",
    }  # fmt: skip


EML = """<?xml version="1.0" encoding="UTF-8"?>
<eml:eml xmlns:eml="https://eml.ecoinformatics.org/eml-2.2.0" packageId="drawn/v1" system="https://example.org" scope="system">
  <dataset>
    <title>Drawn kelp counts</title>
    <creator><individualName><givenName>Ada</givenName><surName>Tern</surName></individualName></creator>
    <pubDate>2025-08-01</pubDate>
    <language>en</language>
    <abstract><para>Counts of kelp in quadrats at one invented reef.</para></abstract>
    <intellectualRights><para>To the public domain, <ulink url="http://creativecommons.org/publicdomain/zero/1.0/legalcode"><citetitle>CC0 1.0</citetitle></ulink>.</para></intellectualRights>
    <coverage>
      <geographicCoverage><geographicDescription>A reef</geographicDescription><boundingCoordinates>
        <westBoundingCoordinate>-4.31</westBoundingCoordinate><eastBoundingCoordinate>-4.29</eastBoundingCoordinate>
        <northBoundingCoordinate>50.11</northBoundingCoordinate><southBoundingCoordinate>50.09</southBoundingCoordinate>
      </boundingCoordinates></geographicCoverage>
      <temporalCoverage><rangeOfDates><beginDate><calendarDate>2025-01-01</calendarDate></beginDate><endDate><calendarDate>2025-12-31</calendarDate></endDate></rangeOfDates></temporalCoverage>
    </coverage>
    <maintenance><description><para>Every year.</para></description><maintenanceUpdateFrequency>annually</maintenanceUpdateFrequency></maintenance>
    <contact><organizationName>Drawn Reefs</organizationName></contact>
  </dataset>
  <additionalMetadata><metadata><gbif><dateStamp>2025-08-01T00:00:00Z</dateStamp><citation identifier="drawn">Drawn kelp counts, version 1</citation></gbif></metadata></additionalMetadata>
</eml:eml>
"""


@dataclass
class Draft:
    """An archive to be written: rows by file, and texts that a test may change.

    meta: changes to the text of meta.xml, made in order. raw: files put in as they are, over what the rows would give.
    """

    event: list[dict[str, str]]
    occurrence: list[dict[str, str]]
    emof: list[dict[str, str]]
    humboldt: list[dict[str, str]]
    eml: str = EML
    meta: list[Callable[[str], str]] = field(default_factory=list)
    raw: dict[str, bytes | None] = field(default_factory=dict)

    def files(self) -> dict[str, bytes]:
        """Every file of the archive by its name."""
        tables = (
            ("core", EVENT, "event.txt", self.event), ("extension", OCCURRENCE, "occurrence.txt", self.occurrence),
            ("extension", EMOF, "emof.txt", self.emof), ("extension", HUMBOLDT, "humboldt.txt", self.humboldt),
        )  # fmt: skip
        meta = f'<archive xmlns="http://rs.tdwg.org/dwc/text/" metadata="eml.xml">\n{"".join(described(*t) for t in tables)}</archive>\n'
        for change in self.meta:
            changed = change(meta)
            assert changed != meta, "the test changes nothing"
            meta = changed
        made: dict[str, bytes | None] = {"meta.xml": meta.encode(), "eml.xml": self.eml.encode()}
        made |= {name: written(rows) for _, _, name, rows in tables}
        return {name: data for name, data in (made | self.raw).items() if data is not None}

    def zipped(self, path: Path) -> Path:
        """The archive as a zip file."""
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as z:
            for name, data in self.files().items():
                z.writestr(name, data)
        return path

    def folder(self, path: Path) -> Path:
        """The archive as a folder."""
        for name, data in self.files().items():
            (path / name).parent.mkdir(parents=True, exist_ok=True)
            (path / name).write_bytes(data)
        return path


def described(element: str, row_type: str, name: str, rows: list[dict[str, str]]) -> str:
    """One core or extension of meta.xml."""
    space = ECO if row_type == HUMBOLDT else DWC
    fields = "".join(
        f"    <field index={quoteattr(str(i))} term={quoteattr(NAMESPACES.get(term, space) + term)}/>\n"
        for i, term in enumerate(columns(rows))
        if term != "id"
    )
    key = "id" if element == "core" else "coreid"
    return (
        f'  <{element} rowType="{row_type}" encoding="UTF-8" fieldsTerminatedBy="\\t" linesTerminatedBy="\\n" '
        f'fieldsEnclosedBy="" ignoreHeaderLines="1">\n    <files><location>{name}</location></files>\n'
        f'    <{key} index="0"/>\n{fields}  </{element}>\n'
    )


def columns(rows: list[dict[str, str]]) -> list[str]:
    """All columns that any row has, the id first."""
    return list(dict.fromkeys(c for row in rows for c in row))


def written(rows: list[dict[str, str]]) -> bytes:
    """Rows as tab-separated text below their headings."""
    text = io.StringIO(newline="")
    out = csv.writer(text, delimiter="\t", quoting=csv.QUOTE_NONE, quotechar=None, lineterminator="\n")
    out.writerow(columns(rows))
    out.writerows([[row.get(c, "") for c in columns(rows)] for row in rows])
    return text.getvalue().encode()


def draft() -> Draft:
    """The archive in which nothing is to be found."""
    seen = {"month": "7", **EFFORT}
    return Draft(
        event=[
            event("kelp", "", "Project", "2025-01-01/2025-12-31"),
            event("kelp:reef", "kelp", "Site", "2025-01-01/2025-12-31"),
            event("kelp:reef:v1", "kelp:reef", "Site Visit", "2025-07-12", month="7"),
            event("kelp:reef:v1:q1", "kelp:reef:v1", "quadrat", "2025-07-12", **seen),
            event("kelp:reef:v1:q2", "kelp:reef:v1", "quadrat", "2025-07-12", **seen),
        ],
        occurrence=[
            occurrence("o1", "kelp:reef:v1:q1", "Saccharina latissima", 234483, "7"),
            occurrence("o2", "kelp:reef:v1:q1", "Laminaria digitata", 145724, "2"),
            occurrence("o3", "kelp:reef:v1:q2", "Saccharina latissima", 234483, "0"),
        ],
        emof=[
            measured("m1", "kelp:reef:v1:q1", "o1", "density", "28", "number per square metre", ("SDBIOL02", "UPMS")),
            measured("m2", "kelp:reef:v1:q1", "", "area of the quadrat", "0.25", "square metre", ("AREABEDS", "UMSQ")),
        ],
        humboldt=[
            {
                "id": "kelp:reef:v1:q2", "targetTaxonomicScope": "Saccharina latissima | Laminaria digitata",
                "isTaxonomicScopeFullyReported": "true", "isAbsenceReported": "true", "totalAreaSampledValue": "0.25",
                "totalAreaSampledUnit": "m²", "geospatialScopeAreaValue": "100", "geospatialScopeAreaUnit": "m²",
                "inventoryTypes": "restrictedSearch", "taxonCompletenessReported": "reportedComplete",
            }
        ],
    )  # fmt: skip
