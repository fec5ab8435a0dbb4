"""Suggestions from other evidence than known headings: cells, units, what the kind still lacks, how things are written."""

import pytest

from pipeline.intake.mapping import parse_mapping
from pipeline.intake.names import Names
from pipeline.programme import ListedSpecies
from pipeline.suggest.fit import Registered
from pipeline.suggesting import Suggestion


def test_cells_tell_what_an_odd_heading_holds(proposed):
    """Words of the trade in the cells give an unknown heading to a column that the kind still lacks, and it is asked about."""
    p = proposed(
        """
        Date|Site|Bag|State|Zorbs|Quux
        2025-06-01|CB|CB-1|torn|barnacles|IMG_2201
        2025-06-02|CB|CB-2|attached|brown fluff|IMG_2204.jpg
        2025-06-03|CB|CB-3|attached|hydroids, silt|
        """,
        "bag checks.csv",
    )
    assert (p.tree["columns"]["fouling"], p.tree["columns"]["media"]) == ("Zorbs", "Quux")
    assert {("columns", "fouling"), ("columns", "media")} <= {q.path for q in p.questions}


@pytest.mark.parametrize(
    ("heading", "cells", "column"),
    [
        ("Mrk.", ["kan være en annen art", ""], "remarks"), ("Frøtetthet", ["12", "14"], "seed_density_per_cm2"),
        ("Retreive by", ["2025-09-01", "2025-09-01"], "retrieve_by"), ("fixng", ["bolt", "tie"], "fixing"),
    ],
)  # fmt: skip
def test_cut_grown_and_misspelt_headings_are_understood(proposed, heading, cells, column):
    """Within a kind that is known, a heading may be cut to its consonants, grown together or misspelt."""
    p = proposed(f"Tag|Method|Site|Plot|Put down|{heading}\nA-1|spore bag|CB|T1|2025-04-03 11:05|{cells[0]}\n"
                 f"A-2|spore bag|CB|T1|2025-04-03 11:15|{cells[1]}", "deployments.csv")  # fmt: skip
    assert p.tree["columns"].get(column) == heading


def test_rows_that_are_numbered_feed_nothing(proposed):
    """A column that counts the rows is no bag and no plant."""
    p = proposed("No.|Date|Site|Tag|State|Observer\n1|2025-06-01|CB|B7|torn|4\n2|2025-06-01|CB|B8|torn|5\n"
                 "3|2025-06-01|CB|B9|torn|6", "checks.csv")  # fmt: skip
    assert p.tree["columns"]["unit_key"] == "Tag"
    assert "No." in p.left


def test_units_below_the_headings_are_units(proposed, kinds):
    """A row of units is no record: it is named in the mapping, and what it says holds."""
    p = proposed("Tag|Method|Site|Plot|Put down|How many|Weight\n||||||g\nA-1|spore bag|CB|T1|2025-04-03 11:05|1|180\n"
                 .replace("||||||g", "|||||stk|g"), "deployments.csv")  # fmt: skip
    assert "unit_row" not in p.tree  # one known unit of two is too little
    p = proposed("Tag|Method|Site|Plot|Put down|Depth|Weight|How many\n|||||m|g|stk\n"
                 "A-1|spore bag|CB|T1|2025-04-03 11:05|5.5|180|1", "deployments.csv")  # fmt: skip
    assert (p.tree["unit_row"], p.tree["units"]["mass_kg"]) == (True, "g")
    assert parse_mapping("c", Suggestion("f.csv", [p], []).toml("c").encode(), kinds).sheets[0].stated.unit_row is True


def test_a_loose_clock_belongs_to_the_instant_of_its_kind(proposed):
    """A time of day beside a logger's day is when the reading was taken; “10.45” is one where the heading says so."""
    p = proposed(
        "Dato|Kl.|Temp (°C)\n03.06.2025|10.45|11,2\n03.06.2025|11.00|11,4\n13.06.2025|11.15|11,5", "logger TK-01.csv"
    )
    assert p.kinds == ["reading"]
    assert p.tree["columns"]["at"] == ["Dato", "Kl."]


def test_stages_behind_species_are_cut_off(proposed):
    """“n_Alaria_esculenta_juv” is a species and a stage; bare rock is none."""
    p = proposed("Date|Site|Plot|Quadrat|n_Alaria_esculenta_juv|n_Alaria_esculenta_adult|n_Echinus_esculentus|pc_Fucus_serratus|pc_bare_rock\n"
                 "2025-06-01|CB|T1|1|3|0|1|20|40\n2025-06-02|CB|T1|2|5|1|0|10|60")  # fmt: skip
    counts, cover = p.parts()
    assert counts["codes"]["stage"]["juv"] == "juvenile"
    assert counts["codes"]["species"]["Alaria_esculenta"] == "Alaria esculenta"
    assert "(?P<stage>" in counts["wide"]["pattern"]
    assert cover["wide"]["headings"] == ["pc_Fucus_serratus"]
    assert "pc_bare_rock" in p.left


