"""From the donor bed to the bottom: what is cut, how it is kept, where it is put, how the ground is prepared."""

import polars as pl

from schemas.base import Event, Placed, about
from schemas.fields import (
    DWC,
    Day,
    Degrees,
    Instant,
    Measure,
    Text,
    Whole,
    YesNo,
    column,
    datum,
    depth,
    key,
    latitude,
    longitude,
    temperature,
    uncertainty,
)  # fmt: skip
from schemas.library import pa


class Collection(Event):
    """One cutting from one donor bed on one day: a batch."""

    batch_key: Text = key("Batch", "The programme's code for this cutting.", example="B25-01")
    bed_key: Text = key("Donor bed", "The bed it was cut from.", refers="bed")
    species: Text = column("Species", "Scientific name.", required=True, term=DWC + "scientificName")
    plants_cut: Whole = column("Plants cut", "How many plants were cut from.", required=True, unit="plants", ge=1)
    blades_cut: Whole = column("Blades cut", "How many fertile blades were taken.", ge=0)
    permit_key: Text = key("Permit number", "The permit it was cut under.", required=False, refers="permit")
    cut_height_cm: Measure = column(
        "Height of cut (cm)",
        "Height of the cut above the meristem, so that the plant grows on.",
        unit="cm",
        ge=0,
    )
    fertile_mass_kg: Measure = column("Fertile tissue (kg)", "Wet mass taken.", unit="kg", ge=0)
    parents: Whole = column("Parent plants", "How many different plants gave tissue.", ge=1)
    share_claimed_pct: Measure = column(
        "Share taken (%)", "The share you believe was taken; kept as your claim.", unit="%", ge=0, le=100
    )
    cut_from: Instant = column("Cutting from", "When cutting began.")
    cut_to: Instant = column("Cutting to", "When cutting ended.")
    depth_m: Measure = depth()
    water_temp_degc: Measure = temperature("Water (degC)", "Water temperature at the bed.")
    whole_plants_taken: YesNo = column("Whole plants taken", "Whether whole plants were taken.")
    visit_key: Text = key("Dive", "The dive it was cut on.", required=False, refers="visit")

    @pa.dataframe_check(name="cut_order", error="a cutting that ends after it begins")
    def cut_order(cls, data: pa.PolarsData) -> pl.LazyFrame:
        """Cutting ends after it begins."""
        return data.lazyframe.select(pl.col("cut_from") <= pl.col("cut_to"))

    class Config:
        name = "collection"
        metadata = about("batch_key", shared=True, happened_from="cut_from")


class Handling(Event):
    """One step in the keeping of a batch, from cutting to release; batches may be mixed and split."""

    batch_key: Text = key("Batch", "The batch that this step made or kept.")
    step: Text = column(
        "Step", "What was done.", required=True,
        isin=["clean", "dry", "hold", "carry", "release", "culture", "seed", "split", "merge"],
    )  # fmt: skip
    started_at: Instant = column("From", "When the step began.", required=True)
    ended_at: Instant = column("To", "When it ended.")
    parent_batches: Text = column(
        "From batches", "The batches it came from, parted by semicolons.", refers="collection", several=True
    )
    temp_min_degc: Measure = temperature("Coolest (degC)", "Lowest temperature of the tissue.")
    temp_max_degc: Measure = temperature("Warmest (degC)", "Highest temperature of the tissue.")
    light_umol_m2_s: Measure = column("Light (umol m-2 s-1)", "Light in culture.", unit="umol m-2 s-1", ge=0)
    spores_per_ml: Measure = column("Spores (per ml)", "Spores counted in the water.", unit="per ml", ge=0)
    germination_pct: Measure = column("Germination (%)", "Share that germinated.", unit="%", ge=0, le=100)
    vessel: Text = column("Vessel", "Box, bag, flask ...")
    place: Text = column("Place", "Where it was kept.")

    @pa.dataframe_check(name="step_order", error="a step that ends after it begins")
    def step_order(cls, data: pa.PolarsData) -> pl.LazyFrame:
        """A step ends after it begins."""
        return data.lazyframe.select(pl.col("started_at") <= pl.col("ended_at"))

    @pa.dataframe_check(name="temp_order", error="a coolest that is not above the warmest")
    def temp_order(cls, data: pa.PolarsData) -> pl.LazyFrame:
        """The coolest is not above the warmest."""
        return data.lazyframe.select(pl.col("temp_min_degc") <= pl.col("temp_max_degc"))

    @pa.dataframe_check(name="parents_named", error="the batches it came from, for a merge or a split")
    def parents_named(cls, data: pa.PolarsData) -> pl.LazyFrame:
        """A merge or split names its parents."""
        return data.lazyframe.select(~pl.col("step").is_in(["merge", "split"]) | pl.col("parent_batches").is_not_null())

    class Config:
        name = "handling"
        metadata = about("batch_key", "step", "started_at", happened_from="started_at")


