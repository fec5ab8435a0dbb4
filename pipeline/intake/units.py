"""Units partners write in, as factors to ours. Names are the SI's and the trade's own (BIPM, NIST SP 811).

Factors are exact but for thirds: thirteen places of them leave the sixth place of any measure right.
"""

from decimal import Decimal

# unit -> (the unit we store, factor, amount added after multiplying)
UNITS: dict[str, tuple[str, Decimal, Decimal]] = {
    name: (ours, Decimal(factor), Decimal(added))
    for ours, rows in {
        "m": [("m", "1", "0"), ("cm", "0.01", "0"), ("mm", "0.001", "0"), ("ft", "0.3048", "0"),
              ("fathom", "1.8288", "0"), ("km", "1000", "0")],
        "cm": [("cm", "1", "0"), ("mm", "0.1", "0"), ("m", "100", "0"), ("in", "2.54", "0")],
        "m2": [("m2", "1", "0"), ("cm2", "0.0001", "0"), ("ha", "10000", "0"), ("ft2", "0.09290304", "0")],
        "kg": [("kg", "1", "0"), ("g", "0.001", "0"), ("lb", "0.45359237", "0"), ("t", "1000", "0")],
        "degC": [("degC", "1", "0"), ("degF", "0.5555555555556", "-17.7777777777792"), ("K", "1", "-273.15")],
        "min": [("min", "1", "0"), ("h", "60", "0"), ("s", "0.0166666666667", "0")],
        "%": [("%", "1", "0"), ("share", "100", "0")],
        "deg": [("deg", "1", "0")],
        "d": [("d", "1", "0")],
        "years": [("years", "1", "0")],
        "s": [("s", "1", "0"), ("min", "60", "0")],
    }.items()
    for name, factor, added in [(f"{n}>{ours}", f, a) for n, f, a in rows]
}  # fmt: skip


def conversion(written: str, ours: str) -> tuple[Decimal, Decimal] | None:
    """Factor and added amount from the unit as written to ours, or None when they do not belong together."""
    found = UNITS.get(f"{written}>{ours}")
    return None if found is None else (found[1], found[2])


def units_for(ours: str) -> list[str]:
    """The units a partner may write a measure of ours in."""
    return [name.split(">")[0] for name in UNITS if name.endswith(">" + ours)]
