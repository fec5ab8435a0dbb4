"""Archives against published examples: what others wrote down as an archive is what ours says of the same field data."""

from decimal import Decimal

import pytest
from archives import rows

from pipeline import run
from pipeline.archive.places import Held, published
from pipeline.intake.radius import precision_m

RULES = """
[programme]
key = "published"
name = "Published examples"

[[protocol]]
key = "cover"
dated = 2018-12-01
frame = "quadrat"
placement = "fixed"
[[protocol.search]]
species = "Ulva rigida"
stages = ["any"]

[publishing]
licence = "CC0-1.0"
title = "T"
abstract = "A"
organisation = "O"
[[publishing.partner]]
name = "club"
agreed = 2018-01-01
licence = "CC0-1.0"
"""
FILES = {
    # the OBIS manual's site_1 with its three zones; the outline is Darwin Core's own example of a footprint
    "programme/site.csv": """
        site_key   name     latitude   longitude   datum       uncertainty_m   radius_m   country   outline
        S1         Site 1   16.9425    54.7943     EPSG:4326   10              100        OM        POLYGON ((10 20, 11 20, 11 21, 10 21, 10 20))
    """,
    "programme/plot.csv": """
        site_key   plot_key   plot_kind   area_m2   depth_m
        S1         Z1         reference   1000      0
        S1         Z2         reference   1000      5
        S1         Z3         reference   1000      10
    """,
    "club/survey.csv": """
        visit_key   site_key   plot_key   frame_key    frame_type   placement   area_m2   protocol   species       stage    cover_pct   count   happened
        D1          S1         Z1         quadrat_1    quadrat      fixed       0.25      cover      Ulva rigida   .        24          .       2019-01-02
        D1          S1         Z1         quadrat_1    quadrat      fixed       0.25      cover      Ulva lactuca   .       56          .       2019-01-02
        D2          S1         Z2         transect_1   belt         fixed       60        cover      Ulva rigida   .        8           .       2019-01-03
        D2          S1         Z2         transect_1   belt         fixed       60        cover      Ulva lactuca   .       24          .       2019-01-03
        D3          S1         Z3         transect_2   belt         fixed       60        cover      Ulva rigida   .        4           .       2019-01-04
        D3          S1         Z3         transect_2   belt         fixed       60        cover      Ulva lactuca   .       16          .       2019-01-04
        D4          S1         Z1         whole        quadrat      fixed       1         cover      Ulva rigida   canopy   .           1       2019-01-05
        D4          S1         Z1         whole        quadrat      fixed       1         cover      Ulva rigida   juvenile   .         2       2019-01-05
        D4          S1         Z1         whole        quadrat      fixed       1         cover      Ulva rigida   any      .           4       2019-01-05
        D4          S1         Z1         parts        quadrat      fixed       1         cover      Ulva rigida   canopy   .           3       2019-01-05
        D4          S1         Z1         parts        quadrat      fixed       1         cover      Ulva rigida   juvenile   .         2       2019-01-05
        D4          S1         Z1         parts        quadrat      fixed       1         cover      Ulva rigida   recruit   .          1       2019-01-05
    """,
}  # fmt: skip


@pytest.fixture(scope="module")
def folder(new_programme):
    """An archive of those field sheets."""
    programme = new_programme(sea=False, rules=RULES)
    programme.take(FILES)
    run.archive(programme.root)
    return programme.root / "out" / "archive"


def at(folder, day):
    """The frame of a day."""
    return next(e for e in rows(folder, "event") if e["eventDate"] == day and e["eventType"] in ("quadrat", "belt"))


