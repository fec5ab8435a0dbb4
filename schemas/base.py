"""What every event carries, and how a model states its kind's name, key and version."""

import datetime as dt
from typing import Any

import polars as pl

from schemas.fields import DWC, Day, Instant, Text, column
from schemas.library import pa

# Days outside are slips of the pen; what is too early or too late for its neighbours is a rule of standing.
EARLIEST, LATEST = dt.date(1950, 1, 1), dt.date(2100, 12, 31)


class Event(pa.DataFrameModel):
    """Columns common to every kind that happened on a day."""

    happened: Day = column(
        "Date", "The local day it happened.", required=True, term=DWC + "eventDate", example="2025-04-18",
        ge=EARLIEST, le=LATEST,
    )  # fmt: skip
    happened_at: Instant = column("Time (UTC)", "The instant, when a time of day was written too.")
    happened_zone: Text = column("Time zone", "The zone the time was written in.", str_matches=r"^.{1,40}$")
    recorded_by: Text = column(
        "Recorded by", "Code of the person who wrote it down (names stand in people.toml).",
        term=DWC + "recordedBy", example="mb",
    )  # fmt: skip
    remarks: Text = column("Remarks", "Anything a reader should know.", term=DWC + "eventRemarks")
    media: Text = column("Photos", "File names or addresses of photographs.", term=DWC + "associatedMedia")

    class Config:
        strict = True
        coerce = False


class Placed(pa.DataFrameModel):
    """What holds of every kind with a position."""

    @pa.dataframe_check(name="somewhere", error="a position other than 0, 0, which devices write when they have none")
    def somewhere(cls, data: pa.PolarsData) -> pl.LazyFrame:
        """Nobody plants kelp where the equator meets Greenwich."""
        return data.lazyframe.select((pl.col("latitude") != 0) | (pl.col("longitude") != 0))


class Register(Event):
    """Columns common to the registers: a blank date means that it held from the beginning."""

    happened: Day = column(
        "Date", "The day from which this holds; blank: from the beginning.",
        ge=EARLIEST, le=LATEST,
    )  # fmt: skip


def about(
    *key: str, version: int = 1, shared: bool = False, happened_from: str = "", keyed_by_content: bool = False
) -> dict[str, Any]:
    """The facts of a kind that its columns do not tell.

    key              the columns that make its identity, in order.
    version          of the kind's columns; a change adds an upcast and never touches stored segments.
    shared           codes are the programme's: two partners who use one code mean one thing.
    happened_from    the time column that gives the day when the Date column is blank.
    keyed_by_content without a key (blank, or “cannot name”), the content and its ordinal among equal rows of the
                     drop are the identity.
    """
    return {
        "key": key,
        "version": version,
        "shared": shared,
        "happened_from": happened_from,
        "keyed_by_content": keyed_by_content,
    }
