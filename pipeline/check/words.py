"""What a failed check wanted, and what to do about it, in words of the trade."""

from decimal import Decimal
from typing import Any

from schemas.kinds import Kind


def _number(value: Any) -> str:
    return f"{value.normalize():f}" if isinstance(value, Decimal) else str(value)


def _limits(statistics: dict[str, Any], unit: str) -> str:
    unit = f" {unit}" if unit else ""
    if "allowed_values" in statistics:
        return "one of: " + ", ".join(map(str, statistics["allowed_values"]))
    if "pattern" in statistics:
        pattern = str(getattr(statistics["pattern"], "pattern", statistics["pattern"]))
        return _PATTERNS.get(pattern, "a short text on one line")
    low, high = statistics.get("min_value"), statistics.get("max_value")
    if low is not None and high is not None:
        return f"from {_number(low)} to {_number(high)}{unit}"
    return f"at least {_number(low)}{unit}" if low is not None else f"at most {_number(high)}{unit}"


_PATTERNS = {
    r"^[A-Z]{2}$": "a two-letter country code (ISO 3166), such as PT",
    r"^[A-Z]{3}$": "a three-letter currency code (ISO 4217), such as EUR",
    r"^EPSG:\d{4,5}$": "an EPSG code of the datum, such as EPSG:4326",
    r"^[^\r\n\t]{1,80}$": "a code of at most 80 characters on one line",
}


def wanted_for(kind: Kind, column: str, check: str) -> str:
    """What was wanted: from the model's own checks, so that words and rules cannot differ."""
    if check == "not_nullable":
        return kind.column(column).title.lower() + ": " + kind.column(column).description
    if not column:
        return check
    field = kind.schema.columns[column]
    for one in field.checks:
        if check in (one.error, one.name):
            words = _limits(one.statistics, kind.column(column).unit)
            return (
                f"more than {_number(one.statistics['min_value'])} {kind.column(column).unit}".strip()
                if one.name == "greater_than"
                else words
            )
    return check


def advice_for(kind: Kind, column: str, check: str, heading: str) -> str:
    """What to do to the cell so that the row enters."""
    where = f"the column “{heading}”" if heading else (f"`{column}`" if column else "the row")
    if check == "not_nullable":
        return f"Fill in {where}."
    if not column:
        return f"Look at the row again: {kind.name} needs {check}."
    declared = kind.column(column)
    if declared.allowed:
        return f"Write one of these in {where}, or ask the programme to add your word for it to your mapping."
    if declared.type in ("whole", "decimal"):
        return f"Check the number in {where}: its sign, its decimal mark and its unit ({declared.unit or 'none'})."
    return f"Write {where} anew."
