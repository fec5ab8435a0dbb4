"""Units against NIST Special Publication 811 (2008), Appendix B.8 and B.9, and against pint.

Factors in bold there are exact; the others are printed to seven digits. The acre is that of international feet: NIST and
NOAA retired the US survey foot at the end of 2022 (Federal Register 85 FR 62698), and B.8's own acre is of that foot.
"""

from decimal import Decimal
from fractions import Fraction

import duckdb
import pytest

from pipeline.intake.units import _OURS, conversion, exact_conversion, units_for

# unit, ours, the factor as printed in B.8, whether it is printed as exact
NIST = [
    ("in", "m", "2.54E-02", True), ("ft", "m", "3.048E-01", True), ("yd", "m", "9.144E-01", True), ("nmi", "m", "1.852E+03", True),
    ("in", "cm", "2.54E+00", True), ("ft", "cm", "3.048E+01", True), ("ft2", "m2", "9.290304E-02", True),
    ("in2", "m2", "6.4516E-04", True), ("yd2", "m2", "8.361274E-01", False), ("ha", "m2", "1.0E+04", True),
    ("lb", "kg", "4.5359237E-01", True), ("oz", "kg", "2.834952E-02", False), ("t", "kg", "1.0E+03", True),
    ("h", "s", "3.6E+03", True), ("d", "s", "8.64E+04", True), ("min", "s", "6.0E+01", True), ("mile", "m", "1.609344E+03", True),
    ("week", "d", "7", True),
]  # fmt: skip


@pytest.mark.parametrize(("unit", "ours", "printed", "exact"), NIST)
def test_factors_of_nist(unit, ours, printed, exact):
    """Each factor is the one printed, exactly or to its seven digits."""
    factor, added = exact_conversion(unit, ours)
    assert added == 0
    last_digit = Fraction(10) ** Decimal(printed).as_tuple().exponent
    assert abs(factor - Fraction(printed)) <= (0 if exact else last_digit / 2)


@pytest.mark.parametrize(
    ("text", "unit", "kelvin_less_273_15"),
    [("212", "degF", "100"), ("32", "degF", "0"), ("-40", "degF", "-40"), ("273.15", "K", "0"), ("68", "degF", "20")],
)
def test_temperatures_of_nist(text, unit, kelvin_less_273_15):
    """t/degC = (t/degF - 32)/1.8 and t/degC = T/K - 273.15 (B.9)."""
    factor, added = exact_conversion(unit, "degC")
    assert Fraction(text) * factor + added == Fraction(kelvin_less_273_15)


def test_fathoms_and_acres_are_of_international_feet():
    """Within three millionths of B.8's fathom and acre, which are of the US survey foot (1200/3937 m)."""
    for unit, ours, survey in [("fathom", "m", "1.828804"), ("acre", "m2", "4046.873")]:
        factor, _ = exact_conversion(unit, ours)
        assert 0 < 1 - factor / Fraction(survey) < Fraction(45, 10**7)
    assert exact_conversion("acre", "m2")[0] == 43560 * exact_conversion("ft2", "m2")[0]
    assert exact_conversion("fathom", "m")[0] == 6 * exact_conversion("ft", "m")[0]


def test_usual_factors_agree_with_pint():
    """Every factor that stands in our own table is what pint says, but for fathom and acre (of survey feet there)."""
    import pint

    units = pint.UnitRegistry(non_int_type=Fraction)
    theirs = {"m2": "meter**2", "deg": "degree", "nmi": "nautical_mile", "t": "metric_ton", "ha": "hectare", "d": "day"}
    tried = 0
    for ours in ("m", "cm", "m2", "kg", "min", "s", "d"):
        for unit in set(units_for(ours)) - {"fathom", "acre"}:
            name = theirs.get(unit, unit[:-1] + "**2" if unit.endswith("2") else unit)
            asked = units.Quantity(Fraction(1), units.parse_units(name)).to(units.parse_units(theirs.get(ours, ours)))
            assert exact_conversion(unit, ours)[0] == Fraction(asked.magnitude), (unit, ours)
            tried += 1
    assert tried > 40


@pytest.mark.parametrize("ours", sorted(_OURS))
def test_sql_keeps_six_places(ours):
    """As the cast multiplies, in DuckDB's decimals, a number in any unit is right to the sixth place and never overflows."""
    texts = ["0", "1", "0.5", "12.5", "98.6", "1234.567891", "99999.9"]
    for unit in units_for(ours):
        factor, added = conversion(unit, ours)
        sql = f"try_cast(cast(t as decimal(24,9)) * {factor:f}{f' + {added:f}' if added else ''} as decimal(18,6))"
        for text in texts:
            [(got,)] = duckdb.sql(f"select {sql} from (select '{text}' as t)").fetchall()
            exact = Fraction(text) * exact_conversion(unit, ours)[0] + exact_conversion(unit, ours)[1]
            assert abs(Fraction(got) - exact) <= Fraction(6, 10**7), (unit, ours, text)
            assert isinstance(got, Decimal)


def test_other_measures_are_refused():
    """A unit of another measure has no factor, nor has what is no unit."""
    assert [
        conversion(u, o)
        for u, o in [("kg", "m"), ("m", "kg"), ("m", "m2"), ("degC", "m"), ("nonsense", "m"), ("M", "m")]
    ] == [None] * 6
