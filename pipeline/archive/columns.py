"""The tables of an archive: their columns in order, each with its open-standard term and its type.

Row types and terms: Darwin Core text guide (issued 2023-09-13), GBIF core and extension files of 2025-07-10 (Event,
Occurrence, Humboldt) and of 2023-08-28 (ExtendedMeasurementOrFact).
"""

from dataclasses import dataclass

DWC = "http://rs.tdwg.org/dwc/terms/"
DCTERMS = "http://purl.org/dc/terms/"
DC = "http://purl.org/dc/elements/1.1/"
OBIS = "http://rs.iobis.org/obis/terms/"
ECO = "http://rs.tdwg.org/eco/terms/"
_SPACES = {"dcterms": DCTERMS, "dc": DC, "obis": OBIS, "eco": ECO, "dwc": DWC}


@dataclass(frozen=True)
class Column:
    """A column of a file; `term` "": it is not part of Darwin Core's mapping. type: as in a Frictionless Table Schema."""

    name: str
    term: str
    type: str = "string"


@dataclass(frozen=True)
class Table:
    """A file of the archive: its row type, its columns, and the column that is unique in it."""

    name: str
    row_type: str
    key: str
    columns: tuple[Column, ...]

    @property
    def file(self) -> str:
        """Its name in the archive."""
        return f"{self.name}.csv"

    @property
    def names(self) -> list[str]:
        """Its columns' names in order."""
        return [c.name for c in self.columns]


_NUMBERS = {
    "decimalLatitude", "decimalLongitude", "coordinateUncertaintyInMeters", "coordinatePrecision", "minimumDepthInMeters",
    "maximumDepthInMeters", "sampleSizeValue", "organismQuantity", "geospatialScopeAreaValue", "totalAreaSampledValue",
    "samplingEffortValue", "eventDurationValue",
}  # fmt: skip
_TRUTHS = {
    "isTaxonomicScopeFullyReported", "isAbsenceReported", "hasNonTargetTaxa", "areNonTargetTaxaFullyReported",
    "isAbundanceReported", "isVegetationCoverReported", "isLeastSpecificTargetCategoryQuantityInclusive",
    "isSamplingEffortReported", "isLifeStageScopeFullyReported", "hasMaterialSamples", "isAbundanceCapReported",
}  # fmt: skip


def _type(name: str) -> str:
    if name in _TRUTHS:
        return "boolean"
    return (
        "integer" if name in ("individualCount", "year", "month", "day") else "number" if name in _NUMBERS else "string"
    )


def _columns(default: str, names: str) -> tuple[Column, ...]:
    """Columns from words such as `eventID dc:type`; `-name` stands in the file without being mapped."""
    made = []
    for word in names.split():
        space, _, name = word.rpartition(":")
        bare = name.removeprefix("-")
        made.append(Column(bare, "" if name != bare else _SPACES[space or default] + bare, _type(bare)))
    return tuple(made)


EVENT = Table(
    "event",
    DWC + "Event",
    "eventID",
    _columns(
        "dwc",
        """eventID parentEventID eventType dc:type eventDate year month day habitat samplingProtocol sampleSizeValue sampleSizeUnit
        samplingEffort eventRemarks locationID locality waterBody countryCode minimumDepthInMeters maximumDepthInMeters
        decimalLatitude decimalLongitude geodeticDatum coordinateUncertaintyInMeters coordinatePrecision footprintWKT
        footprintSRS georeferenceRemarks informationWithheld dataGeneralizations dcterms:license dcterms:rightsHolder""",
    ),
)
OCCURRENCE = Table(
    "occurrence",
    DWC + "Occurrence",
    "occurrenceID",
    _columns(
        "dwc",
        """eventID occurrenceID basisOfRecord occurrenceStatus scientificName scientificNameID scientificNameAuthorship
        taxonRank kingdom genus identificationQualifier identifiedBy recordedBy recordedByID individualCount organismQuantity
        organismQuantityType lifeStage reproductiveCondition vitality establishmentMeans degreeOfEstablishment pathway
        occurrenceRemarks""",
    ),
)
FACT = Table(
    "extendedmeasurementorfact",
    OBIS + "ExtendedMeasurementOrFact",
    "measurementID",
    _columns(
        "dwc",
        """-eventID measurementID occurrenceID measurementType obis:measurementTypeID measurementValue
        obis:measurementValueID measurementUnit obis:measurementUnitID measurementDeterminedDate measurementMethod
        measurementRemarks""",
    ),
)
HUMBOLDT = Table(
    "humboldt",
    ECO + "Event",
    "eventID",
    _columns(
        "eco",
        """-eventID inventoryTypes protocolNames protocolDescriptions geospatialScopeAreaValue geospatialScopeAreaUnit
        totalAreaSampledValue totalAreaSampledUnit eventDurationValue eventDurationUnit targetTaxonomicScope
        isTaxonomicScopeFullyReported isAbsenceReported absentTaxa hasNonTargetTaxa nonTargetTaxa
        areNonTargetTaxaFullyReported targetLifeStageScope isLifeStageScopeFullyReported isAbundanceReported
        isAbundanceCapReported isVegetationCoverReported isLeastSpecificTargetCategoryQuantityInclusive
        isSamplingEffortReported samplingEffortProtocol samplingEffortValue samplingEffortUnit hasMaterialSamples""",
    ),
)
CORE, EXTENSIONS = EVENT, (OCCURRENCE, FACT, HUMBOLDT)
TABLES = (EVENT, OCCURRENCE, FACT, HUMBOLDT)
