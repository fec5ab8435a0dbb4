"""The Fulmar Laboratory: Parquet with typed columns, lengths instead of stages, and the keeping of all batches."""

from typing import Any

from seeds_demo.coast import FULMAR_LAB, SUGAR, Site
from seeds_demo.desk import Desk
from seeds_demo.diving import Told
from seeds_demo.forms import Form, Hand, Part
from seeds_demo.growth import NEAR_UNITS
from seeds_demo.loggers import LOGGERS, readings
from seeds_demo.tissue import Cutting, collection, handling

_DIVE = {"visit_key": "dive_id", "happened": "date", "site_key": "site"}

DIVES = Form(
    "dives {years}.parquet",
    (
        Part(
            "visit",
            {**_DIVE, "outcome": "site_found", "why": "reason", "team": "n_divers", "bottom_time_min": "time_min",
             "visibility_m": "vis_m", "water_temp_degc": "water_degc", "recorded_by": "observer"},
        ),
    ),
    "dives*.parquet",
)  # fmt: skip
LENGTHS = Form(
    "lengths {years}.parquet",
    (
        Part(
            "survey",
            {**_DIVE, "plot_key": "plot", "frame_key": "frame", "placement": "placed", "protocol": "protocol",
             "area_m2": "frame_m2", "species": "taxon", "plant_no": "plant", "count": "n", "length_cm": "length",
             "recorded_by": "observer"},
            fixed={"frame_type": "quadrat"},
        ),
    ),
    "lengths*.parquet",
)  # fmt: skip
CHECKS = Form(
    "checks {years}.parquet",
    (
        Part(
            "check",
            {**_DIVE, "unit_key": "tag", "state": "seen_as", "search_time_min": "search_min", "count_found": "stones",
             "area_searched_m2": "searched_m2", "retrieved_whole": "whole", "recorded_by": "observer"},
        ),
    ),
    "checks*.parquet",
)  # fmt: skip
BAGS = Form(
    "units.parquet",
    (
        Part(
            "deployment",
            {"unit_key": "tag", "method": "kind", "site_key": "site", "plot_key": "plot", "down_at": "time_down",
             "unit_count": "pieces", "fixing": "fixed_by", "batch_key": "tissue", "permit_key": "permit_no",
             "mass_kg": "mass_kg", "material": "material", "retrieve_by": "home_by"},
        ),
    ),
)  # fmt: skip
LOST = Form(
    "lost {years}.parquet",
    (
        Part(
            "loss",
            {"unit_key": "tag", "happened": "date", "how_known": "known_by", "cause": "cause", "cause_basis": "basis",
             "gear_recovered": "gear_home", "mass_kg": "mass_kg"},
        ),
    ),
    "lost*.parquet",
)  # fmt: skip
GROUND = Form(
    "preparation.parquet",
    (
        Part(
            "treatment",
            {"happened": "date", "site_key": "site", "plot_key": "plot", "action": "action", "area_m2": "on_m2",
             "amount": "amount", "amount_unit": "of", "species": "taxon", "effort_person_min": "person_min",
             "disposal": "then", "permit_key": "permit_no"},
        ),
    ),
)  # fmt: skip
SPENDING = Form(
    "costs {years}.parquet",
    (
        Part(
            "cost",
            {"happened": "date", "form": "form", "amount": "amount", "currency": "currency", "category": "item",
             "phase": "phase", "for_kind": "for_what", "for_key": "which", "share_key": "shared_by",
             "valued_by": "valued_by", "people": "people"},
        ),
    ),
    "costs*.parquet",
)  # fmt: skip
_CUT = ("batch_key", "bed_key", "species", "plants_cut", "blades_cut", "permit_key", "cut_height_cm", "fertile_mass_kg",
        "parents", "cut_from", "cut_to", "water_temp_degc", "recorded_by")  # fmt: skip
_KEPT = ("batch_key", "step", "started_at", "ended_at", "parent_batches", "temp_min_degc", "temp_max_degc", "vessel",
         "place", "recorded_by")  # fmt: skip
_READ = (
    "logger_key",
    "at",
    "quantity",
    "value",
    "unit",
    "site_key",
    "in_water_from",
    "in_water_to",
    "calibrated_on",
    "accuracy",
)
READINGS = Form("reading.parquet", (Part("reading", {c: c for c in _READ}),), own=True)
CUTTINGS = Form("collection.parquet", (Part("collection", {c: c for c in _CUT}),), own=True)
KEEPING = Form("handling.parquet", (Part("handling", {c: c for c in _KEPT}),), own=True)

HAND = Hand(
    FULMAR_LAB,
    "The Fulmar Laboratory hands in Parquet with typed columns, so days and numbers need no explaining.\n"
    "It writes the length of every plant; stages follow from the programme's rule.",
    (DIVES, LENGTHS, CHECKS, BAGS, LOST, GROUND, SPENDING, CUTTINGS, KEEPING, READINGS),
    encoding="parquet",
)


def write(told: Told, desk: Desk) -> None:
    """All of a site's rows."""
    for row in told.visits:
        desk.put(HAND, DIVES, row, row["happened"])
    _write_lengths(told, desk)
    for _, row in told.checks:
        desk.put(HAND, CHECKS, row, row["happened"])
    for form, rows in ((BAGS, told.deployments), (LOST, told.losses), (GROUND, told.treatments)):
        for row in rows:
            desk.put(HAND, form, row, row.get("happened") or row["down_at"].date())


def write_cutting(cut: Cutting, told: Told, desk: Desk) -> None:
    """A batch and how it was kept."""
    desk.put(HAND, CUTTINGS, collection(cut), cut.day)
    for step in handling(cut, told.site):
        desk.put(HAND, KEEPING, step, cut.day)


def write_loggers(seed: int, site: Site, desk: Desk) -> None:
    """All that its loggers at a site told, in one file of the first night."""
    for logger in LOGGERS:
        if logger.site_index == site.index:
            for row in readings(seed, logger, site.key):
                desk.put(HAND, READINGS, row, row["at"].date())


def _write_lengths(told: Told, desk: Desk) -> None:
    """One row a plant; a frame without plants is one row of zero."""
    for frame in told.frames:
        look, plant = frame.look, 0
        base: dict[str, Any] = {
            "visit_key": look.visit_key, "happened": look.day, "site_key": look.site, "plot_key": frame.plot,
            "frame_key": frame.key, "placement": "at unit" if frame.protocol == NEAR_UNITS else "random",
            "protocol": frame.protocol, "area_m2": frame.area_m2, "recorded_by": look.by,
        }  # fmt: skip
        for (species, _), lengths in frame.lengths_cm.items():
            for length in lengths:
                plant += 1
                row = {**base, "species": species, "plant_no": plant, "count": 1, "length_cm": length}
                desk.put(HAND, LENGTHS, row, look.day)
        if not plant:
            desk.put(HAND, LENGTHS, {**base, "species": SUGAR, "count": 0}, look.day)
