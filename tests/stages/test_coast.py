"""The land on the map of sites: its cells are those of the mask, and lie where they lie in the sea."""

import itertools

import pytest

from pipeline.coast import land_around, land_once
from pipeline.pages.plan import LEAST_M, SIDE, Spot, frame, plan, way
from pipeline.pages.told import Place, Strip
from pipeline.pages.words import words

MOUNTS_BAY = Place(50.05, -5.45)  # in the west of Cornwall


@pytest.fixture(scope="module")
def strips() -> list[Strip]:
    """Land within 15 km of Mount's Bay."""
    return land_around(MOUNTS_BAY, 15_000) or []


@pytest.mark.parametrize(
    ("where", "latitude", "longitude", "land"),
    [
        ("Penzance, the town", 50.123, -5.545, True),
        ("Helston", 50.105, -5.275, True),
        ("Hayle, inland of it", 50.170, -5.400, True),
        ("the middle of the bay", 50.060, -5.420, False),
        ("south of Lizard Point by a third of a degree", 49.930, -5.450, False),
        ("west of Newlyn, on the moor", 50.120, -5.610, True),
    ],
)
def test_land_is_where_it_is(strips, where, latitude, longitude, land):
    """Towns around Mount's Bay are on land and the bay is sea. Places: any map, from memory."""
    assert any(s.south < latitude < s.north and s.west < longitude < s.east for s in strips) == land, where


def test_strips_are_short_and_do_not_overlap(strips):
    """No strip is longer than 16 cells, so that it is straight on a map, and no two share a cell."""
    assert all(0 < (s.east - s.west) * 120 < 16.5 and (s.north - s.south) * 120 == pytest.approx(1) for s in strips)
    rows: dict[int, list[tuple[float, float]]] = {}
    for s in strips:
        rows.setdefault(round(s.north * 120), []).append((s.west, s.east))
    for told in rows.values():
        told.sort()
        assert all(b[0] >= a[1] - 1e-9 for a, b in itertools.pairwise(told))


def test_open_sea_has_no_land_and_half_a_world_no_map(tmp_path):
    """In the open Atlantic there is none, on a map of 3,000 km none is drawn; what was found is remembered for that place alone."""
    assert land_around(Place(44.2, -27.8), 6000) == []
    assert land_around(Place(44.2, -27.8), 1_500_000) is None
    path = tmp_path / "coast.json"
    first = land_once(path, Place(50.35, -5.1), 6000)
    assert first and land_once(path, Place(50.35, -5.1), 6000) == first
    path.write_text(path.read_text().replace("50.", "51."))
    assert land_once(path, Place(50.35, -5.1), 6000) == first  # a note of elsewhere is not taken
    path.write_text("{")
    assert land_once(path, Place(50.35, -5.1), 6000) == first


def test_land_is_drawn_within_the_plan_and_at_its_place():
    """A strip 3 km to the north is drawn 3 km above the middle to the plan's own scale, and nothing beyond its edge."""
    spot = Spot("CB", Place(50.0, -5.0))
    near, far = Strip(50.027, 50.03, -5.001, -4.999), Strip(51.0, 51.1, -5.1, -4.9)
    drawn = plan("t", [spot], words("en"), land=[near, far])
    middle, half = frame([spot], LEAST_M)
    metres = way(middle, Place(50.03, -5.0))[1]
    top = SIDE / 2 - metres * SIDE / 2 / half
    shape = drawn.partition('class="land" d="')[2].partition('"')[0]
    corners = [tuple(map(float, c.split())) for part in shape.split("Z") if part for c in part[1:].split("L")]
    assert min(y for _, y in corners[:4]) == pytest.approx(top, abs=0.1)
    assert all(0 < x < SIDE and 0 < y < SIDE for x, y in corners)
    assert "land" not in plan("t", [spot], words("en"))
