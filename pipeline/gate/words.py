"""Controlled words that the rules compare with: names alone, each with the list it stands in."""

# GBIF's basis of record of 2024-02-19; OBIS's code loads that of 2022-02-02, which lacks MaterialEntity.
BASIS_OBIS = (
    "PreservedSpecimen", "FossilSpecimen", "LivingSpecimen", "HumanObservation", "MachineObservation", "MaterialSample",
    "Occurrence", "MaterialCitation",
)  # fmt: skip
BASIS_GBIF = (*BASIS_OBIS, "MaterialEntity")

# rs.tdwg.org establishmentMeans, degreeOfEstablishment and pathway, as of 2026-05-26.
ESTABLISHMENT = (
    "native", "nativeReintroduced", "introduced", "introducedAssistedColonisation", "vagrant", "uncertain", "nativeEndemic",
)  # fmt: skip
DEGREE = (
    "native", "captive", "cultivated", "released", "failing", "casual", "reproducing", "established", "colonising",
    "invasive", "widespreadInvasive",
)  # fmt: skip
PATHWAY = (
    "biologicalControl", "erosionControl", "fisheryInTheWild", "hunting", "landscapeImprovement",
    "conservationOrWildlifeManagement", "releasedForUse", "otherIntentionalRelease", "agriculture", "aquacultureMariculture",
    "publicGardenZooAquaria", "pet", "farmedAnimals", "forestry", "fur", "horticulture", "ornamentalNonHorticulture",
    "research", "liveFoodLiveBait", "otherEscape", "contaminantNursery", "contaminateBait", "foodContaminant",
    "contaminantOnAnimals", "parasitesOnAnimals", "contaminantOnPlants", "parasitesOnPlants", "seedContaminant",
    "timberTrade", "transportationHabitatMaterial", "fishingEquipment", "containerBulk", "hitchhikersAirplane",
    "hitchhikersShip", "machineryEquipment", "people", "packingMaterial", "ballastWater", "hullFouling", "vehicles",
    "otherTransport", "waterwaysBasinsSeas", "tunnelsBridges", "naturalDispersal", "releaseInNature",
    "escapeFromConfinement", "transportContaminant", "transportStowaway", "corridor", "unaided", "intentional",
    "unintentional", "corridorAndDispersal",
)  # fmt: skip

# GBIF's quantity types of 2023-02-28, units of 2015-07-10 (and TDWG's own spelling with a blank), and life stages.
QUANTITY = (
    "percentageOfSpecies", "percentageOfBiovolume", "percentageOfBiomass", "percentageCoverage", "individuals", "dominScale",
    "braunBlanquetScale", "biomassAFDG", "biomassG", "biomassKg", "biovolumeCubicMicrons", "biovolumeMl", "dnaSequenceReads",
)  # fmt: skip
SCALES = ("dominScale", "braunBlanquetScale")  # told in signs, not numbers
UNITS = (
    "millimetre", "square_millimetre", "cubic_millimetre", "centimetre", "square_centimetre", "cubic_centimetre", "metre",
    "square_metre", "cubic_metre", "kilometre", "square_kilometre", "cubic_kilometre", "microlitre", "litre", "hectare",
    "millisecond-time", "second-time", "minute", "hour", "day",
)  # fmt: skip
LIFE_STAGES = (
    "zygote", "embryo", "larva", "juvenile", "adult", "sporophyte", "spore", "gametophyte", "gamete", "pupa",
)  # fmt: skip

# The licences that GBIF takes (its License enum; http or https, with or without /legalcode); OBIS names the same three.
LICENCE = r"https?://creativecommons\.org/(publicdomain/zero/1\.0|licenses/by/4\.0|licenses/by-nc/4\.0)(/|/legalcode)?"

# EML 2.2's maintUpFreqType.
FREQUENCIES = (
    "annually", "asNeeded", "biannually", "continually", "daily", "irregular", "monthly", "notPlanned", "weekly", "unknown",
    "unkown", "otherMaintenancePeriod",
)  # fmt: skip

# Humboldt extension, GBIF definition of 2025-07-10.
INVENTORIES = ("restrictedSearch", "openSearch", "opportunisticSearch", "adventitious", "compilation")
COMPLETENESS = ("notReported", "reportedComplete", "reportedIncomplete")
BOOLEANS = (
    "isTaxonomicScopeFullyReported", "isAbsenceReported", "hasNonTargetTaxa", "areNonTargetTaxaFullyReported",
    "isLifeStageScopeFullyReported", "isDegreeOfEstablishmentScopeFullyReported", "isGrowthFormScopeFullyReported",
    "hasNonTargetOrganisms", "isAbundanceReported", "isAbundanceCapReported", "isVegetationCoverReported",
    "isLeastSpecificTargetCategoryQuantityInclusive", "hasVouchers", "hasMaterialSamples", "isSamplingEffortReported",
)  # fmt: skip
MEASURES = ("geospatialScopeArea", "totalAreaSampled", "eventDuration", "samplingEffort")  # each ...Value with ...Unit


def sql_list(words: tuple[str, ...]) -> str:
    """Words as SQL writes a list of them."""
    return "(" + ", ".join(f"'{w}'" for w in words) + ")"
