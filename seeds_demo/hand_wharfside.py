"""The Wharfside Dive Club: American, commas, 05/01/2022, feet, pounds and Fahrenheit, a title above the headings."""

from typing import Any

from seeds_demo.coast import SUGAR, WHARFSIDE
from seeds_demo.desk import Desk
from seeds_demo.diving import Told
from seeds_demo.forms import Form, Hand, Part

_DIVE = {"visit_key": "Dive", "happened": "Date", "site_key": "Site"}

DIVES = Form(
    "Dive Log {years}.csv",
    (
        Part(
            "visit",
            {**_DIVE, "outcome": "Found Site", "why": "Why Not", "team": "Divers", "bottom_time_min": "Bottom Min",
             "visibility_m": "Vis (ft)", "water_temp_degc": "Water (F)", "recorded_by": "Initials"},
            units={"visibility_m": "ft", "water_temp_degc": "degF"},
        ),
    ),
    "Dive Log*.csv",
    title="Wharfside Dive Club - dives for the kelp programme",
)  # fmt: skip
QUADS = Form(
    "Quad Counts {years}.csv",
    (
        Part(
            "survey",
            {**_DIVE, "plot_key": "Plot", "frame_key": "Quad", "area_m2": "Quad (sq ft)", "species": "Species",
             "stage": "Size Class", "count": "Count", "length_cm": "Tallest (in)", "recorded_by": "Initials"},
            units={"area_m2": "ft2", "length_cm": "in"},
            fixed={"frame_type": "quadrat", "placement": "random", "protocol": "quadrats"},
        ),
    ),
    "Quad Counts*.csv",
)  # fmt: skip
BAG_LOG = Form(
    "Bag Log.csv",
    (
        Part(
            "check",
            {**_DIVE, "unit_key": "Tag", "state": "Condition", "search_time_min": "Search Min", "count_found": "Rocks Found",
             "area_searched_m2": "Searched (sq ft)", "retrieved_whole": "Whole", "recorded_by": "Initials"},
            units={"area_searched_m2": "ft2"},
        ),
    ),
    cumulative=True,
)  # fmt: skip
BAGS = Form(
    "Bags Deployed.csv",
    (
        Part(
            "deployment",
            {"unit_key": "Tag", "method": "Type", "site_key": "Site", "plot_key": "Plot", "down_at": "Down",
             "unit_count": "Pieces", "fixing": "Held By", "batch_key": "Batch", "latitude": "Lat", "longitude": "Long",
             "datum": "Datum", "uncertainty_m": "GPS Error (ft)", "permit_key": "Permit", "mass_kg": "Weight (lb)",
             "material": "Material", "retrieve_by": "Pull By"},
            units={"uncertainty_m": "ft", "mass_kg": "lb"},
        ),
    ),
)  # fmt: skip
LOST = Form(
    "Lost Bags {years}.csv",
    (
        Part(
            "loss",
            {"unit_key": "Tag", "happened": "Date", "how_known": "How Known", "cause": "Cause", "cause_basis": "Basis",
             "gear_recovered": "Gear Back", "mass_kg": "Weight (lb)"},
            units={"mass_kg": "lb"},
        ),
    ),
    "Lost Bags*.csv",
)  # fmt: skip
GROUND = Form(
    "Urchin Work.csv",
    (
        Part(
            "treatment",
            {"happened": "Date", "site_key": "Site", "plot_key": "Plot", "action": "Work", "area_m2": "Area (sq ft)",
             "amount": "How Many", "amount_unit": "Of", "species": "Species", "effort_person_min": "Diver Min",
             "disposal": "Disposal", "permit_key": "Permit"},
            units={"area_m2": "ft2"},
        ),
    ),
)  # fmt: skip
SPENDING = Form(
    "Expenses {years}.csv",
    (
        Part(
            "cost",
            {"happened": "Date", "form": "Type", "amount": "Amount", "currency": "Currency", "category": "What",
             "phase": "Phase", "for_kind": "Charge To", "for_key": "Which", "share_key": "Split By",
             "valued_by": "Valued By", "people": "People"},
        ),
    ),
    "Expenses*.csv",
)  # fmt: skip
# A sheet that volunteers share: one row is a frame, a bag that was seen, or a bag that was put down.
_FIELD = {"happened": "Date", "site_key": "Site", "recorded_by": "Initials"}
FIELD_SHEET = Form(
    "Field Sheet June.csv",
    (
        Part(
            "survey",
            {**_FIELD, "plot_key": "Plot", "frame_key": "Quad", "area_m2": "Quad (sq ft)", "protocol": "Plan",
             "species": "Species", "stage": "Size Class", "count": "Count", "cover_pct": "Cover %"},
            units={"area_m2": "ft2"},
            fixed={"frame_type": "quadrat", "placement": "at unit"},
            only_if="Quad",
        ),
        Part(
            "check",
            {**_FIELD, "unit_key": "Tag Seen", "state": "Condition", "search_time_min": "Search Min"},
            only_if="Tag Seen",
        ),
        Part(
            "deployment",
            {"down_at": "Date", "site_key": "Site", "recorded_by": "Initials", "unit_key": "New Tag", "plot_key": "Plot",
             "latitude": "Lat", "longitude": "Long", "datum": "Datum", "uncertainty_m": "GPS Error (ft)",
             "fixing": "Held By", "batch_key": "Batch"},
            units={"uncertainty_m": "ft"},
            fixed={"method": "transplant"},
            only_if="New Tag",
        ),
    ),
    title="June field day - everything on one sheet",
)  # fmt: skip

