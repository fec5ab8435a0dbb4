"""The dataset's own description: EML, with the least that GBIF's profile 1.3 and OBIS ask for.

Sources: gbif/eml-profile (eml-gbif-profile.xsd) of 2024-08-27, EML 2.2.0, OBIS manual (eml.md, policy.md), GBIF's License.
"""

import re
from itertools import pairwise
from pathlib import Path
from typing import Any

from pipeline.gate import xsd
from pipeline.gate.dates import span
from pipeline.gate.markup import MOST_XML, NotMarkup, name_of, namespace_of, parse, text_of
from pipeline.gate.opened import CannotRead, Opened
from pipeline.gate.rule import Effect, Hits, Rule
from pipeline.gate.words import FREQUENCIES, LICENCE

F, L, R = Effect.FLAGS, Effect.LOWERS, Effect.REFUSES
_PROFILE = "gbif/eml-profile 1.3"
_OBIS = "OBIS manual (eml.md)"
NAMESPACES = tuple(xsd.EML_SCHEMAS)
ORDER = (
    "alternateIdentifier", "shortName", "title", "creator", "metadataProvider", "associatedParty", "pubDate", "language",
    "abstract", "keywordSet", "additionalInfo", "intellectualRights", "licensed", "distribution", "coverage", "purpose",
    "introduction", "gettingStarted", "acknowledgements", "maintenance", "contact", "publisher", "methods", "project",
    "literatureCited",
)  # fmt: skip
LEAST = {"title": (R, R), "creator": (R, R), "contact": (R, R), "abstract": (R, R), "pubDate": (F, F)}

NO_EML = Rule("EML missing", "the metadata document that meta.xml names, in the archive", R, R, f"{_OBIS}; text guide")
EML_UNREADABLE = Rule("EML unreadable", "well-formed XML without a document type", R, R, "EML 2.2.0")
NOT_EML = Rule("EML of another kind", f"a root element eml of {' or '.join(NAMESPACES)}", R, R, _PROFILE)
NO_DATASET = Rule("EML without a dataset", "a dataset in the root element", R, R, _PROFILE)
MISSING = {
    part: Rule(f"EML without {part}", f"a {part} that is not empty", *effects, f"{_PROFILE}; {_OBIS}")
    for part, effects in LEAST.items()
}
NOBODY = Rule("agent without a name", "an organisation, a surname or a position for every agent", F, F, _PROFILE)
NO_LICENCE = Rule(
    "EML without a licence", "intellectualRights or licensed, with the licence's address", R, R, "OBIS policy.md; GBIF"
)
OTHER_LICENCE = Rule(
    "licence not taken", "CC0 1.0, CC BY 4.0 or CC BY-NC 4.0, by its address", R, R, "GBIF License; OBIS policy.md"
)
NO_PACKAGE = Rule("EML without packageId", "packageId, and system, on the root element", F, F, _PROFILE)
BAD_DATE = Rule("date in EML unreadable", "2025 or 2025-07-12", F, F, f"{_PROFILE}: 2025-07 is not taken")
BAD_BOX = Rule(
    "box impossible", "west, east, north and south within the globe, north not below south", F, F, "EML 2.2.0 coverage"
)
BACKWARDS = Rule("period backwards", "a beginDate that is not after the endDate", F, F, "EML 2.2.0 coverage")
BAD_FREQUENCY = Rule(
    "update frequency unknown", f"one of {', '.join(FREQUENCIES[:4])} ...", F, F, "EML 2.2.0 maintenance"
)
OUT_OF_ORDER = Rule(
    "EML out of order", "the parts of the dataset in the profile's order", F, F, f"{_PROFILE}: wrong order fails"
)
NO_CITATION = Rule(
    "EML without citation", "a citation in additionalMetadata, as GBIF's profile has it", L, None, f"{_OBIS}: required"
)

AGENTS = ("creator", "contact", "metadataProvider", "associatedParty", "personnel", "publisher")
_EDGES = (("west", 180), ("east", 180), ("north", 90), ("south", 90))


