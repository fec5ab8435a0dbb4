"""How far two places lie apart on the ellipsoid, and how much of that may be told of a place that is kept blurred."""

import math
from typing import NamedTuple

from pipeline.indicators.estimate import Estimate, not_estimable

M_PER_DEGREE = 111_320.0  # of latitude, and of longitude at the equator: how coarse a blur in degrees is


class Place(NamedTuple):
    """A position in degrees (EPSG:4326), the circle that surely holds it in metres, how it is blurred when published, and
    whether its datum was told."""

    latitude: float
    longitude: float
    uncertainty_m: float
    sensitive: str | None
    datum_told: bool = True


def geodesic_m(latitude: float, longitude: float, other_latitude: float, other_longitude: float) -> float:
    """Metres along the geodesic of WGS 84 (Karney 2013, J. Geodesy 87:43)."""
    from pyproj import Geod  # loads PROJ, which no other figure needs

    return float(Geod(ellps="WGS84").inv(longitude, latitude, other_longitude, other_latitude)[2])


def distance(one: Place, other: Place) -> Estimate:
    """Kilometres between two places: an interval by both uncertainties; where one is blurred, steps as coarse as that."""
    if "withheld" in (one.sensitive, other.sensitive):
        return not_estimable("one of the two places is withheld", unit="km", n=1, n_of="pairs of places")
    metres = geodesic_m(one.latitude, one.longitude, other.latitude, other.longitude)
    give = one.uncertainty_m + other.uncertainty_m
    low, high = max(0.0, metres - give), metres + give
    blur = max((float(p.sensitive) for p in (one, other) if p.sensitive not in (None, "none")), default=0.0)
    if blur:
        step = blur * M_PER_DEGREE
        return Estimate(
            "bounded", "km", 1, "pairs of places", "geodesic on WGS 84, in steps",
            value_from=math.floor(low / step) * step / 1000, value_to=math.ceil(high / step) * step / 1000,
            note=f"told in steps of {step / 1000:.3g} km, since one of the two places is blurred when published",
        )  # fmt: skip
    return Estimate(
        "estimated", "km", 1, "pairs of places", "geodesic on WGS 84", metres / 1000, low / 1000, high / 1000,
        note="the interval is what both positions' stated uncertainties leave open",
    )  # fmt: skip
