"""The names of terms and kinds of row that repositories read, by namespace; and how a term's IRI becomes a column.

Names alone, as they stand in: Darwin Core terms of 2026-05-26 (tdwg/dwc, CC BY 4.0), the GBIF core and extension
definitions of 2025-07-10 and OBIS's ExtendedMeasurementOrFact of 2023-08-28 (rs.gbif.org), Humboldt (tdwg/hc).
"""

DWC = "http://rs.tdwg.org/dwc/terms/"
ECO = "http://rs.tdwg.org/eco/terms/"
OBIS_TERMS = "http://rs.iobis.org/obis/terms/"
DCTERMS = "http://purl.org/dc/terms/"
DC = "http://purl.org/dc/elements/1.1/"

EVENT = DWC + "Event"
OCCURRENCE = DWC + "Occurrence"
EMOF = OBIS_TERMS + "ExtendedMeasurementOrFact"
MOF = DWC + "MeasurementOrFact"
HUMBOLDT = ECO + "Event"
ROLES = {EVENT: "event", OCCURRENCE: "occurrence", EMOF: "measured", MOF: "measured", HUMBOLDT: "scope"}

_DWC = """
acceptedNameUsage acceptedNameUsageID agentID agentRemarks agentRoleOrder agentType assayType assertionBy
assertionEffectiveDate assertionError assertionID assertionMadeDate assertionProtocols assertionReferences
assertionRemarks assertionType assertionUnit assertionValue associatedMedia associatedOccurrences associatedOrganisms
associatedReferences associatedSequences associatedTaxa basisOfRecord bed behavior caste catalogNumber causeOfDeath
class collectionCode collectionID continent coordinatePrecision coordinateUncertaintyInMeters country countryCode
county cultivarEpithet dataGeneralizations datasetID datasetName dateIdentified day decimalLatitude decimalLongitude
degreeOfEstablishment digitalSpecimenID discipline disposition dynamicProperties earliestAgeOrLowestStage
earliestEonOrLowestEonothem earliestEpochOrLowestSeries earliestEraOrLowestErathem earliestPeriodOrLowestSystem
endDayOfYear establishmentMeans eventCategory eventDate eventID eventRemarks eventTime eventType family feedbackURL
fieldNotes fieldNumber footprintSRS footprintSpatialFit footprintWKT formation fundingAttributionID genericName genus
geodeticDatum geologicalContextID georeferenceProtocol georeferenceRemarks georeferenceSources
georeferenceVerificationStatus georeferencedBy georeferencedDate group habitat higherClassification higherGeography
higherGeographyID highestBiostratigraphicZone identificationID identificationQualifier identificationReferences
identificationRemarks identificationType identificationVerificationStatus identifiedBy identifiedByID individualCount
informationWithheld infragenericEpithet infraspecificEpithet institutionCode institutionID isAcceptedIdentification
island islandGroup kingdom latestAgeOrHighestStage latestEonOrHighestEonothem latestEpochOrHighestSeries
latestEraOrHighestErathem latestPeriodOrHighestSystem lifeStage lithostratigraphicTerms locality locationAccordingTo
locationID locationRemarks lowestBiostratigraphicZone materialEntityCategory materialEntityID materialEntityRemarks
materialEntityType materialSampleID maximumDepthInMeters maximumDistanceAboveSurfaceInMeters maximumElevationInMeters
measurementAccuracy measurementDeterminedBy measurementDeterminedDate measurementID measurementMethod
measurementRemarks measurementType measurementUnit measurementValue member minimumDepthInMeters
minimumDistanceAboveSurfaceInMeters minimumElevationInMeters molecularProtocolID month municipality nameAccordingTo
nameAccordingToID namePublishedIn namePublishedInID namePublishedInYear nomenclaturalCode nomenclaturalStatus
nucleotideSequenceRemarks objectQuantity objectQuantityType occurrenceID occurrenceRemarks occurrenceStatus order
organismID organismInteractionDescription organismInteractionID organismInteractionType organismName organismQuantity
organismQuantityType organismRemarks organismScope originalNameUsage originalNameUsageID otherCatalogNumbers
ownerInstitutionCode parentEventID parentMeasurementID parentNameUsage parentNameUsageID pathway phylum
pointRadiusSpatialFit preferredSpatialRepresentation preparations previousIdentifications processedTotalReadCount
projectID projectTitle protocolDescription protocolID protocolReferences protocolRemarks protocolType readCount
recordNumber recordedBy recordedByID referenceID referenceRemarks referenceType relatedResourceID
relationshipAccordingTo relationshipEstablishedDate relationshipOfResource relationshipOfResourceID
relationshipRemarks reproductiveCondition resourceID resourceRelationshipID sampleSizeUnit sampleSizeValue
sampledSubstrateCategory sampledSubstrateLayer samplingEffort samplingProtocol scientificName scientificNameAuthorship
scientificNameID sequence sex siteNumber specificEpithet startDayOfYear stateProvince subfamily subgenus subtribe
superfamily taxonConceptID taxonFormula taxonID taxonRank taxonRemarks taxonomicStatus tribe typeOfType typeStatus
typifiedName verbatimAssertionType verbatimCoordinateSystem verbatimCoordinates verbatimDepth verbatimElevation
verbatimEventDate verbatimIdentification verbatimLabel verbatimLatitude verbatimLocality verbatimLongitude
verbatimMeasurementType verbatimSRS verbatimTaxonRank vernacularName verticalDatum vitality waterBody year
"""
_ECO = """
absentTaxa abundanceCap areNonTargetTaxaFullyReported compilationSourceTypes compilationTypes eventDurationUnit
eventDurationValue excludedDegreeOfEstablishmentScope excludedGrowthFormScope excludedHabitatScope
excludedLifeStageScope excludedTaxonomicScope geospatialScopeAreaUnit geospatialScopeAreaValue hasMaterialSamples
hasNonTargetOrganisms hasNonTargetTaxa hasVouchers inventoryTypes isAbsenceReported isAbundanceCapReported
isAbundanceReported isDegreeOfEstablishmentScopeFullyReported isGrowthFormScopeFullyReported
isLeastSpecificTargetCategoryQuantityInclusive isLifeStageScopeFullyReported isSamplingEffortReported
isTaxonomicScopeFullyReported isVegetationCoverReported materialSampleTypes nonTargetTaxa protocolDescriptions
protocolNames protocolReferences reportedExtremeConditions reportedWeather samplingEffortProtocol samplingEffortUnit
samplingEffortValue samplingPerformedBy siteCount siteNestingDescription targetDegreeOfEstablishmentScope
targetGrowthFormScope targetHabitatScope targetLifeStageScope targetTaxonomicScope taxonCompletenessProtocols
taxonCompletenessReported totalAreaSampledUnit totalAreaSampledValue verbatimSiteDescriptions verbatimSiteNames
verbatimTargetScope voucherInstitutions
"""

