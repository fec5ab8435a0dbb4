"""Rules of what was seen: names, what the record rests on, presence, counts, and where it came from."""

from pipeline.gate.rule import Effect, RowRule
from pipeline.gate.words import (
    BASIS_GBIF,
    BASIS_OBIS,
    DEGREE,
    ESTABLISHMENT,
    LICENCE,
    LIFE_STAGES,
    PATHWAY,
    QUANTITY,
    SCALES,
    UNITS,
    sql_list,
)

D, F, L = Effect.DROPS, Effect.FLAGS, Effect.LOWERS
_OCC = ("occurrence",)
_FLAGS = "GBIF issues and flags (tech-docs)"
_APHIA = "obis-qc (util/aphia.py)"
_ABSENCE = "obis-qc (absence.py)"
_TERM = "Darwin Core terms of 2026-05-26"
_RS = "rs.tdwg.org vocabularies of 2026-05-26"
_LSID = r"urn:lsid:marinespecies\.org:taxname:\d+|https://www\.marinespecies\.org/aphia\.php\?p=taxdetails&id=\d+"
_COUNT, _QUANTITY, _TYPE = '"individualCount"', '"organismQuantity"', '"organismQuantityType"'
_STATUS = 'lower("occurrenceStatus")'
_PLANTED = "('captive', 'cultivated', 'released')"


def _outside(column: str, words: tuple[str, ...]) -> str:
    return f'"{column}" is not null and "{column}" not in {sql_list(words)}'


def _lower(words: tuple[str, ...]) -> str:
    return sql_list(tuple(w.lower() for w in words))


