"""Latitudes and longitudes as people write them: degrees, minutes, seconds, letters of several languages, alone or in pairs.

Nothing is guessed: a text that can be read in two ways is `Unread`, with the reason.
"""

import re
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

LAT, LON = "latitude", "longitude"
LIMIT = {LAT: 90, LON: 180}
PLACES = Decimal("0.0000001")  # of a degree: a centimetre

# Letters that mean different points of the compass in different languages; the rest mean the same everywhere.
_BY_LANGUAGE: dict[str, dict[str, tuple[str, ...]]] = {
    "O": {"W": ("es", "pt", "fr", "it", "gl", "ca"), "E": ("de", "sv", "nb", "nn", "no", "da", "nl")},
    "L": {"E": ("pt", "gl")},
    "V": {"W": ("sv", "nb", "nn", "no", "da")},
}
_POINTS = {
    "N": "n north norte nord norr",
    "S": "s south sul sur sud syd sør süd söder zuid",
    "E": "e east leste este est øst öst ø ö oost öster",
    "W": "w west oeste ouest ovest vest väst väster",
}
_SAID = {word: point for point, words in _POINTS.items() for word in words.split()} | {"ost": "E"}

_SYMBOLS = str.maketrans({
    "º": "°", "˚": "°", "’": "'", "‘": "'", "′": "'", "´": "'", "`": "'", "ʹ": "'", "″": '"', "“": '"', "”": '"', "ʺ": '"',
    "−": "-", "–": "-", "\u00a0": " ", "\u202f": " ", "\u2009": " ", "\t": " ",
})  # fmt: skip
_NUMBER = r"(?:\d{1,15}(?:[.,]\d{1,15})?|[.,]\d{1,15})(?![.,]?\d)"  # all of its digits: 42' is no 4° 2'
_WORD = r"[^\W\d_]+"
_ANGLE = re.compile(
    rf"(?:(?P<front>{_WORD})\.?\s*)?(?P<sign>[+-]?)\s*(?P<deg>{_NUMBER})\s*(?P<d>°|deg\.?|d|:)?\s*"
    rf"(?:(?P<min>{_NUMBER})\s*(?P<m>'|min\.?|m|:)?\s*(?:(?P<sec>{_NUMBER})\s*(?P<s>\"|sec\.?|s)?)?)?\s*(?:(?P<behind>{_WORD})\.?)?"
)
_POINT = re.compile(r"point\s*\(\s*(\S+)\s+(\S+)\s*\)", re.IGNORECASE)


@dataclass(frozen=True)
class Angle:
    """Degrees north or east. axis: which of the two a letter told, "" if none did. step: smallest written, in degrees."""

    degrees: Decimal
    axis: str
    step: Decimal


@dataclass(frozen=True)
class Unread:
    """Why a text was left as it stands: what was wanted, what to do."""

    wanted: str
    advice: str


HOW = "Write decimal degrees such as 38.7123, south and west negative, or degrees and minutes such as 38° 42.7' N."
LONGEST = 200  # characters: no position is longer, and a hostile cell must not cost more than it is long
NO_PAIR = Unread("a latitude and a longitude", "Write both, such as 38.7123; -9.1456 or 38° 42.7' N, 9° 8.7' W.")
NO_POSITION = Unread("a latitude or longitude", HOW)


def point_of(word: str, language: str) -> "str | Unread":
    """N, S, E or W, by a letter or word and the language it is written in; "" when it is no point of the compass."""
    low = word.casefold().rstrip(".")
    if low.upper() in _BY_LANGUAGE:
        for point, languages in _BY_LANGUAGE[low.upper()].items():
            if language.casefold()[:2] in languages:
                return point
        return Unread(
            "a letter that says clearly east or west",
            f"“{word}” means east in some languages and west in others: write E or W, or name the language of the sheet in its mapping.",
        )
    return _SAID.get(low, "")


@lru_cache(maxsize=4096)
def read_angle(text: str, language: str = "en", hemisphere: str = "") -> "Angle | Unread":
    """One coordinate. hemisphere: N, S, E or W where the mapping says it of cells that have neither sign nor letter."""
    if len(text) > LONGEST:
        return NO_POSITION
    bare = text.translate(_SYMBOLS).replace("''", '"').strip()
    angle = _ANGLE.fullmatch(bare)
    if angle is None:
        return NO_POSITION
    front, behind = angle["front"] or "", angle["behind"] or ""
    if angle["s"] == "s" and not behind and "d" not in (angle["d"] or "") and "m" not in (angle["m"] or ""):
        behind = "s"  # after bare numbers it is the south; after d and m it is a unit
    if front and behind:
        return Unread("one letter for the hemisphere", "Write the letter once, in front or behind.")
    point = point_of(front or behind, language)
    if isinstance(point, Unread):
        return point
    return NO_POSITION if (front or behind) and not point else _made(angle, point, hemisphere)