TERMS = {
    DWC: frozenset(_DWC.split()),
    ECO: frozenset(_ECO.split()),
    OBIS_TERMS: frozenset(("measurementTypeID", "measurementValueID", "measurementUnitID")),
    DCTERMS: frozenset(
        (
            "accessRights",
            "bibliographicCitation",
            "language",
            "license",
            "modified",
            "references",
            "rightsHolder",
            "type",
        )
    ),
    DC: frozenset(("language", "type")),
}


def parted(iri: str) -> tuple[str, str]:
    """An IRI as namespace and name."""
    cut = max(iri.rfind("/"), iri.rfind("#")) + 1
    return iri[:cut], iri[cut:]


def column_of(iri: str) -> str | None:
    """The column a term becomes, None when it is on no list."""
    namespace, name = parted(iri)
    return name if name in TERMS.get(namespace, ()) else None


def is_unknown(iri: str) -> bool:
    """Whether a term's namespace is one whose terms we know, and it is none of them.

    Of other namespaces (species profiles, multimedia, genetics) nothing is claimed, save the old addresses of ours.
    """
    namespace, name = parted(iri)
    return name not in TERMS.get(namespace, (name,))


def meant(iri: str) -> str:
    """The known term of the same name, "" without one."""
    name = parted(iri)[1]
    return next((namespace + name for namespace, names in TERMS.items() if name in names), "")
