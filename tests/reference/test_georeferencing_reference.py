"""Radii of uncertainty and grids, against published figures."""

import math

import pytest

from pipeline.intake.grids import to_wgs84
from pipeline.intake.radius import EPE_FACTOR, RECEIVERS, cell_m, heading_m, precision_m, spatial_fit

# Chapman & Wieczorek 2020, Georeferencing Best Practices (GBIF), table of uncertainty due to coordinate precision, WGS 84.
LATITUDES = (0, 30, 60, 85)
TABLE = [
    (1, (156904, 146962, 124605, 112109)),
    (0.01, (1570, 1470, 1246, 1121)),
    (0.0001, (16, 15, 13, 12)),
    (1 / 60, (2615, 2450, 2077, 1869)),
    (1 / 3600, (44, 41, 35, 32)),
]


@pytest.mark.parametrize(("step", "metres"), TABLE)
def test_uncertainty_of_written_digits(step, metres):
    """The table of Georeferencing Best Practices (Chapman & Wieczorek 2020) is met to its metre (mostly rounded up)."""
    for latitude, published in zip(LATITUDES, metres, strict=True):
        assert precision_m(latitude, step) == pytest.approx(published, abs=1)
        assert round(precision_m(latitude, step)) in (published, published - 1)


def test_published_examples_of_precision():
    """10.27, -123.6 at 0.01 degrees: 1.5568 km; 10, -123.5 at 0.5 degrees: 77.87 km (Georeferencing Best Practices, 2020)."""
    assert precision_m(10.27, 0.01) == pytest.approx(1556.8, abs=1)
    assert precision_m(10, 0.5) == pytest.approx(77870, abs=1)


def test_published_examples_of_grids_and_headings():
    """UTM at 100 m: 71 m (Darwin Core); 1 km off both ways: 0.707 km of a 1 km cell; 10 km north-east: 3.90 km (Best Practices, 2020)."""
    assert math.ceil(cell_m(100)) == 71
    assert cell_m(1000) == pytest.approx(707, abs=1)
    assert heading_m(10000, 22.5) == pytest.approx(3900, abs=5)


def test_receivers():
    """A hand-held receiver claims 30 m, 100 m before May 2000 (Darwin Core); its own estimate is doubled (Best Practices, 2020)."""
    assert RECEIVERS == {"GPS": 30, "GPS before May 2000": 100}
    assert EPE_FACTOR == 2


def test_spatial_fit():
    """A circle of 1 km published as a 10 km cell: 31.8 (Chapman 2020, Sensitive Species); a circle round a square: 1.5708 (Darwin Core)."""
    assert spatial_fit(10**2, math.pi * 1**2) == pytest.approx(31.8, abs=0.05)
    assert spatial_fit(math.pi * (math.sqrt(2) / 2) ** 2, 1) == pytest.approx(1.5708, abs=5e-5)


def utm(latitude: float, longitude: float, zone: int, south: bool) -> tuple[float, float]:
    """Forward UTM by Krüger's series to the third order (Karney 2011, J. Geodesy 85:475, eq. 35), by hand."""
    a, f = 6378137.0, 1 / 298.257223563
    n = f / (2 - f)
    alpha = (n / 2 - 2 * n**2 / 3 + 5 * n**3 / 16, 13 * n**2 / 48 - 3 * n**3 / 5, 61 * n**3 / 240)
    radius = a / (1 + n) * (1 + n**2 / 4 + n**4 / 64)
    e = math.sqrt(f * (2 - f))
    phi, lam = math.radians(latitude), math.radians(longitude - (6 * zone - 183))
    t = math.sinh(math.atanh(math.sin(phi)) - e * math.atanh(e * math.sin(phi)))
    xi, eta = math.atan2(t, math.cos(lam)), math.asinh(math.sin(lam) / math.hypot(t, math.cos(lam)))
    north = xi + sum(k * math.sin(2 * j * xi) * math.cosh(2 * j * eta) for j, k in enumerate(alpha, 1))
    east = eta + sum(k * math.cos(2 * j * xi) * math.sinh(2 * j * eta) for j, k in enumerate(alpha, 1))
    return 500000 + 0.9996 * radius * east, (10000000 if south else 0) + 0.9996 * radius * north


@pytest.mark.parametrize(("latitude", "longitude", "zone", "south"), [
    (38.7, -9.1, 29, False), (58.2, 8.05, 32, False), (-42.9, 147.33, 55, True), (-34.1, 18.3, 34, True),
])  # fmt: skip
def test_utm_comes_back(latitude, longitude, zone, south):
    """UTM is read to the millimetre of Krüger's series (Karney 2011), north and south."""
    east, north = utm(latitude, longitude, zone, south)
    [place] = to_wgs84(f"EPSG:{(32700 if south else 32600) + zone}", [east], [north])
    assert place == pytest.approx((latitude, longitude), abs=2e-8)


def test_the_british_grid():
    """A grid reference and the OSGB36 position of Ordnance Survey's worked example (A guide to coordinate systems in Great Britain, annex C; from memory) are one place."""
    from pipeline.intake.grids import transformation_m

    # E 651409.903, N 313177.270 is 52°39'27.2531"N 1°43'4.5177"E on OSGB36: this checks the grid, not the way from OSGB36 to WGS 84
    [(latitude, longitude)] = to_wgs84("EPSG:4277", [1 + 43 / 60 + 4.5177 / 3600], [52 + 39 / 60 + 27.2531 / 3600])
    [by_grid] = to_wgs84("EPSG:27700", [651409.903], [313177.270])
    assert by_grid == pytest.approx((latitude, longitude), abs=2e-8)
    assert transformation_m("EPSG:27700") >= 1
