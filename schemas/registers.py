"""The registers: the things that other events name. Their codes are the programme's."""

import polars as pl

from schemas.base import Placed, Register, about
from schemas.fields import (
    DWC,
    ECO,
    Day,
    Degrees,
    Measure,
    Text,
    Whole,
    column,
    datum,
    depth,
    key,
    latitude,
    longitude,
    uncertainty,
)  # fmt: skip
from schemas.library import pa


class Site(Register, Placed):
    """A named stretch of reef, with a position, a radius and a country."""

    site_key: Text = key("Site", "The programme's code for the site.", term=DWC + "locationID", example="CB")
    name: Text = column("Site name", "The name people use.", required=True, term=DWC + "locality")
    latitude: Degrees = latitude(required=True)
    longitude: Degrees = longitude(required=True)
    datum: Text = datum()
    uncertainty_m: Measure = uncertainty(required=True)
    radius_m: Measure = column(
        "Radius (m)", "How far from the position the site reaches.", required=True, unit="m", gt=0, le=20000
    )
    country: Text = column(
        "Country", "Two-letter country code (ISO 3166).", required=True, term=DWC + "countryCode",
        str_matches=r"^[A-Z]{2}$",
    )  # fmt: skip
    sensitive: Text = column(
        "Sensitive", "How the place is blurred when published: none, 0.001, 0.01, 0.1 or 1 degree, withheld.",
        isin=["none", "0.001", "0.01", "0.1", "1", "withheld"], term=DWC + "dataGeneralizations",
    )  # fmt: skip
    depth_min_m: Measure = depth("Least depth (m)")
    depth_max_m: Measure = depth("Greatest depth (m)")
    depth_datum: Text = column("Depth datum", "What depths are counted from, such as chart datum.")
    habitat: Text = column("Habitat", "Rock, boulders on sand, barren ...", term=DWC + "habitat")
    outline: Text = column("Outline", "The site's outline as WKT.", term=DWC + "footprintWKT")
    water_body: Text = column("Water body", "Sea or bay.", term=DWC + "waterBody")
    biosecurity_zone: Text = column("Biosecurity zone", "The zone of your authority, if any.")
    marks: Text = column("Marks", "How the site is found again.")

    @pa.dataframe_check(name="depth_order", error="a least depth that is not below the greatest depth")
    def depth_order(cls, data: pa.PolarsData) -> pl.LazyFrame:
        """Least depth does not exceed greatest depth."""
        return data.lazyframe.select(pl.col("depth_min_m") <= pl.col("depth_max_m"))

    class Config:
        name = "site"
        metadata = about("site_key", shared=True)


class Plot(Register):
    """A part of a site: treated, control (untouched) or reference (natural forest)."""

    site_key: Text = key("Site", "The site it lies in.", refers="site")
    plot_key: Text = key("Plot", "Code of the plot within its site.", example="T1")
    plot_kind: Text = column(
        "Kind of plot",
        "treated, control or reference.",
        required=True,
        isin=["treated", "control", "reference"],
    )
    area_m2: Measure = column(
        "Area (m2)", "Area of the plot.", required=True, unit="m2", term=ECO + "geospatialScopeAreaValue",
        gt=0, le=10000000,
    )  # fmt: skip
    paired_with: Text = key("Paired with", "The treated plot a control belongs to.", required=False)
    control_kind: Text = column(
        "Kind of control",
        "untouched, empty unit or prepared only.",
        isin=["untouched", "empty unit", "prepared only"],
    )
    assigned_by: Text = column(
        "Assigned by", "How it was decided which plot is treated.", isin=["random", "chosen", "unknown"]
    )
    outline: Text = column("Outline", "The plot's outline as WKT.", term=DWC + "footprintWKT")
    depth_m: Measure = depth()
    substrate: Text = column("Substrate", "Pitted rock, boulders, sand ...", term=DWC + "habitat")
    distance_planted_m: Measure = column(
        "Distance to planted (m)", "Distance to the nearest planted plot.", unit="m", ge=0
    )
    distance_adult_m: Measure = column(
        "Distance to adults (m)", "Distance to the nearest natural adult.", unit="m", ge=0
    )
    role_from: Day = column("Role from", "First day of this role.")
    role_to: Day = column("Role to", "Last day of this role.")

    @pa.dataframe_check(
        name="control_needs", error="for a control plot, both the kind of control and how it was assigned"
    )
    def control_needs(cls, data: pa.PolarsData) -> pl.LazyFrame:
        """A control states what kind it is and how it was assigned."""
        told = pl.col("control_kind").is_not_null() & pl.col("assigned_by").is_not_null()
        return data.lazyframe.select((pl.col("plot_kind") != "control") | told)

    class Config:
        name = "plot"
        metadata = about("site_key", "plot_key", shared=True)


