"""Plans with a scale bar and north: sites of a programme, units of a site. Bearings and distances on the ellipsoid.

A programme's plan shows land as the cells of about 1 km that it is known by, steps and all: a line drawn through them would
look as if somebody had surveyed it. A site's plan shows none, since a cell is larger than a site.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from markupsafe import Markup
from pyproj import Geod

from pipeline.pages.svg import Picture
from pipeline.pages.told import Place, Strip
from pipeline.pages.words import Words

SIDE = 420.0
LEAST_M = 6000.0  # half of the narrowest plan with land: cells are to be seen as cells


@dataclass(frozen=True)
class Spot:
    """One thing on a plan: its name, place, which mark it gets, and how far it may be off or reaches, in metres."""

    name: str
    place: Place
    sort: str = "treated"
    reach_m: float = 0.0


@cache
def _earth() -> Geod:
    return Geod(ellps="WGS84")


def way(start: Place, end: Place) -> tuple[float, float]:
    """Bearing in degrees from true north, and metres, of the shortest way. Karney 2013, J. Geodesy 87:43, through PROJ."""
    bearing, _, metres = _earth().inv(start.longitude, start.latitude, end.longitude, end.latitude)
    return bearing % 360, metres


def frame(spots: Sequence[Spot], least_m: float = 20.0) -> tuple[Place, float]:
    """The middle of the spots, and how many metres a plan of them reaches from there to each side."""
    lat = [s.place.latitude for s in spots]
    lon = [s.place.longitude for s in spots]
    middle = Place((min(lat) + max(lat)) / 2, (min(lon) + max(lon)) / 2)
    reach = [max(map(abs, _off(middle, s.place))) + min(s.reach_m, 5000) for s in spots]
    return middle, max([least_m, *reach]) * 1.12


def _off(middle: Place, place: Place) -> tuple[float, float]:
    """Metres to the east and to the north of the middle."""
    bearing, metres = way(middle, place)
    return metres * math.sin(math.radians(bearing)), metres * math.cos(math.radians(bearing))


def plan(
    title: str, spots: Sequence[Spot], words: Words, named: bool = True, land: Sequence[Strip] | None = None
) -> Markup:
    """The spots around their middle, north up; circles show what a position leaves open or a site reaches.

    land: strips of it, None for a plan without.
    """
    middle, half = frame(spots) if land is None else frame(spots, LEAST_M)
    at = [_off(middle, s.place) for s in spots]
    told = words("; ").join(
        words("{name}: {metres} m, {bearing}° from the middle", name=s.name, metres=words.number(math.hypot(e, n)),
              bearing=f"{math.degrees(math.atan2(e, n)) % 360:03.0f}")
        for (e, n), s in zip(at[:60], spots, strict=False)
    )  # fmt: skip
    p = Picture(SIDE, SIDE + 40, title, told)
    scale = SIDE / 2 / half
    p.box(0.5, 0.5, SIDE - 1, SIDE - 1, "sea")
    if land:
        p.shape([_corners(middle, strip, scale) for strip in land], "land")
    for (e, n), s in zip(at, spots, strict=True):
        if s.reach_m:
            p.circle(SIDE / 2 + e * scale, SIDE / 2 - n * scale, s.reach_m * scale, "reach")
    for (e, n), s in zip(at, spots, strict=True):
        x, y = SIDE / 2 + e * scale, SIDE / 2 - n * scale
        p.mark(x, y, s.sort, 3.5 if len(spots) > 12 else 4.5)
        if named:
            right = x < SIDE * 0.75
            p.text(x + (8 if right else -8), y + 4, s.name, "place", "start" if right else "end")
    bar = _round_below(half / 2)
    p.line(12, SIDE + 20, 12 + bar * scale, SIDE + 20, "bar")
    name = f"{words.number(bar / 1000)} km" if bar >= 1000 else f"{words.number(bar)} m"
    p.text(12, SIDE + 36, name, "tick")
    p.path(
        [(SIDE - 24, SIDE + 34), (SIDE - 18, SIDE + 12), (SIDE - 12, SIDE + 34), (SIDE - 18, SIDE + 29)], "north", True
    )
    p.text(SIDE - 34, SIDE + 30, words("north"), "tick", "end")
    return p.done()


def _corners(middle: Place, s: Strip, scale: float) -> list[tuple[float, float]]:
    """The corners of a strip on the plan, none beyond its edge."""
    found = []
    for lat, lon in ((s.south, s.west), (s.south, s.east), (s.north, s.east), (s.north, s.west)):
        east, north = _off(middle, Place(lat, lon))
        found.append(tuple(min(max(v, 1.0), SIDE - 1) for v in (SIDE / 2 + east * scale, SIDE / 2 - north * scale)))
    return [(x, y) for x, y in found]


def _round_below(metres: float) -> float:
    power = 10.0 ** math.floor(math.log10(metres))
    return max(s * power for s in (1, 2, 5) if s * power <= metres)
