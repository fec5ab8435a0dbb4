"""A measure with its unit written into the cell: “12 cm”, “3 ft 6 in”, “12,5 kg”, “68 °F”."""

import re
from dataclasses import dataclass
from fractions import Fraction

from pipeline.intake.months import bare
from pipeline.intake.units import exact_conversion

# words and signs as people write them (without case, accents and dots) -> the unit's name; any other is tried as it is
_WORDS: dict[str, str] = {
    word: unit
    for unit, words in {
        "mm": "mm|millimetre|millimetres|millimeter|millimeters|milimetros|millimetres",
        "cm": "cm|cms|centimetre|centimetres|centimeter|centimeters|centimetro|centimetros|centimetres|zentimeter",
        "m": "m|mt|mts|metre|metres|meter|meters|metro|metros|mtrs|mtr",
        "km": "km|kms|kilometre|kilometres|kilometer|kilometers|kilometro|kilometros",
        "in": 'in|ins|inch|inches|"|′′|”|\'\'|pulgada|pulgadas|polegada|polegadas|pouce|pouces|tomme|tommer',
        "ft": "ft|feet|foot|'|′|’|pie|pies|pe|pes|pied|pieds|fot",
        "yd": "yd|yds|yard|yards|yarda|yardas|jarda|jardas",
        "fathom": "fathom|fathoms|fm|fms|fth|braza|brazas|braca|bracas|brasse|brasses|favn|favner",
        "nmi": "nmi|nm|nautical mile|nautical miles|milla nautica|millas nauticas",
        "mm2": "mm2|mm^2|sq mm", "cm2": "cm2|cm^2|sq cm", "dm2": "dm2|dm^2",
        "m2": "m2|m^2|sq m|sqm|square metres|square meters|metros cuadrados|metros quadrados|kvm",
        "ha": "ha|hectare|hectares|hectarea|hectareas|hektar", "km2": "km2|km^2|sq km",
        "ft2": "ft2|ft^2|sq ft|sqft|square feet", "in2": "in2|in^2|sq in", "yd2": "yd2|yd^2|sq yd|square yards",
        "acre": "acre|acres|ac",
        "mg": "mg", "g": "g|gr|grs|gram|grams|gramme|grammes|gramo|gramos|grama|gramas",
        "kg": "kg|kgs|kilo|kilos|kilogram|kilograms|kilogramme|kilogrammes|kilogramo|kilogramos|quilo|quilos",
        "t": "t|ton|tonne|tonnes|tonelada|toneladas|tonn", "oz": "oz|ounce|ounces|onza|onzas",
        "lb": "lb|lbs|pound|pounds|libra|libras",
        "degC": "°c|c|degc|deg c|celsius|degrees c|degrees celsius|°", "degF": "°f|f|degf|deg f|fahrenheit|degrees f",
        "K": "k|kelvin", "%": "%|pct|percent|per cent|por ciento|por cento|pour cent|prosent", "permille": "‰",
        "s": "s|sec|secs|second|seconds|seg|segundos|sek", "min": "min|mins|minute|minutes|minuto|minutos|minutt|minutter",
        "h": "h|hr|hrs|hour|hours|hora|horas|heure|heures|time|timer", "d": "d|day|days|dia|dias|jour|jours|dag|dager",
        "years": "years|year|yr|yrs|anos|ans|ar",
    }.items()
    for word in words.split("|")
}  # fmt: skip
_NUMBER = r"[+\-\u2212]?(?:\d(?:[\d.,\u00a0\u202f]|'(?=\d{3}))*|[.,]\d+)"
_ONE = re.compile(rf"\s*({_NUMBER})\s*([^\d\s+\-.,][^\d+\-]*?(?:\^?[23²³])?)(?=\s*(?:\d|$))")


@dataclass(frozen=True)
class Amount:
    """A measure in our unit, or (value None) the unit that is none of this measure."""

    value: Fraction | None
    unit: str = ""


def number(text: str, decimal: str, thousands: str) -> Fraction | None:
    """A number as the partner writes it, None if it is none; a thousands mark only stands between groups of three."""
    text = text.strip().replace("\u2212", "-")
    if thousands and thousands in text:
        grouped = rf"[+-]?\d{{1,3}}({re.escape(thousands)}\d{{3}})+({re.escape(decimal)}\d*)?"
        if not re.fullmatch(grouped, text, re.ASCII):
            return None
        text = text.replace(thousands, "")
    mark = re.escape(decimal)
    found = re.fullmatch(rf"([+-]?)(\d{{0,15}})(?:{mark}(\d{{0,30}}))?", text, re.ASCII)
    if not found or not (found[2] or found[3]):
        return None
    return Fraction(f"{found[1]}{found[2] or 0}.{found[3] or 0}")


def amount(text: str, ours: str, decimal: str, thousands: str) -> Amount | None:
    """What a cell with a unit says in our unit, None if it is no number and unit, or several that make up one measure."""
    at, total, last = 0, Fraction(0), Fraction(0)
    while at < len(text.rstrip()):
        found = _ONE.match(text, at)
        if not found or (value := number(found[1], decimal, thousands)) is None:
            return None
        said = found[2].strip()
        how = _conversion(said, ours)
        if how is None:
            return Amount(None, said)
        if at and (how[1] or value < 0 or how[0] >= last or total < 0):
            return None
        total, last, at = total + value * how[0] + how[1], how[0], found.end()
    return Amount(total) if at else None


def known(said: str) -> bool:
    """Whether that is a unit at all, of whatever measure."""
    return _word(said) in _WORDS


def _conversion(said: str, ours: str) -> tuple[Fraction, Fraction] | None:
    return exact_conversion(_WORDS.get(_word(said), said), ours)


def _word(said: str) -> str:
    return " ".join(bare(said.replace("²", "2").replace("³", "3").replace("º", "°")).split())


def rounded(value: Fraction, places: int) -> str:
    """A number in our writing, half away from zero, as the cast rounds."""
    whole = (abs(value) * 10**places + Fraction(1, 2)).__floor__()
    return f"{'-' if value < 0 and whole else ''}{whole // 10**places}.{whole % 10**places:0{places}d}"
