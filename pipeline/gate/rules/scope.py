"""Rules of Humboldt's extension: what was looked for, how hard, and whether nothing means none.

Repositories keep such rows whatever they say; what they lose is that anybody may infer an absence from them.
"""

from pipeline.gate.rule import Effect, RowRule
from pipeline.gate.words import BOOLEANS, COMPLETENESS, INVENTORIES, MEASURES, sql_list

F, L = Effect.FLAGS, Effect.LOWERS
_OF = ("scope",)
_TERMS = "Humboldt terms (tdwg/hc), term comments"
_HIERARCHY = "hc hierarchy 3.2.4"
_LISTS = (
    "targetTaxonomicScope",
    "absentTaxa",
    "protocolNames",
    "targetHabitatScope",
    "nonTargetTaxa",
    "samplingPerformedBy",
)
_UNITS = tuple(f"{m}Unit" for m in MEASURES)


def _any(conditions: list[str]) -> str:
    return " or ".join(f"({c})" for c in conditions)


def _all(columns: tuple[str, ...]) -> str:
    return "concat_ws(', ', " + ", ".join(f'"{c}"' for c in columns) + ")"


RULES = (
    RowRule(
        "Humboldt value without its unit", "every ...Value with its ...Unit, both or neither", L, L, _TERMS,
        of=_OF, where=_any([f'("{m}Value" is null) <> ("{m}Unit" is null)' for m in MEASURES]),
        value=_all(tuple(f"{m}{x}" for m in MEASURES for x in ("Value", "Unit"))),
    ),
    RowRule(
        "Humboldt value is no number", "numbers from 0 on", L, L, _TERMS,
        of=_OF, where=_any([f'"{m}Value" is not null and coalesce(num("{m}Value") < 0, true)' for m in MEASURES]),
        value=_all(tuple(f"{m}Value" for m in MEASURES)),
    ),
    RowRule(
        "sampled more than the scope", "a totalAreaSampledValue that is at most the geospatialScopeAreaValue", L, L, _TERMS,
        of=_OF,
        where='"totalAreaSampledUnit" = "geospatialScopeAreaUnit" and '
        'num("totalAreaSampledValue") > num("geospatialScopeAreaValue")',
        value=_all(("totalAreaSampledValue", "geospatialScopeAreaValue", "geospatialScopeAreaUnit")),
    ),
    RowRule(
        "unit with a plain 2", "units with a raised 2: m², km²", L, L, _TERMS,
        of=_OF, where=_any([f"regexp_matches(\"{u}\", '^[a-z]+\\^?[23]$')" for u in _UNITS]), value=_all(_UNITS),
    ),
    RowRule(
        "Humboldt flag is neither true nor false", "true, false or nothing", L, L, "rs.gbif humboldt_2025-07-10 (boolean.xml)",
        of=_OF, where=_any([f"lower(\"{b}\") not in ('true', 'false')" for b in BOOLEANS]), value=_all(BOOLEANS),
    ),
    RowRule(
        "list with another separator", "entries parted by a blank, a bar and a blank", L, L, _TERMS,
        of=_OF, where=_any([f"regexp_matches(\"{c}\", '[^ ]\\||\\|[^ ]')" for c in _LISTS]), value=_all(_LISTS),
    ),
    RowRule(
        "inventory type unknown", "restrictedSearch, openSearch, opportunisticSearch, adventitious or compilation", L, L, _TERMS,
        of=_OF, where=f'"inventoryTypes" not in {sql_list(INVENTORIES)} and not contains("inventoryTypes", \'|\')',
        value='"inventoryTypes"',
    ),
    RowRule(
        "completeness unknown", "notReported, reportedComplete or reportedIncomplete", L, L, "hc taxonCompletenessReported",
        of=_OF, where=f'"taxonCompletenessReported" not in {sql_list(COMPLETENESS)}', value='"taxonCompletenessReported"',
    ),
    RowRule(
        "other taxa without a scope", "nonTargetTaxa only with a targetTaxonomicScope and hasNonTargetTaxa true", L, L, _TERMS,
        of=_OF,
        where='"nonTargetTaxa" is not null and ("targetTaxonomicScope" is null or coalesce(lower("hasNonTargetTaxa"), \'\') <> \'true\')',
        value='"nonTargetTaxa"',
    ),
    RowRule(
        "absence without a scope", "a targetTaxonomicScope wherever isAbsenceReported is true", L, L, _HIERARCHY,
        of=_OF, where="lower(\"isAbsenceReported\") = 'true' and \"targetTaxonomicScope\" is null", value='"isAbsenceReported"',
    ),
    RowRule(
        "absence of nothing", "absentTaxa or an absent occurrence wherever isAbsenceReported is true", L, L, "our advice",
        of=_OF,
        where="lower(\"isAbsenceReported\") = 'true' and \"absentTaxa\" is null and _id not in "
        "(select _id from occurrence where lower(\"occurrenceStatus\") = 'absent' and _id is not null)",
        value='"isAbsenceReported"',
    ),
    RowRule(
        "absent under incomplete reporting", "no absence where taxa of the scope were not all reported", L, L, _HIERARCHY,
        of=_OF,
        where="(\"taxonCompletenessReported\" = 'reportedIncomplete' or lower(\"isTaxonomicScopeFullyReported\") = 'false') and "
        "_id in (select _id from occurrence where lower(\"occurrenceStatus\") = 'absent')",
        value=_all(("taxonCompletenessReported", "isTaxonomicScopeFullyReported")),
    ),
)  # fmt: skip
