"""The archive's metadata as EML 2.2.0 within GBIF's profile 1.3: one document that is valid against both schemas."""

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import dataclass

from lxml import etree

from pipeline.archive.codes import LICENCE_NAMES, LICENCE_URLS

EML = "https://eml.ecoinformatics.org/eml-2.2.0"
_XSI = "http://www.w3.org/2001/XMLSchema-instance"
_PROFILE = "https://rs.gbif.org/schema/eml-gbif-profile/1.3/eml.xsd"
_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")  # XML 1.0, 2.2
_DIGEST = "Digest of what stands in the tables: {}."
_OWN_CITATION = "a Darwin Core Archive"  # the end of the citation where the programme wrote none
ORCID = "https://orcid.org/"
_THESAURUS = "GBIF Dataset Type Vocabulary: http://rs.gbif.org/vocabulary/gbif/dataset_type_2015-07-10.xml"


@dataclass(frozen=True)
class Person:
    """Somebody who consented to be named. orcid "": none was given."""

    name: str
    orcid: str
    role: str


@dataclass(frozen=True)
class Metadata:
    """What the document says. Texts are "" where nothing is said.

    pub_date  the last day that the data tell of; a programme may say another one. box: west, east, north, south in degrees.
    taxa      rank and name of everything that was seen or searched for. steps: methods, a paragraph each.
    left_out  what is not in the archive and why, a sentence each.
    """

    identifier: str
    title: str
    abstract: str
    organisation: str
    email: str
    url: str
    language: str
    licence: str
    rights: str
    pub_date: dt.date
    area: str
    box: tuple[str, str, str, str]
    first: dt.date
    last: dt.date
    taxa: Sequence[tuple[str, str]]
    steps: Sequence[str]
    sampling: str
    quality: str
    keywords: Sequence[str] = ()
    purpose: str = ""
    citation: str = ""
    funding: str = ""
    maintenance: str = ""
    update_frequency: str = "unknown"
    people: Sequence[Person] = ()
    left_out: Sequence[str] = ()


def eml_xml(told: Metadata, version: int, digest: str) -> bytes:
    """The document, for that version; the same bytes for the same words. digest: of what stands in the tables."""
    root = etree.Element(f"{{{EML}}}eml", nsmap={"eml": EML, "xsi": _XSI})
    root.set(f"{{{_XSI}}}schemaLocation", f"{EML} {_PROFILE}")
    root.set("packageId", f"{told.identifier}/v{version}")
    root.set("system", "https://eml.ecoinformatics.org")
    root.set("scope", "system")
    dataset = _add(root, "dataset")
    _add(dataset, "alternateIdentifier", told.identifier)
    _add(dataset, "title", told.title)
    for role in ("creator", "metadataProvider"):
        _party(_add(dataset, role), told)
    for person in told.people:
        _person(_add(dataset, "associatedParty"), person)
    _add(dataset, "pubDate", told.pub_date.isoformat())
    _add(dataset, "language", told.language)
    _paragraphs(_add(dataset, "abstract"), told.abstract)
    for words, thesaurus in ((("samplingEvent",), _THESAURUS), (told.keywords, "none")):
        if words:
            held = _add(dataset, "keywordSet")
            for word in words:
                _add(held, "keyword", word)
            _add(held, "keywordThesaurus", thesaurus)
    said = [*told.left_out, *([_DIGEST.format(digest)] if digest else [])]
    if said:
        _add(_add(dataset, "additionalInfo"), "para", " ".join(said))
    _licence(dataset, told)
    _coverage(_add(dataset, "coverage"), told)
    if told.purpose:
        _add(_add(dataset, "purpose"), "para", told.purpose)
    kept = _add(dataset, "maintenance")
    _add(
        _add(kept, "description"),
        "para",
        told.maintenance or "New versions tell of what was added, changed, withdrawn.",
    )
    _add(kept, "maintenanceUpdateFrequency", told.update_frequency)
    _party(_add(dataset, "contact"), told)
    _methods(_add(dataset, "methods"), told)
    _project(_add(dataset, "project"), told)
    _gbif(root, told, version)
    made: bytes = etree.tostring(root, xml_declaration=True, encoding="UTF-8", pretty_print=True)
    return made


