"""What a failed check wanted, and what to do about it, in words of the trade."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from fractions import Fraction
from typing import Any

from schemas.kinds import Column, Kind


@dataclass(frozen=True)
class Unit:
    """The unit in which a partner writes a column: ours is its number times factor plus added."""

    name: str
    factor: Fraction
    added: Fraction

    def of(self, limit: Any, rounding: str) -> str:
        """A limit of ours in this unit, to three digits and two places at least, never wider than it is."""
        exact = (Fraction(str(limit)) - self.added) / self.factor
        told = Decimal(exact.numerator) / Decimal(exact.denominator)
        places = Decimal(1).scaleb(min(-2, told.adjusted() - 2) if told else 0)
        return _number(told.quantize(places, rounding))


def _number(value: Any) -> str:
    return f"{value.normalize():f}" if isinstance(value, Decimal) else str(value)


def _limits(statistics: dict[str, Any], ours: str, theirs: Unit | None) -> str:
    unit = f" {ours}" if ours else ""
    if "allowed_values" in statistics:
        return "one of: " + ", ".join(map(str, statistics["allowed_values"]))
    if "pattern" in statistics:
        pattern = str(getattr(statistics["pattern"], "pattern", statistics["pattern"]))
        return _PATTERNS.get(pattern, "a short text on one line")
    low, high = statistics.get("min_value"), statistics.get("max_value")
    if theirs:
        least = theirs.of(low, ROUND_CEILING) if low is not None else ""
        most = theirs.of(high, ROUND_FLOOR) if high is not None else ""
        if least and most:
            return f"from {least} to {most} {theirs.name} ({_number(low)} to {_number(high)}{unit})"
        one, of_us = (f"at least {least}", low) if least else (f"at most {most}", high)
        return f"{one} {theirs.name} ({_number(of_us)}{unit})"
    if low is not None and high is not None:
        return f"from {_number(low)} to {_number(high)}{unit}"
    return f"at least {_number(low)}{unit}" if low is not None else f"at most {_number(high)}{unit}"


_PATTERNS = {
    r"^[A-Z]{2}$": "a two-letter country code (ISO 3166), such as PT",
    r"^[A-Z]{3}$": "a three-letter currency code (ISO 4217), such as EUR",
    r"^EPSG:\d{4,5}$": "an EPSG code of the datum, such as EPSG:4326",
    r"^[^\r\n\t]{1,80}$": "a code of at most 80 characters on one line",
}


_CODES = {
    "not_nullable": "blank",
    "isin": "not a known word",
    "str_matches": "not well written",
    "greater_than": "too small",
    "greater_than_or_equal_to": "too small",
    "less_than_or_equal_to": "too large",
}


def code_of(check: str) -> str:
    """Short name of a failed check; a rule of the whole row is named by what it wants."""
    name = check.split("(", maxsplit=1)[0]
    return _CODES.get(name, name)


def wanted_for(
    kind: Kind, column: str, check: str, codes: Mapping[str, str] | None = None, unit: Unit | None = None
) -> str:
    """What was wanted: from the model's own checks, so that words and rules cannot differ.

    codes: the partner's words for ours, by its mapping: it is asked for its own. unit: the one that it writes, where it is not ours.
    """
    if not column:
        return check
    declared = kind.column(column)
    if check == "not_nullable":
        return f"“{declared.title.lower()}” filled in ({_inside(declared.description)})"
    if declared.allowed and codes:
        return "one of: " + _theirs(declared, codes)
    for one in kind.schema.columns[column].checks:
        if check in (one.error, one.name):
            if one.name == "greater_than" and unit:
                low = one.statistics["min_value"]
                return f"more than {unit.of(low, ROUND_CEILING)} {unit.name} ({_number(low)} {declared.unit})"
            if one.name == "greater_than":
                return f"more than {_number(one.statistics['min_value'])} {declared.unit}".strip()
            return _limits(one.statistics, declared.unit, unit)
    return check


def _theirs(declared: Column, codes: Mapping[str, str]) -> str:
    """The words that may stand in a column: the partner's own first, ours behind each; then ours for which it has none."""
    theirs = {ours: word for word, ours in reversed(list(codes.items()))}
    told = sorted(declared.allowed, key=lambda ours: ours not in theirs)
    return ", ".join(f"{theirs[a]} ({a})" if a in theirs else a for a in told)


def _inside(sentence: str) -> str:
    """A sentence as it stands in brackets."""
    told = sentence.rstrip(" .")
    return told if told[1:2].isupper() else told[:1].lower() + told[1:]


def advice_for(
    kind: Kind, column: str, check: str, headings: Mapping[str, str], reads: Sequence[str] = (),
    codes: Mapping[str, str] | None = None, unit: Unit | None = None,
) -> str:  # fmt: skip
    """What to do to the cell so that the row enters. reads: the columns that a rule of the whole row looks at.

    codes: the partner's words for ours; unit: the one that it writes, where it is not ours.
    """

    def named(name: str) -> str:
        return f"“{headings[name]}”" if headings.get(name) else kind.column(name).title.lower()

    where = "" if not column else f"the column {named(column)}" if headings.get(column) else named(column)
    if check == "not_nullable" and column == "visit_key":
        site = f"the column “{headings['site_key']}”" if headings.get("site_key") else "the site"
        return f"Fill in {where}, or {site}: a dive without a code of its own is named by site and day."
    if check == "not_nullable" and kind.column(column).allowed:
        return f"Fill in {where} with one of these: {_theirs(kind.column(column), codes or {})}."
    if check == "not_nullable":
        return f"Fill in {where}."
    if not column:
        cells = ", ".join(dict.fromkeys(map(named, reads)))
        return f"Look at these columns of the row together: {cells}."
    declared = kind.column(column)
    if declared.allowed:
        return f"Write one of these in {where}, or ask the programme to add your word for it to your mapping."
    if declared.type in ("whole", "decimal"):
        return f"Check the number in {where}: its sign, its decimal mark and its unit ({unit.name if unit else declared.unit or 'none'})."
    return f"Write {where} anew."