class Bed(Register, Placed):
    """A donor bed, with dated estimates of how many plants it holds; a new estimate amends it."""

    bed_key: Text = key("Donor bed", "The programme's code for the bed.", term=DWC + "locationID")
    latitude: Degrees = latitude()
    longitude: Degrees = longitude()
    datum: Text = datum()
    uncertainty_m: Measure = uncertainty()
    species: Text = column("Species", "Scientific name.", required=True, term=DWC + "scientificName")
    estimated_on: Day = column("Estimated on", "The day the plants were estimated.", required=True)
    adults: Whole = column("Adults", "Estimated number of adult plants.", ge=0)
    adults_low: Whole = column("Adults, low", "Low end of the estimate.", ge=0)
    adults_high: Whole = column("Adults, high", "High end of the estimate.", ge=0)
    fertile: Whole = column("Fertile plants", "Estimated number of fertile plants.", ge=0)
    fertile_low: Whole = column("Fertile, low", "Low end of the estimate.", ge=0)
    fertile_high: Whole = column("Fertile, high", "High end of the estimate.", ge=0)
    blades: Whole = column("Fertile blades", "Estimated number of fertile blades, where these are counted.", ge=0)
    blades_low: Whole = column("Fertile blades, low", "Low end of the estimate.", ge=0)
    blades_high: Whole = column("Fertile blades, high", "High end of the estimate.", ge=0)
    estimate_method: Text = column("How estimated", "Belts, quadrats, drone ...")
    area_m2: Measure = column("Area (m2)", "Area of the bed.", unit="m2", gt=0)
    take_limit_pct: Measure = column(
        "Limit of taking (%)",
        "Largest share of the plants that may be cut in a year.",
        unit="%",
        gt=0,
        le=100,
    )
    limit_source: Text = column("Source of the limit", "Who set it; a local permit outranks it.")
    rest_days: Whole = column("Rest (days)", "Days the bed rests between cuttings.", unit="d", ge=0)
    sensitive: Text = column(
        "Sensitive",
        "How the place is blurred when published.",
        isin=["none", "0.001", "0.01", "0.1", "1", "withheld"],
    )

    @pa.dataframe_check(
        name="limit_needs_estimate",
        error="with a limit, the number of fertile or adult plants, or of fertile blades, and how it was estimated",
    )
    def limit_needs_estimate(cls, data: pa.PolarsData) -> pl.LazyFrame:
        """A share needs a denominator."""
        counted = pl.any_horizontal(pl.col(c).is_not_null() for c in ("fertile", "adults", "blades"))
        told = counted & pl.col("estimate_method").is_not_null()
        return data.lazyframe.select(pl.col("take_limit_pct").is_null() | told)

    class Config:
        name = "bed"
        metadata = about("bed_key", shared=True, happened_from="estimated_on")


class Permit(Register):
    """A permit as its paper states it; local rules outrank every limit of ours."""

    permit_key: Text = key("Permit number", "The number on the paper.")
    authority: Text = column("Authority", "Who gave it.", required=True)
    holder: Text = column("Holder", "To whom.", required=True)
    activity: Text = column(
        "Activity", "What it allows.", required=True,
        isin=["collect", "move", "place on seabed", "remove grazers", "other"],
    )  # fmt: skip
    valid_from: Day = column("Valid from", "First day.", required=True)
    valid_to: Day = column("Valid to", "Last day.", required=True)
    species: Text = column("Species", "Scientific name, if it names one.", term=DWC + "scientificName")
    quota: Measure = column("Quota", "How much it allows, in the unit beside.", ge=0)
    quota_unit: Text = column("Quota unit", "plants, blades, kg, units ...")
    area: Text = column("Area", "The stretch of coast it names.")
    conditions: Text = column("Conditions", "Conditions on the paper.")
    report_due: Day = column("Report due", "When the authority wants a report.")
    document: Text = column("Document", "SHA-256 of the scanned paper.")
    status: Text = column("Status", "in force, lapsed, asked for.")

    @pa.dataframe_check(name="quota_unit_given", error="a unit beside the quota")
    def quota_unit_given(cls, data: pa.PolarsData) -> pl.LazyFrame:
        """A quota has a unit."""
        return data.lazyframe.select(pl.col("quota").is_null() | pl.col("quota_unit").is_not_null())

    class Config:
        name = "permit"
        metadata = about("permit_key", shared=True)
