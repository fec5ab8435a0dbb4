"""What the cells of a column say for or against a column of ours: numbers, days, known codes, words of the trade."""

import re

from pipeline.intake.units import conversion
from pipeline.suggest.fit import Registered
from pipeline.suggest.lexicon import Lexicon
from pipeline.suggest.seen import BINOMIAL, NUMBER, Seen, number
from pipeline.suggest.text import plain
from schemas.kinds import Column

CELLS_WEIGH = 0.4  # what cells say, beside a heading that says everything (1)
CODED = {"currency": r"[A-Z]{3}", "country": r"[A-Z]{2}", "datum": r"(EPSG:?\s*\d+|WGS.?84|ETRS.?89|NAD.?83|ED50)"}
FREE = {
    "remarks",
    "why",
    "recorded_by",
    "weather",
    "supervisor",
    "name",
    "material",
    "category",
    "disposal",
    "marks",
    "media",
}

NO_CLOCK = FREE - {"remarks", "media"} | {"place", "vessel", "outcome"}
# numbers without a unit of ours that are told in whatever unit stands beside them
ANY_UNIT = {"amount", "value", "quota", "accuracy", "resolution", "people"}
KEYS = {"visit_key", "unit_key", "batch_key", "frame_key", "logger_key"}
WHOLE = re.compile(r"\d{1,3}([.,]\d{3})+")  # “1.234” may be a thousand and more
SEVERAL_NAMES = re.compile(r"[^\W\d_]{2,}( ?[,;/&+] ?[^\W\d_]{2,})+")
IN_A_GRID = 10_000  # no degree is so large
PEOPLE = {"recorded_by", "supervisor", "identified_by", "valued_by"}  # nobody is called 1 or 2


def cells_say(ours: Column, column: Seen, words: Lexicon, registered: Registered) -> float:
    """From -1 (cannot be) to 1 (nothing else could be)."""
    if not column.filled:
        return 0.0
    by_type = {"day": _day, "instant": _instant, "whole": _number, "decimal": _number, "yesno": _yesno}.get(ours.type)
    return by_type(ours, column, words) if by_type else _text(ours, column, words, registered)


def _day(_ours: Column, column: Seen, _words: Lexicon) -> float:
    return 1.5 * column.dated - 1.0


def _instant(ours: Column, column: Seen, words: Lexicon) -> float:
    return max(_day(ours, column, words), column.clocked - 0.5 if column.clocked else -1.0)


def _yesno(ours: Column, column: Seen, words: Lexicon) -> float:
    return 1.4 * column.among({*words.values["yesno"], *words.values.get(ours.name, {})}) - 0.9


def _number(ours: Column, column: Seen, words: Lexicon) -> float:
    share = column.counted if ours.name in ("count", "cover_pct", "count_found", "fertile_count") else column.numeric
    if ours.name in words.values:  # “first”, “second” are numbers too
        share = max(share, column.among(words.values[ours.name]))
    said = 1.3 * share - 0.9
    if share < 0.5:
        return said
    numbers = column.numbers
    parted = sum(n for c, n in column.cells.items() if NUMBER.fullmatch(c) and not WHOLE.fullmatch(c) and number(c) % 1)
    if ours.type == "whole" and parted:
        said -= min(0.8, 4 * parted / column.filled)  # a slip among many counts does not make them measures
    if ours.name in ("latitude", "longitude") and min(numbers, default=0) > IN_A_GRID:
        return 0.2  # metres of a grid, which the mapping must name
    factor, added = 1.0, 0.0
    if ours.unit and column.unit and not just_degrees(column.unit, ours.unit):
        how = conversion(column.unit, ours.unit)
        if how is None:
            return -0.8
        factor, added = float(how[0]), float(how[1])
        said += 0.3
    if column.unit not in ("", "%") and not ours.unit and ours.name not in ANY_UNIT:
        said -= 0.8  # grams are no number of stones
    low, high = ours.limits.get("minimum", ours.limits.get("exclusiveMinimum")), ours.limits.get("maximum")
    beyond = [
        n
        for n in (x * factor + added for x in numbers)
        if (low is not None and n < float(low)) or (high is not None and n > float(high))
    ]
    said -= 0.9 * len(beyond) / max(1, len(numbers))
    if ours.name in ("latitude", "longitude"):
        said += 0.2 if any(n != int(n) for n in numbers) else -0.6
    return said


def just_degrees(written: str, unit: str) -> bool:
    """Whether “degrees” is written of a temperature, without a word about which."""
    return written == "deg" and unit == "degC"


def _text(ours: Column, column: Seen, words: Lexicon, registered: Registered) -> float:
    known = registered.of(ours.refers or {"unit_key": "deployment"}.get(ours.name, ""))
    said = 0.0
    if known:
        share = column.among(known)
        said += share if share > 0.5 else 0.0
    if ours.name in CODED:
        return 1.4 * column.share(re.compile(CODED[ours.name])) - 0.8
    if ours.allowed or ours.name in words.values:
        share = sum(bool(words.ours(ours.name, c)) for c in column.cells) / len(column.cells)
        said += share if ours.allowed else 0.6 * share
        said -= 0.7 if ours.allowed and share < 0.2 and column.numeric > 0.5 else 0
        said -= 0.25 if ours.allowed and share < 0.2 and len(column.cells) > 8 else 0
        said -= 0.3 if ours.allowed and not share and len(column.cells) > 1 else 0
        letters = max(map(len, column.cells)) <= 2 and share < 1  # H, M, L: two of them are stages by chance
        said -= 0.8 if ours.allowed and letters else 0
    if ours.name == "species":
        share = column.share(BINOMIAL)
        said += share if share > 0.3 else 0.0
        said -= 0.8 if column.numeric > 0.5 else 0.0
    if column.dated > 0.7 or (ours.name in NO_CLOCK and column.clocked > 0.7):
        said -= 0.9
    if ours.name in FREE or ours.name == "species":
        said -= (1.0 if ours.name in PEOPLE else 0.6) if column.numeric > 0.7 else 0.0
    said += _spoken(ours, column, words)
    if ours.name == "visit_key" and max(map(len, column.cells)) == 1 and not column.numeric:
        said -= 0.6  # “I” and “O” are sides, or shores
    if ours.name == "visit_key" and column.numeric > 0.9 and max(column.numbers) < 10:
        said -= 0.4  # it counts the dives of a day
    if ours.name.endswith("_key") and max(map(len, column.cells)) > 60:
        said -= 0.6
    if ours.name in KEYS and column.share(SEVERAL_NAMES) > 0.5:
        said -= 0.9  # “Ana, Rui” dived; they are no dive
    if ours.name == "record_key":
        said += 0.7 if len(column.cells) == column.rows else -0.8
    if ours.name == "remarks":
        said += 0.3 if max(map(len, column.cells)) > 25 else 0.0
    return max(-1.0, min(1.0, said))


def _spoken(ours: Column, column: Seen, words: Lexicon) -> float:
    """Whether the cells of a free text are worded, or look, as such cells do."""
    known, looks = words.cell_words.get(ours.name), words.cell_looks.get(ours.name)
    several = [c for c in column.cells if not c.replace(".", "").isdigit()]
    worded = sum(bool(known & set(plain(c).split())) for c in several) / len(column.cells) if known else 0.0
    looking = column.share(looks) if looks else 0.0
    best = max(worded, looking)
    if ours.name == "media" and column.among(words.values["yesno"]) > 0.7:
        return -0.6  # it is asked whether there are any, or whether they may be shown
    return best if best > 0.5 else 0.0
