"""Rules of measurements or facts, plain and extended."""

from pipeline.gate.rule import Effect, RowRule

F, L = Effect.FLAGS, Effect.LOWERS
_OF = ("measured",)
_MOF = "obis-qc (mof_fields.py)"
_MANUAL = "OBIS manual (format_emof.md, vocabulary.md)"
_SHOWN = """concat_ws(' ', "measurementType", "measurementValue", "measurementUnit")"""
_NERC = r"https?://vocab\.nerc\.ac\.uk/collection/[A-Z]\d\d/current/[^/\s]+/?"


def _no_code(column: str) -> str:
    return f"not regexp_full_match(\"{column}\", '{_NERC}') and contains(\"{column}\", 'vocab.nerc.ac.uk')"


RULES = (
    RowRule(
        "measurementType missing", "what was measured, in words", F, L, _MOF,
        of=_OF, where='"measurementType" is null', value=_SHOWN,
    ),
    RowRule(
        "measurementTypeID missing", "the address of a P01 code, where there is one", L, None, _MOF,
        of=_OF, where='"measurementTypeID" is null and "measurementType" is not null', value='"measurementType"',
    ),
    RowRule(
        "measurementValue missing", "what was found, or no row", F, L, _MANUAL,
        of=_OF, where='"measurementValue" is null', value=_SHOWN,
    ),
    RowRule(
        "measurementUnit missing", "the unit of a number; its code UUUU where there is none", L, L, _MANUAL,
        of=_OF, where='num("measurementValue") is not null and "measurementUnit" is null and "measurementUnitID" is null',
        value=_SHOWN,
    ),
    RowRule(
        "measurementValueID of a number", "measurementValueID only where the value is a word", L, None, _MANUAL,
        of=_OF, where='num("measurementValue") is not null and "measurementValueID" is not null',
        value="""concat_ws(' ', "measurementValue", "measurementValueID")""",
    ),
    RowRule(
        "code misspelled", "http://vocab.nerc.ac.uk/collection/P01/current/CODE/", L, None, _MANUAL,
        of=_OF, where=" or ".join(
            f"({_no_code(c)})" for c in ("measurementTypeID", "measurementUnitID", "measurementValueID")
        ),
        value="""concat_ws(' ', "measurementTypeID", "measurementUnitID", "measurementValueID")""",
    ),
)  # fmt: skip