def check(archive: Opened, name: str, standards: Path | None, hits: Hits, unchecked: list[str]) -> None:
    """Note among the hits what the metadata document lacks; nothing when meta.xml names none (a hit already)."""
    if not name:
        return
    try:
        root = parse(archive.read(name, MOST_XML))
    except (KeyError, CannotRead) as e:
        hits.add(NO_EML, name, str(e) if isinstance(e, CannotRead) else "")
        return
    except NotMarkup as e:
        hits.add(EML_UNREADABLE, name, str(e))
        return
    namespace = namespace_of(root)
    if name_of(root) != "eml" or namespace not in NAMESPACES:
        hits.add(NOT_EML, name, str(root.tag))
        return
    xsd.validate(root, name, namespace, standards, hits, unchecked)
    dataset = root.find("dataset")
    if dataset is None:
        hits.add(NO_DATASET, name)
        return
    if not root.get("packageId") or not root.get("system"):
        hits.add(NO_PACKAGE, name, str(dict(root.attrib)), root.sourceline)
    _parts(dataset, name, hits)
    _licence(dataset, name, hits)
    _coverage(dataset, name, hits)
    if root.find("additionalMetadata/metadata/gbif/citation") is None:
        hits.add(NO_CITATION, name)


def _parts(dataset: Any, name: str, hits: Hits) -> None:
    for part, rule in MISSING.items():
        if not any(text_of(e) for e in dataset.findall(part)):
            hits.add(rule, name, "", dataset.sourceline)
    for kind in AGENTS:
        for agent in dataset.iter(kind):
            told = ("organizationName", "positionName", "individualName/surName", "references")
            if text_of(agent) and not any(text_of(agent.find(t)) for t in told):
                hits.add(NOBODY, name, f"{kind}: {text_of(agent)[:60]}", agent.sourceline)
    order = [ORDER.index(n) for child in dataset if (n := name_of(child)) in ORDER]
    for before, after in pairwise(order):
        if after < before:
            hits.add(OUT_OF_ORDER, name, f"{ORDER[after]} after {ORDER[before]}", dataset.sourceline)
    for date in [*dataset.findall("pubDate"), *dataset.iter("calendarDate")]:
        text = text_of(date)
        if text and (not re.fullmatch(r"\d{4}(-\d{2}-\d{2})?", text) or isinstance(span(text), str)):
            hits.add(BAD_DATE, name, text, date.sourceline)
    for frequency in dataset.iter("maintenanceUpdateFrequency"):
        if text_of(frequency) not in FREQUENCIES:
            hits.add(BAD_FREQUENCY, name, text_of(frequency), frequency.sourceline)


def _licence(dataset: Any, name: str, hits: Hits) -> None:
    """A licence is known by its address: in a ulink, in licensed/url, or in the text itself."""
    rights = [*dataset.findall("intellectualRights"), *dataset.findall("licensed")]
    told = [text_of(e) for e in rights] + [u.get("url", "") for e in rights for u in e.iter("ulink")]
    if not any(told):
        hits.add(NO_LICENCE, name, "", dataset.sourceline)
    elif not any(re.search(LICENCE, t) for t in told):
        hits.add(OTHER_LICENCE, name, next(t for t in told if t)[:80], rights[0].sourceline)


def _coverage(dataset: Any, name: str, hits: Hits) -> None:
    for box in dataset.iter("boundingCoordinates"):
        texts = {edge: text_of(box.find(f"{edge}BoundingCoordinate")) for edge, _ in _EDGES}
        try:
            edges = {edge: float(texts[edge]) for edge, _ in _EDGES}
            fine = all(abs(edges[edge]) <= most for edge, most in _EDGES) and edges["south"] <= edges["north"]
        except ValueError:
            fine = False
        if not fine:
            hits.add(BAD_BOX, name, ", ".join(f"{edge} {text}" for edge, text in texts.items()), box.sourceline)
    for period in dataset.iter("rangeOfDates"):
        begin, end = (span(text_of(period.find(f"{e}/calendarDate"))) for e in ("beginDate", "endDate"))
        if not isinstance(begin, str) and not isinstance(end, str) and begin.first > end.last:
            hits.add(BACKWARDS, name, f"{begin.first} to {end.last}", period.sourceline)
