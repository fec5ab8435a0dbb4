"""Open field files that nobody here wrote, mapped and taken in: what comes out is what other libraries read in them.

Penguins: nests on three islands of the Palmer Archipelago, Gorman, Williams & Fraser 2014 (doi:10.1371/journal.pone.0090081),
as the registry package `palmerpenguins` holds them (CC0). Temperatures: hours of San Francisco in 2010, NOAA's normals,
as the registry package `vega-datasets` holds them.
"""

import importlib.resources
from datetime import timedelta

import pandas as pd
import pytest

from pipeline import look, run
from pipeline.starter import start

NESTS = r"""
blanks = ["NA"]

[[sheet]]
files = ["penguins-raw.csv"]

[[sheet.part]]
kind = "survey"
[sheet.part.columns]
happened = "Date Egg"
site_key = "Island"
plot_key = "Region"
frame_key = "Individual ID"
plant_no = "Sample Number"
species = "Species"
length_cm = "Flipper Length (mm)"
remarks = "Comments"
[sheet.part.units]
length_cm = "mm"
[sheet.part.fixed]
frame_type = "timed search"
placement = "chosen"
protocol = "nests"
stage = "any"
count = 1
"""
HOURS = """
[[sheet]]
files = ["sf-temps.csv"]
kind = "reading"
[sheet.columns]
at = "date"
value = "temp"
[sheet.units]
value = "degF"
[sheet.fixed]
logger_key = "SF"
quantity = "temperature"
unit = "degC"
timezone = "TIMEZONE"
"""


def of_package(package, *path):
    """A file of a registry package."""
    return importlib.resources.files(package).joinpath(*path)


@pytest.fixture
def programme(tmp_path):
    """Takes files of one partner in under its mapping, and gives the one entry."""
    root = tmp_path / "p"
    start(root)
    (root / "inbox/others").mkdir()

    def take(mapping, name, data):
        (root / "partners/others.toml").write_text(mapping)
        (root / "inbox/others" / name).write_bytes(data)
        [entry] = run.take(root).entries
        run.project(root)
        return entry

    take.root = root
    return take


def now(root, query):
    """Rows of a query on the projection."""
    with run.session(root) as (con, _):
        return con.sql(query).fetchall()


def test_nests_of_penguins_are_taken_in_whole(programme):
    """344 nests with quoted commas, brackets in names and NA in five columns: every row enters, in centimetres."""
    file = of_package("palmerpenguins", "data", "penguins-raw.csv")
    entry = programme(NESTS, "penguins-raw.csv", file.read_bytes())
    assert (entry.receipt.records, entry.receipt.entered, entry.receipt.held) == (344, 344, 0)
    theirs = pd.read_csv(str(file))
    [(rows, flippers, millimetres, islands)] = now(programme.root,
        "select count(*), count(length_cm), cast(sum(length_cm) * 10 as double), count(distinct site_key) from survey_said")  # fmt: skip
    flipper = theirs["Flipper Length (mm)"]
    assert (rows, flippers, islands) == (len(theirs), flipper.count(), theirs["Island"].nunique())
    assert millimetres == pytest.approx(flipper.sum(), abs=1e-6)
    told = dict(now(programme.root, "select species, count(*) from survey_said group by species"))
    assert sorted(told.values()) == sorted(theirs["Species"].value_counts().tolist())
    remarks = now(programme.root, "select count(remarks) from survey_said")
    assert remarks == [(theirs["Comments"].count(),)]


@pytest.mark.parametrize(("zone", "held"), [("Etc/GMT+8", 0), ("America/Los_Angeles", 2)])
def test_hours_of_a_logger_are_taken_in_but_for_those_that_clocks_skip_or_tell_twice(programme, zone, held):
    """8,759 hours in degrees Fahrenheit become Celsius; where clocks change, the hour that never was and the one that was twice are held."""
    file = of_package("vega_datasets", "_data", "sf-temps.csv")
    mapping = HOURS.replace('timezone = "TIMEZONE"\n', "")
    entry = programme(f'timezone = "{zone}"\ndates = "YMD"\n{mapping}', "sf-temps.csv", file.read_bytes())
    theirs = pd.read_csv(str(file), parse_dates=["date"])
    assert (entry.receipt.records, entry.receipt.entered, entry.receipt.held) == (len(theirs), len(theirs) - held, held)
    if held:
        hours = {theirs["date"][h.row - 2].isoformat() for h in look.held_rows(programme.root)}
        assert hours == {"2010-03-14T02:00:00", "2010-11-07T01:00:00"}
    else:
        mean = now(programme.root, 'select cast(avg(value) as double), min("at"), max("at") from reading_said')[0]
        assert mean[0] == pytest.approx(((theirs["temp"] - 32) * 5 / 9).mean(), abs=1e-5)
        assert [mean[1], mean[2]] == [
            theirs["date"].min() + timedelta(hours=8),
            theirs["date"].max() + timedelta(hours=8),
        ]