def test_rough_counts_are_counts(proposed):
    """Species columns are seen though some cells say “c. 20”, “>100”, “-” or “n/a”; the programme's own names count as species."""
    registered = Registered(protocols=["quadrats"], names=Names((ListedSpecies("Echinus esculentus", ("Spiky",)),)))
    p = proposed("Date|Site|Plot|Quadrat|Laminaria hyperborea|Alaria esculenta|Spiky\n2025-06-01|CB|T1|1|c. 20|>100|-\n"
                 "2025-06-01|CB|T1|2|10-15|n/a|~5", "counts.csv", registered)  # fmt: skip
    assert {h for h, feeds in p.fed.items() if ("survey", "count") in feeds} == {
        "Laminaria hyperborea", "Alaria esculenta", "Spiky",
    }  # fmt: skip
    assert p.tree["codes"]["species"]["Spiky"] == "Echinus esculentus"


def test_a_position_is_no_placement(proposed):
    """“Position” names a place on the reef, unless its cells say how a frame was placed."""
    table = "Date|Site|Plot|Quadrat|Position|Species|Count\n2025-06-01|CB|T1|1|{}|Ulva lactuca|3\n2025-06-01|CB|T1|2|{}|Ulva lactuca|0"
    assert "placement" not in proposed(table.format("north wall", "by the arch")).tree["columns"]
    assert proposed(table.format("random", "fixed")).tree["columns"]["placement"] == "Position"


def test_counts_without_a_stage_are_asked_about(proposed):
    """Where no column tells the stage it is asked for, and where one does it is not."""
    table = "Date|Site|Plot|Quadrat|Species|Count{}\n2025-06-01|CB|T1|1|Alaria esculenta|3{}"
    [asked] = [q for q in proposed(table.format("", "")).questions if q.path == ("fixed", "stage")]
    assert "recruit" in asked.choices
    assert not [q for q in proposed(table.format("|Stage", "|juvenile")).questions if q.path == ("fixed", "stage")]


def test_headings_name_the_hemisphere(proposed, kinds):
    """Numbers without a sign lie on the side that the headings name; metres of a grid are asked about."""
    table = "Code|Name|Country|{}|{}|Radius\nCB|Cove B|CL|{}|{}|100\nCC|Cove C|CL|{}|{}|100"
    p = proposed(table.format("Lat S", "Long W", "33.1204", "71.6012", "33.1310", "71.6100"), "sites.csv")
    assert p.tree["position"] == {"hemisphere": ["S", "W"]}
    sheet = parse_mapping("c", Suggestion("f.csv", [p], []).toml("c").encode(), kinds).sheets[0]
    assert sheet.parts[0].position.hemisphere == ("S", "W")
    signed = proposed(table.format("Lat S", "Long W", "-33.1204", "-71.6012", "-33.1310", "-71.6100"), "sites.csv")
    assert "position" not in signed.tree
    grid = proposed(table.format("Northing", "Easting", "6250310", "512345", "6250401", "512400"), "sites.csv")
    assert [q.path for q in grid.questions if q.path[0] == "position"] == [("position", "crs")]


def test_every_question_stands_in_the_file(proposed):
    """As many questions are written as are counted, also those whose answer has no line yet."""
    p = proposed(
        "Date|Site|Plot|Species|Count\n2025-06-01|CB|T1|Alaria esculenta|3\n2025-06-01|CB|T2|Alaria esculenta|0"
    )
    text = Suggestion("sheet.csv", [p], []).toml("club")
    assert text.count("# ASK: ") == len(p.questions)
    assert f"# {len(p.questions)} questions are marked ASK" in text
    assert "Write it under [sheet.fixed], as area_m2 = ..." in text


def test_headings_that_are_alike_are_said_once(proposed):
    """Two columns of one heading are one line of what is left, not two."""
    p = proposed("Date|Site|Tag|State|Zorb|Zorb\n2025-06-01|CB|T1|torn|quux|quux\n2025-06-02|CB|T2|torn|blip|blip")
    assert p.left == ["Zorb"]


def test_degrees_alone_are_degrees_of_the_sheets_sort(proposed):
    """“Grader” under a temperature is taken as Celsius, never converted from an angle."""
    p = proposed(
        "Date|Site|Divers|Bottom time (min)|Temp (grader)\n2025-06-01|CB|2|35|11.5\n2025-06-02|CB|2|30|12",
        "dive log.csv",
    )
    assert p.tree["columns"]["water_temp_degc"] == "Temp (grader)"
    assert "units" not in p.tree
