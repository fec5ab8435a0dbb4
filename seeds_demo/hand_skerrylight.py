"""The Skerrylight Trust, a charity: English, comma, days as 2022-05-01, one row a stage, zeros of recruits written."""

from typing import Any

from seeds_demo.coast import SKERRYLIGHT
from seeds_demo.desk import Desk
from seeds_demo.diving import Told
from seeds_demo.forms import Form, Hand, Part

_DIVE = {"happened": "Date", "site_key": "Site", "dive_number": "Dive of the day"}

DIVES = Form(
    "dives {years}.csv",
    (
        Part(
            "visit",
            {**_DIVE, "outcome": "Site found?", "why": "If not, why", "team": "Divers", "bottom_time_min": "Minutes down",
             "visibility_m": "Visibility m", "water_temp_degc": "Water C", "recorded_by": "Written by"},
        ),
    ),
    "dives*.csv",
)  # fmt: skip
FRAMES = Form(
    "frames.csv",
    (
        Part(
            "survey",
            {**_DIVE, "plot_key": "Plot", "frame_key": "Frame", "area_m2": "Frame m2", "species": "Kelp", "stage": "Stage",
             "count": "Number", "fertile_count": "Of them fertile", "recorded_by": "Written by"},
            fixed={"frame_type": "quadrat", "placement": "random", "protocol": "quadrats"},
        ),
    ),
    cumulative=True,
)  # fmt: skip
CHECKS = Form(
    "bag checks {years}.csv",
    (
        Part(
            "check",
            {**_DIVE, "unit_key": "Tag", "state": "State", "count_found": "Stones found", "area_searched_m2": "Looked over m2",
             "search_time_min": "Looked for min", "retrieved_whole": "Home whole", "recorded_by": "Written by"},
        ),
    ),
    "bag checks*.csv",
)  # fmt: skip
OUT = Form(
    "bags out.csv",
    (
        Part(
            "deployment",
            {"unit_key": "Tag", "method": "What", "site_key": "Site", "plot_key": "Plot", "down_at": "Put down",
             "unit_count": "Pieces", "fixing": "Fixing", "batch_key": "Batch", "latitude": "Lat", "longitude": "Lon",
             "datum": "Datum", "uncertainty_m": "Give or take m", "permit_key": "Permit", "mass_kg": "Kg",
             "material": "Made of", "retrieve_by": "Home by"},
        ),
    ),
    "bags out*.csv",
)  # fmt: skip
LOST = Form(
    "lost bags {years}.csv",
    (
        Part(
            "loss",
            {"unit_key": "Tag", "happened": "Date", "how_known": "How known", "cause": "Cause", "cause_basis": "Cause is",
             "gear_recovered": "Gear came home", "mass_kg": "Kg", "recorded_by": "Written by"},
        ),
    ),
    "lost bags*.csv",
)  # fmt: skip
GROUND = Form(
    "ground work.csv",
    (
        Part(
            "treatment",
            {"happened": "Date", "site_key": "Site", "plot_key": "Plot", "action": "What was done", "area_m2": "On m2",
             "amount": "How many", "amount_unit": "Of what", "species": "Species", "permit_key": "Permit",
             "effort_person_min": "Person minutes", "disposal": "Then"},
        ),
    ),
)  # fmt: skip
SPENDING = Form(
    "spending {years}.csv",
    (
        Part(
            "cost",
            {"happened": "Date", "form": "Form", "amount": "Amount", "currency": "Currency", "category": "For",
             "phase": "Phase", "for_kind": "Spent on a", "for_key": "Which one", "share_key": "Shared by",
             "valued_by": "Valued by", "people": "People"},
        ),
    ),
    "spending*.csv",
)  # fmt: skip
WITHDRAWN = Form(
    "withdrawal.csv",
    (
        Part(
            "withdrawal",
            {c: c for c in ("happened", "withdraws_kind", "withdraws_key", "reason", "recorded_by")},
        ),
    ),
    own=True,
)

HAND = Hand(
    SKERRYLIGHT,
    "The Skerrylight Trust writes plainly: commas, days as year-month-day, one row for each stage.",
    (DIVES, FRAMES, CHECKS, OUT, LOST, GROUND, SPENDING, WITHDRAWN),
    words={
        "outcome": {"found": "yes", "not found": "no", "aborted": "turned back"},
        "species": {"Saccharina latissima": "sugar kelp", "Laminaria hyperborea": "oarweed"},
        "stage": {"recruit": "baby", "juvenile": "young", "sub-canopy": "half grown", "canopy": "grown"},
        "state": {"not searched": "did not look", "retrieved": "brought home"},
    },
)


def frame_rows(counts: dict[tuple[str, str], int]) -> list[tuple[str, str, int]]:
    """What is written of a frame: recruits always, zero or not; the other stages only where there were some."""
    return [(s, stage, n) for (s, stage), n in counts.items() if n or (s.startswith("Sacch") and stage == "recruit")]


def write(told: Told, desk: Desk) -> None:
    """All of a site's rows."""
    for row in told.visits:
        desk.put(HAND, DIVES, row, row["happened"])
    for frame in told.frames:
        look = frame.look
        for species, stage, count in frame_rows(frame.counts):
            told_of: dict[str, Any] = {
                "happened": look.day, "site_key": look.site, "dive_number": look.number, "plot_key": frame.plot,
                "frame_key": frame.key, "area_m2": frame.area_m2, "species": species, "stage": stage, "count": count,
                "fertile_count": count // 2 if stage == "canopy" else None, "recorded_by": look.by,
            }  # fmt: skip
            desk.put(HAND, FRAMES, told_of, look.day)
    for _, row in told.checks:
        desk.put(HAND, CHECKS, row, row["happened"])
    for form, rows in ((OUT, told.deployments), (LOST, told.losses), (GROUND, told.treatments)):
        for row in rows:
            desk.put(HAND, form, row, row.get("happened") or row["down_at"].date())
