"""Rules of identity: ids are there and unlike, and every row that points at another finds it."""

from pipeline.gate.rule import Effect, RowRule

D, F, L, R = Effect.DROPS, Effect.FLAGS, Effect.LOWERS, Effect.REFUSES
_STAR = "text guide: extensions link to the core by its id"
_MANUAL = "OBIS manual (identifiers.md, format_event.md)"
_TWICE = "in (select {0} from {1} where {0} is not null group by {0} having count(*) > 1)"
_PAIR = 'concat("occurrenceID", chr(31), _id)'  # one text: pairs of columns are not looked up quickly
_NO_CORE = "_id not in (select _id from ids where _id is not null)"

RULES = (
    RowRule(
        "core id missing", "an id in every row of the core", D, D, "text guide",
        of=("core",), where="_id is null", value="''",
    ),
    RowRule(
        "core id twice", "each id once in the core", R, R, "text guide (star schema); OBIS manual (identifiers.md)",
        of=("core",), where=f"_id {_TWICE.format('_id', 'ids')}", value="_id",
    ),
    RowRule(
        "coreid missing", "the id of a core row in every row of an extension", D, D, _STAR,
        of=("extension",), where="_id is null", value="''",
    ),
    RowRule(
        "coreid without a core row", "a coreid that stands in the core", D, D, _STAR,
        of=("extension",), where=_NO_CORE, value="_id",
    ),
    RowRule(
        "eventID missing", "the eventID in every row of an event core", R, L, "required by OBIS (OBIS-termchecklist.csv)",
        of=("event",), where='"eventID" is null and _id is not null', value="''",
    ),
    RowRule(
        "eventID of another event", "the eventID that is the row's id", F, F, _MANUAL,
        of=("event", "occurrence_of_event"), where='"eventID" is not null and "eventID" <> _id', value='"eventID"',
    ),
    RowRule(
        "parent event missing", "a parentEventID that is an eventID of the same core", R, F, _MANUAL,
        of=("event",),
        where='"parentEventID" is not null and "parentEventID" not in (select _id from ids where _id is not null)',
        value='"parentEventID"',
    ),
    RowRule(
        "parents in a circle", "events that lead up to one without a parent", R, R, _MANUAL,
        of=("event",), where="_id in (select id from chain where above = id)", value='"parentEventID"',
    ),
    RowRule(
        "child outlasts its parent", "a parent's eventDate that holds those of its children", L, L, "hc hierarchy 3.2.1",
        of=("child",), where="_first < _above_first or _last > _above_last", value='"eventDate"',
    ),
    RowRule(
        "occurrenceID missing", "an occurrenceID in every occurrence", R, D,
        "required by OBIS and GBIF; that GBIF drops the row is from memory",
        of=("occurrence",), where='"occurrenceID" is null', value="''",
    ),
    RowRule(
        "occurrenceID twice", "each occurrenceID once", R, D, "OBIS manual (identifiers.md); GBIF's effect from memory",
        of=("occurrence",), where=f'"occurrenceID" {_TWICE.format(chr(34) + "occurrenceID" + chr(34), "occurrence")}',
        value='"occurrenceID"',
    ),
    RowRule(
        "measurement of no occurrence", "an occurrenceID that stands among the occurrences, or none", D, L,
        "OBIS manual (format_emof.md)",
        of=("measured",), where='"occurrenceID" not in (select "occurrenceID" from occurrence where "occurrenceID" is not null)',
        value='"occurrenceID"',
    ),
    RowRule(
        "measurement of another event", "the coreid of the event that its occurrence hangs on", F, L,
        "OBIS manual (format_emof.md)",
        of=("measured",),
        where=f'{_PAIR} not in (select {_PAIR} from occurrence) and '
        '"occurrenceID" in (select "occurrenceID" from occurrence)',
        value='"occurrenceID"',
    ),
    RowRule(
        "measurementID twice", "each measurementID once", L, L, "dwc:measurementID: an identifier",
        of=("measured",), where=f'"measurementID" {_TWICE.format(chr(34) + "measurementID" + chr(34), "measured")}',
        value='"measurementID"',
    ),
    RowRule(
        "two inventories of one event", "one row of Humboldt's extension an event", F, F, "hc hierarchy 3.3(2,3)",
        of=("scope",), where=f"_id {_TWICE.format('_id', 'scope')}", value="_id",
    ),
)  # fmt: skip
