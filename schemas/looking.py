"""What divers find: visits, frames counted, units checked, losses, loggers."""

from typing import Any

import polars as pl

from schemas.base import Event, Placed, about
from schemas.fields import (
    DWC,
    ECO,
    Day,
    Degrees,
    Instant,
    Measure,
    Text,
    Whole,
    YesNo,
    column,
    depth,
    key,
    latitude,
    longitude,
    temperature,
)  # fmt: skip
from schemas.library import pa


def _dive() -> Any:
    return key("Dive", "Your own code for the dive; blank: made of site, day and dive number.", term=DWC + "eventID")


def _dive_number() -> Any:
    return column("Dive number", "Which dive of that day at that site, 1 if blank.", ge=1, le=99)


class Visit(Event):
    """One dive team at one site on one day. A site not found is a visit too, and proves nothing about units."""

    visit_key: Text = _dive()
    site_key: Text = key("Site", "The site that was looked for.", refers="site")
    dive_number: Whole = _dive_number()
    outcome: Text = column("Outcome", "Was the site found?", required=True, isin=["found", "not found", "aborted"])
    why: Text = column("Why not", "Why it was not found or was given up.")
    team: Whole = column("Divers", "How many divers.", ge=1, le=50, term=ECO + "samplingPerformedBy")
    bottom_time_min: Measure = column(
        "Time on the bottom (min)", "Effort, not a dive profile.", unit="min", ge=0, le=1440,
        term=ECO + "samplingEffortValue",
    )  # fmt: skip
    visibility_m: Measure = column("Visibility (m)", "How far one could see.", unit="m", ge=0, le=80)
    surge: Text = column("Surge", "none, slight, strong.")
    current: Text = column("Current", "none, slight, strong.")
    water_temp_degc: Measure = temperature("Water (degC)", "Water temperature on the bottom.")
    weather: Text = column("Weather", "In a few words.", term=ECO + "reportedWeather")
    max_depth_m: Measure = depth("Greatest depth (m)")
    supervisor: Text = column("Supervisor", "Code of the dive supervisor.")

    @pa.dataframe_check(name="why_given", error="a reason, where the site was not found or the dive was given up")
    def why_given(cls, data: pa.PolarsData) -> pl.LazyFrame:
        """A visit that found nothing says why."""
        return data.lazyframe.select((pl.col("outcome") == "found") | pl.col("why").is_not_null())

    class Config:
        name = "visit"
        metadata = about("visit_key")


class Survey(Event):
    """One frame searched for one species and stage. A counted zero is data; a blank count was not counted."""

    visit_key: Text = _dive()
    site_key: Text = key("Site", "Where.", refers="site")
    dive_number: Whole = _dive_number()
    plot_key: Text = key("Plot", "In which plot.", refers="plot")
    frame_key: Text = key("Frame", "Number of the quadrat or belt on that dive.", term=DWC + "eventID")
    frame_type: Text = column(
        "Kind of frame", "What was laid out.", required=True, term=DWC + "samplingProtocol",
        isin=["quadrat", "belt", "points", "photo", "timed search"],
    )  # fmt: skip
    placement: Text = column(
        "Placement", "How its place was chosen.", required=True,
        isin=["random", "systematic", "fixed", "at unit", "chosen", "unknown"],
    )  # fmt: skip
    area_m2: Measure = column(
        "Area of the frame (m2)", "Area searched.", unit="m2", gt=0, le=100000, term=DWC + "sampleSizeValue"
    )
    points: Whole = column("Points", "How many points, for point counts.", ge=1)
    protocol: Text = key("Protocol", "The programme's protocol it was counted under.")
    species: Text = column(
        "Species", "Scientific name; blank with count 0: searched, nothing of the protocol's list found.",
        term=DWC + "scientificName",
    )  # fmt: skip
    stage: Text = column(
        "Stage", "recruit, juvenile, sub-canopy or canopy, by the programme's rule.", term=DWC + "lifeStage",
        isin=["recruit", "juvenile", "sub-canopy", "canopy", "any"],
    )  # fmt: skip
    plant_no: Whole = column("Plant number", "When each plant has a row of its own.", ge=1)
    count: Whole = column(
        "Count", "How many; 0 is data, blank was not counted.", unit="individuals", ge=0, le=1000000,
        term=DWC + "individualCount",
    )  # fmt: skip
    count_qualifier: Text = column(
        "Exactness", "exact, about; a bound: at least, at most, between; present: there, but not counted.",
        isin=["exact", "about", "at least", "at most", "between", "present"],
    )  # fmt: skip
    count_most: Whole = column("Count, at most", "The greater number where the count lies between two.", ge=0)
    cover_pct: Measure = column(
        "Cover (%)", "Share of the frame covered.", unit="%", ge=0, le=100, term=DWC + "organismQuantity"
    )
    qualifier: Text = column("Doubt", "cf., aff. or ?", term=DWC + "identificationQualifier")
    identified_by: Text = column("Identified by", "Code of the person.", term=DWC + "identifiedBy")
    length_cm: Measure = column("Length (cm)", "Length of the plant.", unit="cm", gt=0, le=10000)
    counted_as: Text = column("Counted as", "What was counted.", isin=["plant", "stipe", "frond", "holdfast"])
    stage_basis: Text = column("Stage judged by", "length, form or eye.", isin=["length", "form", "eye"])
    fertile_count: Whole = column("Fertile", "How many of them were fertile.", ge=0, term=DWC + "reproductiveCondition")
    alive: YesNo = column("Alive", "Whether it lived.", term=DWC + "vitality")
    distance_to_unit_m: Measure = column("Distance to unit (m)", "For frames laid at units.", unit="m", ge=0)
    depth_m: Measure = depth()

    @pa.dataframe_check(name="species_or_zero", error="a species, unless the count is 0")
    def species_or_zero(cls, data: pa.PolarsData) -> pl.LazyFrame:
        """Only an empty frame may leave the species blank."""
        return data.lazyframe.select(pl.col("species").is_not_null() | (pl.col("count") == 0).fill_null(False))

    @pa.dataframe_check(name="fertile_within_count", error="no more fertile plants than were counted")
    def fertile_within_count(cls, data: pa.PolarsData) -> pl.LazyFrame:
        """Fertile plants are among the counted."""
        return data.lazyframe.select(pl.col("fertile_count") <= pl.col("count"))

    class Config:
        name = "survey"
        metadata = about("visit_key", "plot_key", "frame_key", "species", "stage", "plant_no")


