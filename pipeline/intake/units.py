"""Units partners write in, as factors to ours. The usual ones stand here; any other of the same measure is asked of pint.

Pint takes its time to load, and a quiet night reads every mapping: so it is loaded only for a unit that is not usual.
Feet are international ones, and so are fathoms and acres (the US survey foot went out of use at the end of 2022).
"""

import re
from decimal import Context, Decimal
from fractions import Fraction
from functools import cache
from typing import Any

_LENGTH = {"mm": "1/1000", "cm": "1/100", "m": "1", "km": "1000", "in": "0.0254", "ft": "0.3048", "yd": "0.9144",
           "fathom": "1.8288", "nmi": "1852"}  # fmt: skip
_AREA = {"mm2": "1/1000000", "cm2": "1/10000", "dm2": "1/100", "m2": "1", "ha": "10000", "km2": "1000000",
         "in2": "0.00064516", "ft2": "0.09290304", "yd2": "0.83612736", "acre": "4046.8564224"}  # fmt: skip
_MASS = {"mg": "1/1000000", "g": "1/1000", "kg": "1", "t": "1000", "oz": "0.028349523125", "lb": "0.45359237"}
_TIME = {"s": "1", "min": "60", "h": "3600", "d": "86400"}
_SHARE = {"%": "1", "share": "100", "permille": "1/10"}

# the unit we store -> unit -> (factor, amount added after multiplying)
_OURS: dict[str, dict[str, tuple[Fraction, Fraction]]] = {
    ours: {name: (Fraction(f) / Fraction(table[ours]), Fraction(0)) for name, f in table.items()}
    for ours, table in {"m": _LENGTH, "cm": _LENGTH, "m2": _AREA, "kg": _MASS, "min": _TIME, "s": _TIME, "d": _TIME,
                        "%": _SHARE, "deg": {"deg": "1"}, "years": {"years": "1"}}.items()
} | {
    "degC": {
        "degC": (Fraction(1), Fraction(0)),
        "degF": (Fraction(5, 9), Fraction(-160, 9)),
        "K": (Fraction(1), Fraction("-273.15")),
    }
}  # fmt: skip
_PINT = {
    "m": "meter",
    "cm": "centimeter",
    "m2": "meter ** 2",
    "kg": "kilogram",
    "min": "minute",
    "s": "second",
    "d": "day",
}
PLACES = 13
_DIGITS = Context(prec=14)  # with which a cell times its factor still fits DuckDB's widest decimal


def conversion(written: str, ours: str) -> tuple[Decimal, Decimal] | None:
    """Factor and added amount from the unit as written to ours, or None when they do not belong together.

    Factors are exact but for thirds: thirteen places of them leave the sixth place of any measure right.
    """
    how = exact_conversion(written, ours)
    if how is None:
        return None
    factor = _decimal(how[0])
    return factor, factor * _decimal(how[1] / how[0]) if how[1] else Decimal(
        0
    )  # so that 32 degF are 0 degC whatever the factor's last place


def exact_conversion(written: str, ours: str) -> tuple[Fraction, Fraction] | None:
    """The same, exactly."""
    found = _OURS.get(ours, {}).get(written)
    return found or _by_pint(written, ours)


def units_for(ours: str) -> list[str]:
    """The usual units a partner may write a measure of ours in."""
    return list(_OURS.get(ours, {}))


@cache
def _by_pint(written: str, ours: str) -> tuple[Fraction, Fraction] | None:
    if ours not in _PINT or not re.fullmatch(r"(?=.{2,30}$)[a-zA-Zµ]+( ?(\^|\*\*)? ?[23])?|[a-z]+ [a-z]+", written):
        return None
    import pint

    units = _registry()
    try:
        one = units.Quantity(Fraction(1), written.replace("^", "**")).to(units.parse_units(_PINT[ours]))
    except (pint.PintError, ValueError, TypeError, AttributeError, ArithmeticError):
        return None
    return (Fraction(one.magnitude), Fraction(0)) if one.magnitude > 0 else None


@cache
def _registry() -> Any:
    import pint

    return pint.UnitRegistry(non_int_type=Fraction, cache_folder=None)


def _decimal(value: Fraction) -> Decimal:
    short = _DIGITS.divide(Decimal(value.numerator), Decimal(value.denominator))
    rounded = round(short, PLACES)
    return short if short == rounded else rounded