class Deployment(Event, Placed):
    """One unit put down: a tagged spore bag, or an untagged lot of gravel or lines with its count."""

    unit_key: Text = key("Unit", "Tag of the bag, or the lot's code.", example="CB-017")
    method: Text = column("Method", "spore bag, seeded gravel, seeded line, transplant.", required=True)
    site_key: Text = key("Site", "Where it was put down.", refers="site")
    plot_key: Text = key("Plot", "In which plot.", refers="plot")
    down_at: Instant = column("Put down at", "When it was put down.")
    unit_count: Whole = column("How many", "1 for a tagged unit; the number of pieces of a lot.", ge=1)
    fixing: Text = column("Fixing", "What holds it.", isin=["bolt", "glue", "tie", "weight", "none"])
    batch_key: Text = column(
        "Batch",
        "The batch or batches of tissue in it, parted by semicolons.",
        refers="collection",
        several=True,
    )
    latitude: Degrees = latitude()
    longitude: Degrees = longitude()
    datum: Text = datum()
    uncertainty_m: Measure = uncertainty()
    opened_at: Instant = column("Opened on the bottom at", "When sealed tissue was let out on the bottom.")
    permit_key: Text = key("Permit number", "The permit for placing it.", required=False, refers="permit")
    area_treated_m2: Measure = column("Area treated (m2)", "Area this unit is meant to treat.", unit="m2", gt=0)
    depth_m: Measure = depth()
    depth_datum: Text = column("Depth datum", "What the depth is counted from.")
    substrate: Text = column("Substrate", "Pitted rock, boulders, sand ...")
    mass_kg: Measure = column("Mass (kg)", "Mass of gear put down.", unit="kg", ge=0)
    material: Text = column("Material", "Cotton, jute, polypropylene, stone ...")
    retrieve_by: Day = column("Bring home by", "Day by which it is to be brought home.")
    fixed_to: Text = column("Fixed to", "The bolt or mark it hangs on.")
    boat_temp_degc: Measure = temperature("On the boat (degC)", "Warmest the tissue became on the boat.")
    seed_density_per_cm2: Measure = column("Seed density (per cm2)", "Plants on it.", unit="per cm2", ge=0)

    @pa.dataframe_check(name="whole_position", error="latitude, longitude and position uncertainty together, or none")
    def whole_position(cls, data: pa.PolarsData) -> pl.LazyFrame:
        """A position is whole or absent."""
        given = [pl.col(c).is_not_null() for c in ("latitude", "longitude", "uncertainty_m")]
        return data.lazyframe.select((given[0] == given[1]) & (given[1] == given[2]))

    class Config:
        name = "deployment"
        metadata = about("unit_key", shared=True, happened_from="down_at")


class Treatment(Event):
    """Preparation of a plot: grazers or turf removed. It counts beside the planting, not instead of it."""

    site_key: Text = key("Site", "Where.", refers="site")
    plot_key: Text = key("Plot", "In which plot.", refers="plot")
    action: Text = column(
        "Action", "What was done.", required=True,
        isin=["grazers removed", "turf removed", "weed removed", "caged", "rock scraped", "other"],
    )  # fmt: skip
    area_m2: Measure = column("Area (m2)", "Area it was done on.", required=True, unit="m2", gt=0)
    amount: Measure = column("Amount", "How much was removed, in the unit beside.", ge=0)
    amount_unit: Text = column("Amount unit", "animals, kg ...")
    species: Text = column("Species", "Scientific name of what was removed.", term=DWC + "scientificName")
    permit_key: Text = key("Permit number", "The permit it was done under.", required=False, refers="permit")
    effort_person_min: Measure = column("Work (person-minutes)", "Work it took.", unit="min", ge=0)
    disposal: Text = column("Disposal", "What became of it.")
    visit_key: Text = key("Dive", "The dive it was done on.", required=False, refers="visit")

    class Config:
        name = "treatment"
        metadata = about("site_key", "plot_key", "action", "happened")