def test_the_obis_macroalgae_survey_is_encoded_and_read_back(folder):
    """OBIS manual, examples, “Macroalgae canopy cover”: three frames, six occurrences, their cover in %, the areas searched, by NERC's codes."""
    facts = rows(folder, "extendedmeasurementorfact")
    expected = {
        "2019-01-02": ("0.25", ["24", "56"]),
        "2019-01-03": ("60", ["24", "8"]),
        "2019-01-04": ("60", ["16", "4"]),
    }
    for day, (area, covers) in expected.items():
        of_frame = [f for f in facts if f["eventID"] == at(folder, day)["eventID"]]
        searched = [f for f in of_frame if f["measurementTypeID"].endswith("/AREABEDS/")]
        assert [
            (f["measurementValue"], f["measurementUnitID"].split("/")[-2], f["occurrenceID"]) for f in searched
        ] == [(area, "UMSQ", "")]
        covered = [f for f in of_frame if f["measurementTypeID"].endswith("/SDBIOL10/")]
        assert sorted(f["measurementValue"] for f in covered) == covers
        assert {f["measurementUnitID"].split("/")[-2] for f in covered} == {"UPCT"} and all(
            f["occurrenceID"] for f in covered
        )
    covered = [o for o in rows(folder, "occurrence") if o["organismQuantityType"] == "percentageCoverage"]
    assert len(covered) == 6 and {o["scientificNameID"].rpartition(":")[2] for o in covered} == {"145990", "145984"}


def test_a_frame_has_its_sites_coordinates_with_and_without_inheritance(folder):
    """The same example: OBIS inherits the site's coordinates, GBIF does not; written on the frame's own row, both read them."""
    quadrat = at(folder, "2019-01-02")
    assert (quadrat["decimalLatitude"], quadrat["decimalLongitude"]) == ("16.9425", "54.7943")
    assert (quadrat["minimumDepthInMeters"], quadrat["maximumDepthInMeters"]) == ("0", "0")
    deep = at(folder, "2019-01-04")
    assert (deep["minimumDepthInMeters"], deep["sampleSizeValue"], deep["sampleSizeUnit"]) == (
        "10",
        "60",
        "square metre",
    )


@pytest.mark.parametrize(("frame", "inclusive", "total"), [("4", "true", 4), ("3", "false", 6)])
def test_inclusive_counts(folder, frame, inclusive, total):
    """Humboldt, inclusive quantities: adult 1, juvenile 2, unspecified 4 are 4 in all if inclusive; 3, 2 and 1 are 6 if not."""
    counted = [o for o in rows(folder, "occurrence") if o["individualCount"] == frame]
    event = counted[0]["eventID"]
    [told] = [h for h in rows(folder, "humboldt") if h["eventID"] == event]
    assert told["isLeastSpecificTargetCategoryQuantityInclusive"] == inclusive
    every = [o for o in rows(folder, "occurrence") if o["eventID"] == event]
    least_specific = [int(o["individualCount"]) for o in every if "rule: any" in o["occurrenceRemarks"]]
    parts = [int(o["individualCount"]) for o in every if "rule: any" not in o["occurrenceRemarks"]]
    assert (sum(least_specific) if inclusive == "true" else sum(parts)) == total
    assert inclusive == "false" or sum(parts) <= sum(least_specific)


def test_a_footprint_is_written_as_it_is(folder):
    """Darwin Core, footprintWKT: the one-degree box from 10 to 11 east and 20 to 21 north keeps its corners, with its datum."""
    site = next(e for e in rows(folder, "event") if e["eventType"] == "site")
    assert (site["footprintWKT"], site["footprintSRS"]) == (
        "POLYGON ((10 20, 11 20, 11 21, 10 21, 10 20))",
        "EPSG:4326",
    )


def test_event_days_are_whole_days_at_both_ends(folder):
    """GBIF, temporal data: 2023-01-13/2023-01-15 is read as three days; spans are written in that form, single days alone."""
    site = next(e for e in rows(folder, "event") if e["eventType"] == "site")
    assert site["eventDate"] == "2019-01-02/2019-01-05"
    assert all(len(e["eventDate"]) in (10, 21) for e in rows(folder, "event"))
    assert (site["year"], site["month"], site["day"]) == ("2019", "1", "")  # as 2023-01-13/2023-01-15 is 2023, 1, none
    frame = at(folder, "2019-01-03")
    assert (frame["year"], frame["month"], frame["day"]) == ("2019", "1", "3")


def test_the_published_uncertainty_of_a_rounded_place():
    """Georeferencing Best Practices 2020: 10.27, -123.6 at 0.01 degrees is sure to 1.5568 km; rounded up to two digits."""
    held = Held("site", "K", "h", "0.01", Decimal("10.2712345"), Decimal("-123.6012345"), None, Decimal(0))
    place = published(held, precision_m)
    assert (place.latitude, place.longitude, place.uncertainty_m) == ("10.27", "-123.6", "1600")
