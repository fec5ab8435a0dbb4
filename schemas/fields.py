"""How a column is declared: its type, its words, its unit, its open-standard term.

Measures are exact decimals, so that sums do not depend on the order of rows: six places make a square metre
exact to the square millimetre and a kilogram to the milligram; seven places of a degree are a centimetre.
"""

from typing import TYPE_CHECKING, Any, TypeAlias

import polars as pl

from schemas.library import pa

Text = pl.String
Whole = pl.Int64
Day = pl.Date
YesNo = pl.Boolean
if TYPE_CHECKING:  # to a type checker a dtype with parameters is a value, not a type
    Instant: TypeAlias = pl.Datetime
    Degrees: TypeAlias = pl.Decimal
    Measure: TypeAlias = pl.Decimal
    Money: TypeAlias = pl.Decimal
else:
    Instant = pl.Datetime("us")  # UTC, without zone
    Measure = pl.Decimal(18, 6)
    Degrees = pl.Decimal(18, 7)
    Money = pl.Decimal(18, 2)

DWC = "http://rs.tdwg.org/dwc/terms/"
ECO = "http://rs.tdwg.org/eco/terms/"


def column(
    title: str,
    description: str,
    *,
    required: bool = False,
    unit: str = "",
    term: str = "",
    refers: str = "",
    several: bool = False,
    example: str = "",
    **rules: Any,
) -> Any:
    """A column of a kind.

    title        what a blank sheet's heading says.
    description  one sentence for the person who fills it in.
    unit         unit of measure as stored ("m2", "degC"); the column's name ends in it.
    term         IRI of the open-standard term it is published as, "" where there is none.
    refers       the kind whose key this column names ("site"); existence is a rule of standing, not of entry.
    several      whether the cell may hold several keys, parted by semicolons.
    rules        pandera's own field checks: ge, gt, le, lt, isin, str_matches.
    """
    return pa.Field(
        nullable=not required,
        title=title,
        description=description,
        metadata={
            "unit": unit,
            "term": term,
            "refers": refers,
            "several": several,
            "required": required,
            "example": example,
        },
        **rules,
    )


# A code that may stand in a key: no line breaks, no tab, at most 80 characters.
CODE = r"^[^\r\n\t]{1,80}$"


def key(title: str, description: str, *, required: bool = True, term: str = "", refers: str = "", **more: Any) -> Any:
    """A code that names something; part of an identity or a reference to one."""
    return column(title, description, required=required, term=term, refers=refers, str_matches=CODE, **more)


def latitude(required: bool = False) -> Any:
    """Degrees north, of the datum in the `datum` column."""
    return column(
        "Latitude", "Degrees north of the equator; south is negative.", required=required, unit="deg",
        term=DWC + "decimalLatitude", ge=-90, le=90, example="39.0412",
    )  # fmt: skip


def longitude(required: bool = False) -> Any:
    """Degrees east, of the datum in the `datum` column."""
    return column(
        "Longitude", "Degrees east of Greenwich; west is negative.", required=required, unit="deg",
        term=DWC + "decimalLongitude", ge=-180, le=180, example="-9.4105",
    )  # fmt: skip


def datum() -> Any:
    """Geodetic datum; blank is read as EPSG:4326 and carries a caution."""
    return column(
        "Datum", "Geodetic datum of the position, as an EPSG code; blank is read as EPSG:4326 with a caution.",
        term=DWC + "geodeticDatum", str_matches=r"^EPSG:\d{4,5}$", example="EPSG:4326",
    )  # fmt: skip


def uncertainty(required: bool = False) -> Any:
    """Radius in metres of the circle that surely holds the place; zero is not allowed (Darwin Core)."""
    return column(
        "Position uncertainty (m)", "Radius of the circle that surely holds the place.", required=required,
        unit="m", term=DWC + "coordinateUncertaintyInMeters", gt=0, le=20037509, example="10",
    )  # fmt: skip


def depth(title: str = "Depth (m)") -> Any:
    """Metres below the surface, positive down."""
    return column(title, "Depth below the surface, positive down.", unit="m", ge=0, le=200, example="8.5")


def temperature(title: str, description: str) -> Any:
    """Degrees Celsius, within what sea water and cool boxes can show."""
    return column(title, description, unit="degC", ge=-5, le=45, example="11.5")