def as_unnumbered(document: bytes, version: int, digest: str) -> bytes:
    """The document that `eml_xml` makes of the same words for no version: what is said, apart from how often."""
    return (
        document.replace(f'/v{version}"'.encode(), b'/v0"', 1)
        .replace(_numbered(version).encode(), _numbered(0).encode())
        .replace(f" {_DIGEST.format(digest)}".encode(), b"", 1)
    )


def _numbered(version: int) -> str:
    return f" Version {version} of {_OWN_CITATION}."


def _add(parent: etree._Element, name: str, text: str = "") -> etree._Element:
    made = etree.SubElement(parent, name)
    if text:
        made.text = " ".join(_NOT_XML.sub(" ", text).split())
    return made


def _paragraphs(parent: etree._Element, text: str) -> None:
    for paragraph in text.split("\n\n"):
        if paragraph.strip():
            _add(parent, "para", paragraph)


def _party(party: etree._Element, told: Metadata) -> None:
    _add(party, "organizationName", told.organisation)
    if told.email:
        _add(party, "electronicMailAddress", told.email)
    if told.url:
        _add(party, "onlineUrl", told.url)


def _person(party: etree._Element, person: Person) -> None:
    given, _, family = person.name.rpartition(" ")
    name = _add(party, "individualName")
    if given:
        _add(name, "givenName", given)
    _add(name, "surName", family)
    if person.orcid:
        _add(party, "userId", person.orcid.removeprefix(ORCID)).set("directory", ORCID)
    _add(party, "role", person.role)


def _licence(dataset: etree._Element, told: Metadata) -> None:
    url, name = LICENCE_URLS[told.licence], LICENCE_NAMES[told.licence]
    para = _add(_add(dataset, "intellectualRights"), "para")
    para.text = f"{told.rights} This work is licensed under a " if told.rights else "This work is licensed under a "
    link = etree.SubElement(para, "ulink", url=url)
    _add(link, "citetitle", name)
    link.tail = "."
    licensed = _add(dataset, "licensed")
    _add(licensed, "licenseName", name)
    _add(licensed, "url", f"https://spdx.org/licenses/{told.licence}.html")
    _add(licensed, "identifier", told.licence)


def _coverage(coverage: etree._Element, told: Metadata) -> None:
    where = _add(coverage, "geographicCoverage")
    _add(where, "geographicDescription", told.area)
    bounds = _add(where, "boundingCoordinates")
    for name, value in zip(("west", "east", "north", "south"), told.box, strict=True):
        _add(bounds, f"{name}BoundingCoordinate", value)
    span = _add(_add(coverage, "temporalCoverage"), "rangeOfDates")
    _add(_add(span, "beginDate"), "calendarDate", told.first.isoformat())
    _add(_add(span, "endDate"), "calendarDate", told.last.isoformat())
    if told.taxa:
        taxa = _add(coverage, "taxonomicCoverage")
        _add(taxa, "generalTaxonomicCoverage", "What was seen, and what was searched for.")
        for rank, name in told.taxa:
            one = _add(taxa, "taxonomicClassification")
            if rank:
                _add(one, "taxonRankName", rank)
            _add(one, "taxonRankValue", name)


def _methods(methods: etree._Element, told: Metadata) -> None:
    for step in told.steps:
        _add(_add(_add(methods, "methodStep"), "description"), "para", step)
    sampling = _add(methods, "sampling")
    _add(_add(_add(sampling, "studyExtent"), "description"), "para", told.area)
    _add(_add(sampling, "samplingDescription"), "para", told.sampling)
    _add(_add(_add(methods, "qualityControl"), "description"), "para", told.quality)


def _project(project: etree._Element, told: Metadata) -> None:
    _add(project, "title", told.title)
    personnel = _add(project, "personnel")
    _party(personnel, told)
    _add(personnel, "role", "pointOfContact")
    _paragraphs(_add(project, "abstract"), told.abstract)
    if told.funding:
        _add(_add(project, "funding"), "para", told.funding)


def _gbif(root: etree._Element, told: Metadata, version: int) -> None:
    gbif = _add(_add(_add(root, "additionalMetadata"), "metadata"), "gbif")
    _add(gbif, "dateStamp", f"{told.pub_date.isoformat()}T00:00:00Z")
    _add(gbif, "hierarchyLevel", "dataset")
    own = f"{told.organisation} ({told.pub_date.year}): {told.title}.{_numbered(version)}"
    _add(gbif, "citation", told.citation or own)  # OBIS requires one
