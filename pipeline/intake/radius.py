"""Radii of uncertainty, in metres, by the Georeferencing Best Practices (Chapman & Wieczorek 2020) and Darwin Core."""

import math

RECEIVERS = {"GPS": 30, "GPS before May 2000": 100}  # m: the least that Darwin Core lets a hand-held receiver claim
EPE_FACTOR = 2  # a receiver's own “accuracy” holds the place one time in two; twice as far it does nineteen in twenty


def precision_m(latitude: float, step: float) -> float:
    """Metres that a step in degrees of both coordinates spans at a latitude: √((πMp/180)² + (πN cos φ·p/180)²), WGS 84."""
    a, f = 6378137.0, 1 / 298.257223563
    e2, phi = f * (2 - f), math.radians(latitude)
    bend = 1 - e2 * math.sin(phi) ** 2
    m, n = a * (1 - e2) / bend**1.5, a / math.sqrt(bend)
    return math.hypot(math.radians(m * step), math.radians(n * math.cos(phi) * step))


def cell_m(step: float) -> float:
    """Metres from the middle of a grid's square to its corner: a side of 100 m gives 71."""
    return step / math.sqrt(2)


def heading_m(distance: float, half_angle: float) -> float:
    """Metres that a place may be off that is told by a distance and a heading alone; half_angle: of the heading, degrees."""
    half = math.radians(half_angle)
    return math.hypot(distance * (1 - math.cos(half)), distance * math.sin(half))


def spatial_fit(published_area: float, true_area: float) -> float:
    """How many times larger a published shape is than the smallest that holds the place (pointRadiusSpatialFit)."""
    return published_area / true_area