HAND = Hand(
    WHARFSIDE,
    "The Wharfside Dive Club writes month/day/year, feet, pounds and degrees Fahrenheit; some sheets have a title line.",
    (DIVES, QUADS, BAG_LOG, BAGS, LOST, GROUND, SPENDING, FIELD_SHEET),
    newline="\r\n",
    encoding="utf-8-sig",
    dates="MDY/",
    blanks=("n/a",),
    words={
        "outcome": {"found": "Y", "not found": "N", "aborted": "Aborted"},
        "species": {"Saccharina latissima": "Sugar kelp", "Laminaria hyperborea": "Cuvie"},
        "stage": {"recruit": "XS", "juvenile": "S", "sub-canopy": "M", "canopy": "L"},
        "state": {"attached": "OK", "torn": "Ripped", "empty": "Empty", "absent": "Gone", "not searched": "Skipped",
                  "retrieved": "Pulled"},
        "fixing": {"bolt": "Bolt", "glue": "Epoxy", "tie": "Zip tie", "none": "Loose"},
    },
)  # fmt: skip


def write(told: Told, desk: Desk) -> None:
    """All of a site's rows. Every stage of sugar kelp is written, zero or not; cuvie only where there was some."""
    for row in told.visits:
        desk.put(HAND, DIVES, row, row["happened"])
    for frame in told.frames:
        look = frame.look
        for (species, stage), count in frame.counts.items():
            if count or species == SUGAR:
                told_of: dict[str, Any] = {
                    "visit_key": look.visit_key, "happened": look.day, "site_key": look.site, "plot_key": frame.plot,
                    "frame_key": frame.key, "area_m2": frame.area_m2, "species": species, "stage": stage, "count": count,
                    "length_cm": max(frame.lengths_cm[species, stage]) if count and stage == "canopy" else None,
                    "recorded_by": look.by,
                }  # fmt: skip
                desk.put(HAND, QUADS, told_of, look.day)
    for _, row in told.checks:
        desk.put(HAND, BAG_LOG, row, row["happened"])
    for form, rows in ((BAGS, told.deployments), (LOST, told.losses), (GROUND, told.treatments)):
        for row in rows:
            desk.put(HAND, form, row, row.get("happened") or row["down_at"].date())
