"""Distance of a unit from its site, against geodesics on the ellipsoid."""

import pytest
from geographiclib.geodesic import Geodesic

from pipeline import run
from pipeline.starter import start

# Geodesic inverse on WGS84 (Karney 2013, J. Geodesy 87:43, by geographiclib); the sphere's figures by hand beside.
PAIRS = [
    ((58, 8), (58.0009, 8), 100.239891, 100.0756),
    ((58, 8), (58, 8.0017), 100.525865, 100.1715),
    ((39, -9.4), (39.0005, -9.4005), 70.406887, 70.4127),
]


@pytest.fixture(scope="module")
def metres(tmp_path_factory):
    """Distances as the view `unit_distance` gives them, one unit a pair."""
    root = tmp_path_factory.mktemp("positions") / "p"
    start(root)
    sites, units = ["site_key,name,latitude,longitude,datum,uncertainty_m,radius_m,country"], []
    for n, (site, unit, *_) in enumerate(PAIRS):
        sites.append(f"S{n},S{n},{site[0]},{site[1]},EPSG:4326,1,1,PT")
        units.append(f"U{n},spore bag,S{n},T1,2025-03-01,{unit[0]},{unit[1]},1")
    (root / "inbox/programme/site.csv").write_text("\n".join(sites) + "\n")
    head = "unit_key,method,site_key,plot_key,happened,latitude,longitude,uncertainty_m"
    (root / "inbox/programme/deployment.csv").write_text("\n".join([head, *units]) + "\n")
    run.take(root)
    run.project(root)
    with run.session(root) as (con, _):
        return [m for (m,) in con.sql("select metres from unit_distance order by unit_key").fetchall()]


@pytest.mark.parametrize("n", range(len(PAIRS)))
def test_distance_is_the_great_circle(metres, n):
    """Short distances are those of a sphere of 6371008.8 m (haversine, computed beside the geodesics below)."""
    assert metres[n] == pytest.approx(PAIRS[n][3], abs=5e-5)


@pytest.mark.parametrize("n", range(len(PAIRS)))
def test_distance_is_near_the_geodesic(metres, n):
    """Short distances are within 0.4 % of the geodesic on WGS84 (GeographicLib, Karney 2013)."""
    site, unit, geodesic, _ = PAIRS[n]
    assert Geodesic.WGS84.Inverse(*site, *unit)["s12"] == pytest.approx(geodesic, abs=1e-6)
    assert metres[n] == pytest.approx(geodesic, rel=0.004)
