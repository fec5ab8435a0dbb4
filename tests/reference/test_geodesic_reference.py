"""Our distances against published ones."""

import pytest

from pipeline.indicators.geodesic import geodesic_m


@pytest.mark.parametrize(
    ("one", "other", "metres"),
    [
        ((-41.32, 174.81), (40.96, -5.50), 19959679.267354),
        ((40.6, -73.8), (51.6, -0.5), 5551759.400319),
        ((58, 8), (58.0009, 8), 100.239891),
        ((58, 8), (58, 8.0017), 100.525865),
        ((39, -9.4), (39.0005, -9.4005), 70.406887),
    ],
)
def test_geodesics_of_the_library_s_documentation(one, other, metres):
    """Distances on WGS 84, nearly antipodal and short ones: GeographicLib documentation (Karney 2013, J. Geodesy 87:43)."""
    assert geodesic_m(*one, *other) == pytest.approx(metres, abs=1e-6)


def test_flinders_peak_to_buninyong():
    """54,972.271 m on GRS 80 (Geoscience Australia's worked example, from memory), whose ellipsoid differs by 0.1 mm in all."""
    peak = (-(37 + 57 / 60 + 3.72030 / 3600), 144 + 25 / 60 + 29.52440 / 3600)
    hill = (-(37 + 39 / 60 + 10.15610 / 3600), 143 + 55 / 60 + 35.38390 / 3600)
    assert geodesic_m(*peak, *hill) == pytest.approx(54972.271, abs=0.001)


def test_what_the_fifth_decimal_comes_to():
    """A hundred-thousandth of a degree at 58 N is 1.114 m of latitude and 0.591 m of longitude (GeographicLib, Karney 2013)."""
    assert geodesic_m(58, 8, 58.00001, 8) == pytest.approx(1.1137, abs=1e-4)
    assert geodesic_m(58, 8, 58, 8.00001) == pytest.approx(0.5913, abs=1e-4)
