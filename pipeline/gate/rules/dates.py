"""Rules of when: eventDate in forms that are read, possible days, and parts that agree with it."""

from pipeline.gate import dates
from pipeline.gate.rule import Effect, RowRule

F, L = Effect.FLAGS, Effect.LOWERS
_FORMS = "OBIS manual (common_formatissues.md)"
_TIME = "obis-qc (time.py)"
_PAGE = "GBIF's temporal page (tech-docs)"
_FLAGS = "GBIF issues and flags (tech-docs)"
_WRITTEN = ("event", "occurrence")
_DAY = '"eventDate"'
# a day as ISO 8601 writes it, for terms that are no intervals of an event
_ISO = r"\d{4}(-(0[1-9]|1[0-2])(-(0[1-9]|[12]\d|3[01]))?)?(T[\d:.,]+(Z|[+-][\d:]+)?)?"


def _state(state: str) -> str:
    return f"_state = '{state}'"


def _no_iso(column: str) -> str:
    """SQL: neither a date nor an interval of two."""
    return f"not regexp_full_match({column}, '{_ISO}(/{_ISO})?')"


def _number(column: str) -> str:
    return f'try_cast("{column}" as integer)'


RULES = (
    RowRule(
        "eventDate missing", "an eventDate on the occurrence, its event or an event above", F, F, f"{_TIME}: kept, flagged missing",
        of=("record",), where='"eventDate_up" is null', value="''",
    ),
    RowRule(
        "eventDate only on a parent event", "an eventDate on every event row: GBIF takes nothing from parents", None, F,
        "OBIS manual (format_event.md); hc hierarchy 3.3(6)",
        of=("record",), where='"eventDate" is null and "eventDate_up" is not null', value='"eventDate_up"',
    ),
    RowRule(
        "eventDate is no ISO date", "2025-07-12, 2025-07, 2025, 2025-07-12T09:30Z, or two of them with / between", F, F, _FORMS,
        of=_WRITTEN, where=_state(dates.WRONG), value=_DAY,
    ),
    RowRule(
        "eventDate in a form that is not read", "a calendar date: no day of the year, week or duration", F, F, _FORMS,
        of=_WRITTEN, where=_state(dates.OTHER_FORM), value=_DAY,
    ),
    RowRule(
        "eventDate with 00", "nothing where the month or day is not known: 2025-07, not 2025-07-00", F, F, _FORMS,
        of=_WRITTEN, where=_state(dates.ZEROS), value=_DAY,
    ),
    RowRule(
        "eventDate that never was", "a day, month and time that there are", F, F, f"{_TIME}: invalid",
        of=_WRITTEN, where=_state(dates.NO_SUCH_DAY), value=_DAY,
    ),
    RowRule(
        "eventDate ends before it starts", "the earlier end first", F, F, f"{_TIME}: invalid; {_FLAGS}",
        of=_WRITTEN, where=_state(dates.BACKWARDS), value=_DAY,
    ),
    RowRule(
        "eventDate in the future", "a day that was", F, F, f"{_TIME}: DATE_IN_FUTURE, date unusable; {_FLAGS}",
        of=_WRITTEN, where="_last > $today", value=_DAY,
    ),
    RowRule(
        "eventDate before 1582", "a day that OBIS reads, from 1582 on", F, None, f"{_TIME}: DATE_BEFORE_MIN, the code's default",
        of=_WRITTEN, where="_first < date '1582-01-01'", value=_DAY,
    ),
    RowRule(
        "eventDate before 1600", "a day from 1600 on", None, F, f"{_FLAGS}: date unlikely",
        of=_WRITTEN, where="_first < date '1600-01-01'", value=_DAY,
    ),
    RowRule(
        "eventDate with unlike ends", "both ends written equally finely", L, L,
        "our advice: TDWG's examples and GBIF read an end in two ways, which then differ by a day at most",
        of=_WRITTEN, where="not _even", value=_DAY,
    ),
    RowRule(
        "eventDate at midnight", "no time where it is not known, rather than 00:00", L, L, _FORMS,
        of=_WRITTEN, where="_midnight", value=_DAY,
    ),
    RowRule(
        "eventDate and its parts disagree", "year, month, day and days of the year that agree with eventDate, or none", None, F,
        f"{_PAGE}: RECORDED_DATE_MISMATCH",
        of=_WRITTEN,
        where=f"{_number('year')} not between year(_first) and year(_last) or {_number('month')} <> _month "
        f"or {_number('day')} <> _day or {_number('startDayOfYear')} <> _start or {_number('endDayOfYear')} <> _end "
        f"""or try_cast(concat_ws('-', "year", lpad("month", 2, '0'), lpad("day", 2, '0')) as date) not between _first and _last""",
        value="""concat_ws(' ', "eventDate", 'and', "year", "month", "day", "startDayOfYear", "endDayOfYear")""",
    ),
    RowRule(
        "parts of a date are no numbers", "year, month and day as whole numbers that there are", F, F, _FLAGS,
        of=_WRITTEN,
        where='("year" is not null and {} is null) or ("month" is not null and coalesce({} not between 1 and 12, true)) '
        'or ("day" is not null and coalesce({} not between 1 and 31, true))'.format(*map(_number, ("year", "month", "day"))),
        value="""concat_ws(' ', "year", "month", "day")""",
    ),
    RowRule(
        "dateIdentified unlikely", "an ISO date from 1700 on that was", None, F, f"{_FLAGS}: identified date unlikely",
        of=("occurrence",),
        where=f'{_no_iso(chr(34) + "dateIdentified" + chr(34))} or left("dateIdentified", 4) < \'1700\' '
        'or left("dateIdentified", 10) > left($today::varchar, least(10, length("dateIdentified")))',
        value='"dateIdentified"',
    ),
    RowRule(
        "modified unlikely", "an ISO date that was", None, F, f"{_FLAGS}: modified date invalid or unlikely",
        of=_WRITTEN,
        where=f'{_no_iso(chr(34) + "modified" + chr(34))} '
        'or left("modified", 10) > left($today::varchar, least(10, length("modified")))',
        value='"modified"',
    ),
    RowRule(
        "measurementDeterminedDate is no ISO date", "an ISO date", L, L, "dwc:measurementDeterminedDate",
        of=("measured",), where=_no_iso('"measurementDeterminedDate"'), value='"measurementDeterminedDate"',
    ),
)  # fmt: skip