RULES = (
    RowRule(
        "scientificName missing", "the scientific name as it was recorded", D, F, "obis-qc: NO_MATCH without a name",
        of=_OCC, where='"scientificName" is null and "scientificNameID" is null', value="''",
    ),
    RowRule(
        "scientificName missing beside its id", "the scientific name, also where there is an id", F, F,
        "required by OBIS (OBIS-termchecklist.csv)",
        of=_OCC, where='"scientificName" is null and "scientificNameID" is not null', value='"scientificNameID"',
    ),
    RowRule(
        "qualifier in scientificName", "cf., aff., sp. and ? in identificationQualifier, the genus alone as name", L, L,
        "OBIS manual (common_qc.md)",
        of=_OCC, where=r"""regexp_matches("scientificName", '(?i)\b(cf|aff|nr|spp?|indet)\b\.?( |$)|\?')""", value='"scientificName"',
    ),
    RowRule(
        "scientificNameID missing", "the WoRMS LSID of that name", L, None, "OBIS-termchecklist.csv: strongly recommended",
        of=_OCC, where='"scientificNameID" is null and "scientificName" is not null', value='"scientificName"',
    ),
    RowRule(
        "scientificNameID is no WoRMS LSID", "urn:lsid:marinespecies.org:taxname: and a number", F, None,
        f"{_APHIA}: SCIENTIFICNAMEID_EXTERNAL",
        of=_OCC, where=f"not regexp_full_match(\"scientificNameID\", '{_LSID}')", value='"scientificNameID"',
    ),
    RowRule(
        "basisOfRecord missing", "what the record rests on, such as HumanObservation", F, F, "obis-qc README; GBIF core: required",
        of=_OCC, where='"basisOfRecord" is null', value="''",
    ),
    RowRule(
        "basisOfRecord unknown", "a word of the list of 2024-02-19, such as HumanObservation", F, F, "obis-qc vocabularies.py",
        of=_OCC, where=f'lower("basisOfRecord") not in {_lower(BASIS_GBIF)}', value='"basisOfRecord"',
    ),
    RowRule(
        "basisOfRecord that OBIS does not know", "a word of the list of 2022-02-02: MaterialSample, not MaterialEntity", F, None,
        "obis-qc vocabularies.py",
        of=_OCC, where=f'lower("basisOfRecord") in {_lower(BASIS_GBIF)} and lower("basisOfRecord") not in {_lower(BASIS_OBIS)}',
        value='"basisOfRecord"',
    ),
    RowRule(
        "occurrenceStatus missing", "present or absent", F, L, f"{_ABSENCE}: missing; GBIF takes it as present",
        of=_OCC, where='"occurrenceStatus" is null', value="''",
    ),
    RowRule(
        "occurrenceStatus unknown", "present or absent: detected and notDetected are for data packages", F, F,
        f"{_ABSENCE}; gbif/parsers occurrence_status.tsv",
        of=_OCC, where=f"{_STATUS} not in ('present', 'absent')", value='"occurrenceStatus"',
    ),
    RowRule(
        "individualCount is no count", "a whole number from 0 on", F, F, f"{_ABSENCE}; {_FLAGS}",
        of=_OCC, where=f"not regexp_full_match({_COUNT}, '\\d{{1,9}}')", value=_COUNT,
    ),
    RowRule(
        "none counted, yet present", "absent beside a count of 0, or the number that was there", F, F,
        f"{_ABSENCE}: 0 and present is invalid; {_FLAGS}",
        of=_OCC, where=f"{_STATUS} = 'present' and try_cast({_COUNT} as integer) = 0", value=f"concat({_COUNT}, ', ', {_STATUS})",
    ),
    RowRule(
        "some counted, yet absent", "present beside a count above 0, or a count of 0", F, F, f"{_FLAGS}: count conflicts with status",
        of=_OCC,
        where=f"{_STATUS} = 'absent' and (try_cast({_COUNT} as integer) > 0 or num({_QUANTITY}) > 0)",
        value=f"concat(coalesce({_COUNT}, {_QUANTITY}), ', ', {_STATUS})",
    ),
    RowRule(
        "quantity without its type", "organismQuantity and organismQuantityType, both or neither", F, F, _TERM,
        of=_OCC, where=f"({_QUANTITY} is null) <> ({_TYPE} is null)", value=f"concat_ws(' ', {_QUANTITY}, {_TYPE})",
    ),
    RowRule(
        "quantity type unknown", "a word of GBIF's quantity types, such as percentageCoverage", None, L,
        "rs.gbif quantity_type_2023-02-28",
        of=_OCC, where=_outside("organismQuantityType", QUANTITY), value=_TYPE,
    ),
    RowRule(
        "quantity is no number", "a number from 0 on, and at most 100 for a percentage", F, F, _FLAGS,
        of=_OCC,
        where=f"{_QUANTITY} is not null and {_TYPE} in {sql_list(tuple(q for q in QUANTITY if q not in SCALES))} and "
        f"coalesce(num({_QUANTITY}) < 0 or ({_TYPE} like 'percentage%' and num({_QUANTITY}) > 100), true)",
        value=f"concat_ws(' ', {_QUANTITY}, {_TYPE})",
    ),
    RowRule(
        "establishmentMeans unknown", "a word of the vocabulary, such as nativeReintroduced", L, L, _RS,
        of=_OCC, where=_outside("establishmentMeans", ESTABLISHMENT), value='"establishmentMeans"',
    ),
    RowRule(
        "degreeOfEstablishment unknown", "a word of the vocabulary, such as released", L, L, _RS,
        of=_OCC, where=_outside("degreeOfEstablishment", DEGREE), value='"degreeOfEstablishment"',
    ),
    RowRule(
        "pathway unknown", "a word of the vocabulary, such as conservationOrWildlifeManagement", L, L, _RS,
        of=_OCC, where=_outside("pathway", PATHWAY), value='"pathway"',
    ),
    RowRule(
        "planted read as wild", "degreeOfEstablishment of what people put there: released, cultivated or what became of it", L, F,
        "gbif/parsers establishment_means.tsv: “reintroduced” is read as native; our mapping (standards reference 1.10)",
        of=_OCC,
        where='("establishmentMeans" in (\'nativeReintroduced\', \'introducedAssistedColonisation\') '
        "or \"pathway\" = 'conservationOrWildlifeManagement') and coalesce(\"degreeOfEstablishment\", 'native') = 'native'",
        value="""concat_ws(', ', "establishmentMeans", "degreeOfEstablishment", "pathway")""",
    ),
    RowRule(
        "planted without a pathway", "the pathway by which people brought it, such as conservationOrWildlifeManagement", L, L,
        "our mapping (standards reference 1.10)",
        of=_OCC, where=f'"degreeOfEstablishment" in {_PLANTED} and "pathway" is null',
        value="""concat_ws(', ', "establishmentMeans", "degreeOfEstablishment")""",
    ),
    RowRule(
        "lifeStage unknown", "a word of GBIF's list, such as sporophyte or juvenile", None, L, "rs.gbif life_stage.xml",
        of=_OCC, where=f'lower("lifeStage") not in {_lower(LIFE_STAGES)}', value='"lifeStage"',
    ),
    RowRule(
        "licence of a row not taken", "CC0, CC BY 4.0 or CC BY-NC 4.0 by its address, or none: the dataset's holds", F, F,
        "GBIF License enum; OBIS manual (policy.md)",
        of=("event", "occurrence"), where=f"not regexp_full_match(\"license\", '{LICENCE}')", value='"license"',
    ),
    RowRule(
        "sample size without its unit", "sampleSizeValue and sampleSizeUnit, both or neither", F, F, _TERM,
        of=("event", "occurrence"), where='("sampleSizeValue" is null) <> ("sampleSizeUnit" is null)',
        value="""concat_ws(' ', "sampleSizeValue", "sampleSizeUnit")""",
    ),
    RowRule(
        "sample size is no number", "a number above 0", F, F, _FLAGS,
        of=("event", "occurrence"), where='"sampleSizeValue" is not null and coalesce(num("sampleSizeValue") <= 0, true)',
        value='"sampleSizeValue"',
    ),
    RowRule(
        "sample size unit unknown", "a unit of GBIF's list, such as square_metre", None, L, "rs.gbif unit_of_measurement_2015-07-10",
        of=("event", "occurrence"),
        where=f"\"sampleSizeUnit\" is not null and lower(replace(\"sampleSizeUnit\", ' ', '_')) not in {sql_list(UNITS)}",
        value='"sampleSizeUnit"',
    ),
    RowRule(
        "several protocols in one event", "one samplingProtocol an event, several as child events", L, L, _TERM,
        of=("event",), where="contains(\"samplingProtocol\", ' | ')", value='left("samplingProtocol", 60)',
    ),
    RowRule(
        "type is not Event", "the type Event on every row of an event core", L, F, "GBIF data quality requirements: required",
        of=("event",), where="coalesce(\"type\", '') <> 'Event'", value='"type"',
    ),
)  # fmt: skip