class Check(Event):
    """One unit looked for on one visit. Not searched proves nothing."""

    visit_key: Text = _dive()
    site_key: Text = key("Site", "Where, if the dive has no code.", required=False, refers="site")
    dive_number: Whole = _dive_number()
    unit_key: Text = key("Unit", "Tag of the unit.")
    state: Text = column(
        "State", "What was found.", required=True,
        isin=["attached", "torn", "empty", "absent", "not searched", "retrieved"],
    )  # fmt: skip
    count_found: Whole = column("Pieces found", "For an untagged lot.", ge=0)
    area_searched_m2: Measure = column("Area searched (m2)", "For an absence.", unit="m2", gt=0)
    search_time_min: Measure = column(
        "Time searched (min)", "For an absence.", unit="min", ge=0, term=ECO + "samplingEffortValue"
    )
    retrieved_whole: YesNo = column("Brought home whole", "When it was taken up on purpose.")
    fixing_state: Text = column("State of the fixing", "firm, loose, gone.")
    new_fixing: Text = column("New fixing", "If it was fixed anew.", isin=["bolt", "glue", "tie", "weight", "none"])
    fouling: Text = column("Fouling", "What grew on it.")
    relocated_to: Text = column("Moved to", "Where it was moved to.")
    mark_found: YesNo = column("Mark found", "Whether its bolt or mark was found.")
    tag_read: YesNo = column("Tag read", "Whether the tag could be read.")

    class Config:
        name = "check"
        metadata = about("visit_key", "unit_key")


class Loss(Event, Placed):
    """A unit known lost: seen to go, found adrift or ashore, or missed."""

    unit_key: Text = key("Unit", "Tag of the unit, or: cannot name.")
    how_known: Text = column(
        "How known", "witnessed, adrift, ashore or missed.", required=True,
        isin=["witnessed", "adrift", "ashore", "missed"],
    )  # fmt: skip
    last_seen: Day = column("Last seen", "The day it was last seen attached.")
    cause: Text = column(
        "Cause", "What took it.",
        isin=["storm", "fixing failed", "grazer", "anchor", "removed by person", "unknown"],
    )  # fmt: skip
    cause_basis: Text = column("Cause is", "seen or supposed.", isin=["seen", "supposed"])
    gear_recovered: YesNo = column("Gear recovered", "Whether the gear came home.")
    mass_kg: Measure = column("Mass (kg)", "Mass of gear lost.", unit="kg", ge=0)
    latitude: Degrees = latitude()
    longitude: Degrees = longitude()

    class Config:
        name = "loss"
        metadata = about("unit_key", "happened", keyed_by_content=True)


class Reading(Event):
    """One reading of one logger."""

    logger_key: Text = key("Logger", "Code of the logger.")
    at: Instant = column("At (UTC)", "The instant of the reading.", required=True, term=DWC + "eventDate")
    quantity: Text = column(
        "Quantity", "What is measured; the lowest and highest only where the logger gives no more of a day.", required=True,
        isin=["temperature", "light", "pressure", "lowest temperature of the day", "highest temperature of the day"],
    )  # fmt: skip
    value: Measure = column("Value", "In the unit beside; temperature in degC.", required=True)
    unit: Text = column("Unit", "degC, lux, dbar.", required=True, term=DWC + "measurementUnit")
    site_key: Text = key("Site", "Where the logger hangs.", required=False, refers="site")
    accuracy: Measure = column("Accuracy", "In the same unit.", ge=0, term=DWC + "measurementAccuracy")
    in_water_from: Instant = column("In the water from", "When it went in.")
    in_water_to: Instant = column("In the water to", "When it came out.")
    calibrated_on: Day = column("Calibrated on", "Last calibration.")
    time_offset_s: Measure = column("Clock offset (s)", "By how much its clock was off.", unit="s")
    depth_m: Measure = depth()
    flag: Text = column("Flag", "good, doubtful or bad.", isin=["good", "doubtful", "bad"])
    serial: Text = column("Serial number", "On the logger.")
    model: Text = column("Model", "Make and model.", term=DWC + "measurementMethod")

    class Config:
        name = "reading"
        metadata = about("logger_key", "quantity", "at", happened_from="at")
