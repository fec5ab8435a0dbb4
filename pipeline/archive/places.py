"""A place as it is published: as it is held, or rounded so that nothing tells where it is held.

Rounding, not randomising, and only here (Chapman 2020, Current Best Practices for Generalizing Sensitive Species
Occurrence Data): who exports twice learns nothing more.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from itertools import pairwise

from pipeline.rules.publishing import LEVELS

RADIUS_M = 6371008.8  # mean radius of the earth


@dataclass(frozen=True)
class Held:
    """A place as the ledger holds it. level: how it is blurred; radius_m: how far it reaches beyond its uncertainty."""

    kind: str
    key: str
    identity: str
    level: str
    latitude: Decimal | None
    longitude: Decimal | None
    uncertainty_m: Decimal | None
    radius_m: Decimal
    name: str = ""
    country: str = ""
    water_body: str = ""
    habitat: str = ""
    outline: str = ""
    depth_min_m: Decimal | None = None
    depth_max_m: Decimal | None = None
    remarks: str = ""


@dataclass(frozen=True)
class Place:
    """A place as it is published: texts, "" where nothing is said."""

    kind: str
    key: str
    identity: str
    level: str
    latitude: str
    longitude: str
    uncertainty_m: str
    precision: str
    locality: str
    country: str
    water_body: str
    habitat: str
    outline: str
    depth_min_m: Decimal | None
    depth_max_m: Decimal | None
    remarks: str
    generalised: str
    withheld: str


def coarser(*levels: str) -> str:
    """The coarsest of some levels."""
    return max(levels, key=LEVELS.index)


def plain(value: Decimal) -> str:
    """A number without an exponent and without zeros at its end."""
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def published(held: Held, spans: Callable[[float, float], float]) -> Place | None:
    """The place as it may be seen, None where it may not be seen or is not known.

    spans: metres that a step of degrees spans at a latitude (Georeferencing Best Practices 2020). The uncertainty of a
    rounded place is that of its digits and all that was there before, so that the circle still holds the place.
    """
    if held.level == "withheld" or held.latitude is None or held.longitude is None:
        return None
    own = (held.uncertainty_m or Decimal(0)) + held.radius_m
    if held.level == "none":
        digits = max(_decimals(held.latitude), _decimals(held.longitude))
        return Place(
            held.kind, held.key, held.identity, held.level, plain(held.latitude), plain(held.longitude),
            plain(own) if own > 0 else "", plain(Decimal(1).scaleb(-digits)) if digits > 2 else "", held.name, held.country, held.water_body,
            held.habitat, held.outline, held.depth_min_m, held.depth_max_m, held.remarks, "", "",
        )  # fmt: skip
    step = Decimal(held.level)
    latitude, longitude = _rounded(held.latitude, step), _rounded(held.longitude, step)
    metres = math.ceil(spans(float(latitude), float(step)) + float(own))
    return Place(
        held.kind, held.key, held.identity, held.level, plain(latitude), plain(longitude), str(_coarse(metres)),
        held.level, "", held.country, held.water_body, held.habitat, "", held.depth_min_m, held.depth_max_m, held.remarks,
        f"Coordinates rounded to {held.level} degrees; they are held more precisely. The uncertainty was enlarged to match.",
        "The precise position, the name and the outline of the place are withheld, since it is sensitive. Ask the contact.",
    )  # fmt: skip


def around(places: Sequence[Place]) -> tuple[str, str, str]:
    """Latitude, longitude and radius in metres of a circle that holds every published place and its uncertainty."""
    points = [_unit(float(p.latitude), float(p.longitude)) for p in places]
    x, y, z = (sum(c) for c in zip(*points, strict=True))
    middle = (round(math.degrees(math.atan2(z, math.hypot(x, y))), 2), round(math.degrees(math.atan2(y, x)), 2))
    farthest = max(_metres(middle, p) + float(p.uncertainty_m or 0) for p in places)
    return plain(Decimal(str(middle[0]))), plain(Decimal(str(middle[1]))), str(math.ceil(farthest * 1.006))


def box(places: Sequence[Place]) -> tuple[str, str, str, str]:
    """West, east, north and south of the published circles, in degrees; over the 180th meridian west is east of east."""
    east_of = sorted(Decimal(p.longitude) for p in places)
    gaps = [(b - a, b, a) for a, b in pairwise(east_of)]
    widest = max(gaps, default=(Decimal(0), east_of[0], east_of[-1]))
    start = widest[1] if widest[0] > 180 else east_of[0]
    reach = [
        (Decimal(p.longitude) + (360 if Decimal(p.longitude) < start else 0), Decimal(p.latitude), *_reach(p))
        for p in places
    ]
    west, east = min(x - dx for x, _, dx, _ in reach), max(x + dx for x, _, dx, _ in reach)
    if east - west >= 360:
        west, east = Decimal(-180), Decimal(180)
    south, north = min(y - dy for _, y, _, dy in reach), max(y + dy for _, y, _, dy in reach)
    return (
        _outward(_turned(west), ROUND_FLOOR), _outward(_turned(east), ROUND_CEILING),
        _outward(min(north, Decimal(90)), ROUND_CEILING), _outward(max(south, Decimal(-90)), ROUND_FLOOR),
    )  # fmt: skip


def _reach(place: Place) -> tuple[Decimal, Decimal]:
    """How far the place's circle reaches, in degrees of longitude and of latitude, on a sphere and a little more."""
    north = math.degrees(float(place.uncertainty_m or 0) / RADIUS_M) * 1.006  # as in `around`
    edge = math.cos(math.radians(min(abs(float(place.latitude)) + north, 90)))
    return Decimal(min(north / edge, 180.0) if edge > 0 else 180), Decimal(north)


def _turned(longitude: Decimal) -> Decimal:
    return longitude + 360 if longitude < -180 else longitude - 360 if longitude > 180 else longitude


def _outward(degrees: Decimal, rounding: str) -> str:
    return plain(degrees.quantize(Decimal("0.0001"), rounding=rounding))


def _rounded(value: Decimal, step: Decimal) -> Decimal:
    return (value / step).quantize(Decimal(1)) * step


def _coarse(metres: int) -> int:
    """Two digits, rounded up: exact metres would tell the uncertainty and the reach that are held."""
    unit = int(10 ** max(0, len(str(metres)) - 2))
    return -(-metres // unit) * unit


def _decimals(value: Decimal) -> int:
    return len(plain(value).partition(".")[2])


def _unit(latitude: float, longitude: float) -> tuple[float, float, float]:
    a, b = math.radians(latitude), math.radians(longitude)
    return math.cos(a) * math.cos(b), math.cos(a) * math.sin(b), math.sin(a)


def _metres(middle: tuple[float, float], place: Place) -> float:
    one, other = _unit(*middle), _unit(float(place.latitude), float(place.longitude))
    return RADIUS_M * math.acos(max(-1.0, min(1.0, sum(a * b for a, b in zip(one, other, strict=True)))))
