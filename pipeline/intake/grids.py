"""Grids and datums: any position -> degrees of EPSG:4326, by what PROJ carries with it, never by the network."""

import math
import re
from collections.abc import Sequence
from decimal import Decimal
from functools import cache
from typing import Any

from pipeline.intake.angles import LONGEST, Unread

WGS84 = "EPSG:4326"
_DATUMS = {
    "wgs84": 4326, "wgs1984": 4326, "etrs89": 4258, "ed50": 4230, "nad83": 4269, "nad27": 4267, "osgb36": 4277, "gda94": 4283,
    "gda2020": 7844, "nzgd2000": 4167, "nzgd49": 4272, "sirgas2000": 4674, "sad69": 4618, "psad56": 4248, "tm65": 4299,
    "ntf": 4275, "datum73": 4274, "lisboa": 4207, "rt90": 4124, "ngo1948": 4273, "jgd2000": 4612, "jgd2011": 6668,
    "tokyo": 4301, "cape": 4222, "hartebeesthoek94": 4148,
}  # fmt: skip
_UTM = re.compile(
    r"(?:utm\s*)?(?:zone\s*)?(\d{1,2})\s*([a-z])?[\s,;]+"
    r"(\d{5,7}(?:\.\d+)?)\s*m?\s*e?[\s,;]+(\d{1,8}(?:\.\d+)?)\s*m?\s*n?", re.IGNORECASE
)  # fmt: skip
_EN = re.compile(r"e?\s*(-?\d{1,8}(?:\.\d+)?)\s*m?\s*e?[\s,;]+n?\s*(-?\d{1,8}(?:\.\d+)?)\s*m?\s*n?", re.IGNORECASE)
_BANDS = "CDEFGHJKLMNPQRSTUVWX"
_BAND_S = (3_540_000, 4_440_000)  # northings, in metres, of 32 to 40 degrees north


def datum_code(text: str) -> str:
    """The EPSG code of a datum or grid as people write it, "" when it is not known: “WGS 84”, “ED-50”, “epsg 4230”."""
    low = re.sub(r"[\s_\-()]", "", text.casefold())
    code = re.fullmatch(r"(?:epsg:{0,2})(\d{4,5})", low)
    number = int(code[1]) if code else _DATUMS.get(low)
    return f"EPSG:{number}" if number else ""


def utm_zone(text: str) -> str:
    """The EPSG code of “UTM 29N” or “UTM 56 south”, where the letter is the hemisphere; "" when it is none."""
    found = re.fullmatch(r"utm\s*(?:zone)?\s*(\d{1,2})\s*(n|s|north|south)", text.strip(), re.IGNORECASE)
    return _utm(int(found[1]), found[2][0].upper() == "S") if found and 1 <= int(found[1]) <= 60 else ""


def _utm(zone: int, south: bool) -> str:
    return f"EPSG:{(32700 if south else 32600) + zone}"


def utm_code(zone: int, letter: str, northing: float, means: str) -> "str | Unread":
    """UTM on WGS 84. letter: the band (C-M south, N-X north) or the hemisphere; means: which of them, "" when nobody said.

    S is both: the south, or the band from 32 to 40 degrees north. Only a northing outside that band settles it.
    """
    letter = letter.upper()
    if not 1 <= zone <= 60 or letter not in _BANDS or (means == "hemisphere" and letter not in "NS"):
        return Unread("a UTM zone from 1 to 60 with its letter", "Write it such as 29N 487654 4287654.")
    in_band = _BAND_S[0] <= northing <= _BAND_S[1]
    if letter == "S" and not means and in_band:
        return Unread(
            "a UTM zone that says clearly north or south",
            "S may be the south or the band from 32 to 40 degrees north: say it in the mapping, "
            'such as utm_letter = "band" or "hemisphere" under [position].',
        )
    south = letter < "N" or (letter == "S" and (means == "hemisphere" or not in_band))
    return _utm(zone, south)


@cache
def is_grid(code: str) -> "bool | None":
    """Whether a code is of a grid in metres or feet (else of degrees); None when PROJ does not know it."""
    crs = _crs(code)
    return None if crs is None or not (crs.is_projected or crs.is_geographic) else bool(crs.is_projected)


def read_grid(text: str, code: str, means: str = "") -> "tuple[float, float, Decimal, str] | Unread":
    """Easting, northing, the smallest step written and the code, out of a text. code "": a text that names its UTM zone."""
    found = None if len(text) > 2 * LONGEST else (_EN if code else _UTM).fullmatch(text.strip())
    if found is None:
        wanted = "an easting and a northing" + ("" if code else " with the UTM zone")
        return Unread(wanted, f"Write it such as {'487654 4287654' if code else '29S 487654 4287654'}.")
    if not code:
        made = utm_code(int(found[1]), found[2] or "-", float(found[4]), means)
        if isinstance(made, Unread):
            return made
        code = made
    east, north = found.groups()[-2:]
    step = Decimal(1).scaleb(-min(len(n.partition(".")[2]) for n in (east, north)))
    return float(east), float(north), step, code


def to_wgs84(code: str, easts: Sequence[float], norths: Sequence[float]) -> list[tuple[float, float] | None]:
    """(latitude, longitude) of each position (longitude or easting first); None where the grid does not reach."""
    given = list(zip(easts, norths, strict=True))
    made = zip(*_transformer(code).transform(easts, norths), given, strict=True)
    return [
        (float(lat), float(lon)) if math.isfinite(lat) and math.isfinite(lon) and _within(code, lon, lat) else None
        for lon, lat, _ in made
    ]


def _within(code: str, lon: float, lat: float) -> bool:
    """Whether a place lies where the grid is used, with some sea around: an easting for a northing lands elsewhere."""
    area = _crs(code).area_of_use
    margin = 3.0
    if area is None or area.west > area.east:
        return True
    return bool(area.south - margin <= lat <= area.north + margin and area.west - margin <= lon <= area.east + margin)


@cache
def transformation_m(code: str) -> int:
    """Metres that the change to EPSG:4326 may be off, as PROJ states for what it carries; 0 for EPSG:4326 itself."""
    from pyproj.transformer import TransformerGroup

    if code == WGS84:
        return 0
    import warnings

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # that a better grid could be fetched: none is, and the accuracy says so
        best = TransformerGroup(code, WGS84, always_xy=True).transformers
    stated = [t.accuracy for t in best if t.accuracy is not None and t.accuracy >= 0]
    return math.ceil(stated[0]) if stated else 0


@cache
def _transformer(code: str) -> Any:
    import pyproj
    from pyproj import network

    network.set_network_enabled(active=False)  # type: ignore[attr-defined]  # compiled: its stubs leave it out
    return pyproj.Transformer.from_crs(code, WGS84, always_xy=True)


@cache
def _crs(code: str) -> Any:
    import pyproj

    try:
        return pyproj.CRS.from_user_input(code)
    except pyproj.exceptions.CRSError:
        return None
