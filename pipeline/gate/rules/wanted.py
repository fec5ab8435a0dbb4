"""Terms that OBIS and GBIF strongly recommend: each that is empty lowers what a row is good for (standards reference 1.7)."""

from pipeline.gate.rule import Effect, RowRule

_SOURCE = "OBIS-termchecklist.csv; GBIF data quality recommendations"
_BOTH, _OBIS, _GBIF = ("obis", "gbif"), ("obis",), ("gbif",)
_SURVEY = {
    "samplingProtocol": _BOTH, "sampleSizeValue": _BOTH, "samplingEffort": _BOTH, "locationID": _BOTH, "footprintWKT": _BOTH,
}  # fmt: skip
_SAMPLING = {
    "coordinateUncertaintyInMeters": _BOTH, "coordinatePrecision": _OBIS, "year": _OBIS, "month": _OBIS, "license": _OBIS,
}  # fmt: skip
_OF_EVENTS = {"eventType": _OBIS}
_OCCURRENCE = {"taxonRank": _BOTH, "kingdom": _BOTH, "genus": _OBIS, "order": _OBIS}


def _wanted(term: str, by: tuple[str, ...], of: str) -> RowRule:
    return RowRule(
        f"{term} not given",
        f"{term} wherever it is known",
        Effect.LOWERS if "obis" in by else None,
        Effect.LOWERS if "gbif" in by else None,
        _SOURCE,
        of=(of,),
        where=f'"{term}" is null',
        value="''",
    )


RULES = (
    *(_wanted(term, by, "survey") for term, by in _SURVEY.items()),
    *(_wanted(term, by, "sampling") for term, by in _SAMPLING.items()),
    *(_wanted(term, by, "event") for term, by in _OF_EVENTS.items()),
    *(_wanted(term, by, "occurrence") for term, by in _OCCURRENCE.items()),
    RowRule(
        "no country", "countryCode, or country in words", Effect.LOWERS, Effect.LOWERS, _SOURCE,
        of=("sampling",), where='"countryCode" is null and "country" is null', value="''",
    ),
    RowRule(
        "present without a number", "organismQuantity with its type, or individualCount", Effect.LOWERS, Effect.LOWERS, _SOURCE,
        of=("occurrence",),
        where='"organismQuantity" is null and "individualCount" is null and lower("occurrenceStatus") = \'present\'',
        value='"scientificName"',
    ),
)  # fmt: skip