@lru_cache
def _step(places: int, smallest: int) -> Decimal:
    return Decimal(1).scaleb(-places) / smallest


def _made(angle: "re.Match[str]", point: str, hemisphere: str) -> "Angle | Unread":
    sign, numbers = angle["sign"], [n.replace(",", ".") for n in angle.group("deg", "min", "sec") if n]
    if any("." in n for n in numbers[:-1]):
        return Unread("whole degrees and minutes before smaller ones", HOW)
    if any(Decimal(n) >= 60 for n in numbers[1:]):
        return Unread(
            "minutes and seconds below 60",
            "Look the position up again: 60 minutes are a degree, and 60 seconds a minute.",
        )
    if sign and (point or hemisphere):
        return Unread(
            "a sign or a hemisphere, not both", "It is not clear which side is meant: leave out the sign or the letter."
        )
    point = point or hemisphere
    smallest = 60 ** (len(numbers) - 1)  # how many of the last ones make a degree
    value = Decimal(0)
    for n in numbers:
        value = value * 60 + Decimal(n)
    value, step = value / smallest, _step(len(numbers[-1].partition(".")[2]), smallest)
    axis = {"": "", "N": LAT, "S": LAT, "E": LON, "W": LON}[point]
    if value > LIMIT[axis or LON]:
        return Unread(f"at most {LIMIT[axis or LON]} degrees", HOW)
    negative = sign == "-" or point in ("S", "W")
    return Angle((-value if negative else value).quantize(PLACES), axis, step)


@lru_cache(maxsize=4096)
def read_pair(text: str, language: str = "en", longitude_first: bool = False) -> "tuple[Angle, Angle] | Unread":
    """Latitude and longitude out of one cell: letters tell which is which, else the order that the mapping states."""
    if len(text) > LONGEST:
        return NO_PAIR
    point = _POINT.fullmatch(text.strip())
    if point:  # well-known text has the longitude first
        return read_pair(f"{point[1]}; {point[2]}", language, True)
    why: Unread | None = None
    for halves in _halves(text.translate(_SYMBOLS).replace("''", '"').strip()):
        pairs = {}
        for one, other in halves:
            made = read_angle(one, language), read_angle(other, language)
            if isinstance(made[0], Angle) and isinstance(made[1], Angle):
                pairs[made[0].degrees, made[1].degrees] = made[0], made[1]
            elif why is None and len(halves) == 1:
                why = next((m for m in made if isinstance(m, Unread) and m != NO_POSITION), None)
        if len(pairs) > 1:
            return Unread(
                "a latitude and a longitude", "It can be parted in several ways: put a semicolon between the two."
            )
        if pairs:
            return _ordered(*next(iter(pairs.values())), longitude_first)
    return why or NO_PAIR


def _halves(text: str) -> list[list[tuple[str, str]]]:
    """Ways to part a text in two, the surest first; ways of one sort that differ are all given."""
    ways: list[list[tuple[str, str]]] = []
    for strong in (r"\s*[;|/]\s*", r"\s*,\s+"):
        parts = re.split(strong, text)
        if len(parts) == 2:
            ways.append([(parts[0], parts[1])])
    lettered = re.fullmatch(rf"(.*\d[^\w]*\s*{_WORD})[\s,]*([^\w]*\d.*)", text)
    ways += [[(lettered[1], lettered[2])]] if lettered else []
    lettered = re.fullmatch(rf"({_WORD}\s*[^\w]*\d.*?)[\s,]*({_WORD}\s*[^\w]*\d.*)", text)
    ways += [[(lettered[1], lettered[2])]] if lettered else []
    commas = [m.start() for m in re.finditer(",", text)]
    if len(commas) == 3 or (len(commas) == 1 and ("." in text or re.search(r",\s*[+-]", text))):
        at = commas[len(commas) // 2]
        ways.append([(text[:at], text[at + 1 :])])
    ways.append([(text[: m.start()], text[m.end() :]) for m in re.finditer(r"\s+", text)])
    return [w for w in ways if w]


def _ordered(one: Angle, other: Angle, longitude_first: bool) -> "tuple[Angle, Angle] | Unread":
    if one.axis and one.axis == other.axis:
        return Unread("a latitude and a longitude", f"Both letters say {one.axis}: mend one of them.")
    swap = one.axis == LON or other.axis == LAT or (not (one.axis or other.axis) and longitude_first)
    latitude, longitude = (other, one) if swap else (one, other)
    return SWAPPED if abs(latitude.degrees) > LIMIT[LAT] else (latitude, longitude)


SWAPPED = Unread(
    "a latitude between -90 and 90",
    "Latitude and longitude have surely changed places: mend the sheet, or its mapping if every row is so.",
)
