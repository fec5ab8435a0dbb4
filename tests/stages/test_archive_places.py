"""Places as they are published: rounded, with an uncertainty that still holds them, and nothing of what is held."""

from dataclasses import replace
from decimal import Decimal

import pytest

from pipeline.archive.places import Held, around, box, coarser, published
from pipeline.indicators.geodesic import geodesic_m
from pipeline.intake.radius import precision_m

HELD = Held("site", "K", "h", "0.01", Decimal("39.0123457"), Decimal("-9.0765432"), Decimal(10), Decimal(200), name="Quillmere",
            country="PT", outline="POINT (-9.0765432 39.0123457)")  # fmt: skip


@pytest.mark.parametrize("level", ["0.001", "0.01", "0.1", "1"])
def test_the_published_circle_holds_the_place(level):
    """Whatever the level, the place and its reach lie within the published uncertainty of the published point."""
    place = published(replace(HELD, level=level), precision_m)
    off = geodesic_m(39.0123457, -9.0765432, float(place.latitude), float(place.longitude))
    assert off + 210 <= float(place.uncertainty_m)
    assert (place.precision, place.locality, place.outline) == (level, "", "")
    assert len(place.latitude.partition(".")[2]) <= len(level.partition(".")[2])
    assert "39.012" not in repr(replace(place, key="")) or level == "0.001"
    assert level in place.generalised and "withheld" in place.withheld


def test_uncertainty_is_that_of_the_digits_and_all_before():
    """At 39 degrees and 0.01 degrees: 1408 m of the digits (Georeferencing Best Practices 2020) and 210 m held, to two digits."""
    assert precision_m(39.01, 0.01) == pytest.approx(1408, abs=1)
    assert published(HELD, precision_m).uncertainty_m == "1700"
    assert published(replace(HELD, level="none"), precision_m).uncertainty_m == "210"


def test_what_cannot_be_seen_is_not_there():
    """A withheld place and one without a position are none."""
    assert published(replace(HELD, level="withheld"), precision_m) is None
    assert published(replace(HELD, latitude=None), precision_m) is None


def test_a_place_that_is_not_sensitive_stays():
    """It keeps its digits, name and outline, and says how many digits there are."""
    place = published(replace(HELD, level="none"), precision_m)
    assert (place.latitude, place.precision, place.locality, place.outline) == (
        "39.0123457",
        "0.0000001",
        "Quillmere",
        HELD.outline,
    )
    assert (place.generalised, place.withheld) == ("", "")
    short = published(
        replace(HELD, level="none", latitude=Decimal("39.0000000"), longitude=Decimal("-9.5")), precision_m
    )
    assert (short.latitude, short.precision) == (
        "39",
        "",
    )  # zeros at the end are not kept: nobody knows that it is a degree


def test_the_coarsest_level_holds():
    """Of a register's word and a rule's the coarser counts."""
    assert coarser("none", "0.1", "0.001") == "0.1" and coarser("1", "withheld") == "withheld"


def test_the_programmes_circle_and_box_hold_every_published_place():
    """They are made of published points alone, over the 180th meridian too."""
    places = [published(replace(HELD, longitude=Decimal(x), latitude=Decimal(y)), precision_m)
              for x, y in (("179.7654321", "-44.1"), ("-179.4", "-43.9876543"))]  # fmt: skip
    latitude, longitude, radius = around(places)
    for p in places:
        off = geodesic_m(float(latitude), float(longitude), float(p.latitude), float(p.longitude))
        assert off + float(p.uncertainty_m) <= float(radius)
    west, east, north, south = map(float, box(places))
    assert 179.7 < west < 179.77 and -179.4 < east < -179.3  # it goes over the meridian, and holds both circles
    for p in places:
        x, y, reach = float(p.longitude), float(p.latitude), float(p.uncertainty_m)
        nearest = [(y, west), (y, east), (north, x), (south, x)]
        assert all(geodesic_m(y, x, *edge) >= reach for edge in nearest)
        assert south < y < north
    alone = [replace(p, uncertainty_m="") for p in places[:1]]
    assert box(alone) == ("179.77", "179.77", "-44.1", "-44.1")
