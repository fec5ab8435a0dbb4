"""Blank sheets filled in as a person would: by heading, in a workbook that was opened and is saved again."""

import datetime as dt
import io
from collections.abc import Sequence
from pathlib import Path

import openpyxl

from pipeline.blanking import blank, desk

HEAD, FIRST = 5, 6  # rows of the headings and of the first cells to fill
DAY = dt.date(2025, 6, 3)
TIME = dt.datetime.fromisoformat("2025-06-03T09:30")
# How a partner that writes Norwegian tells of the units it looked at.
CHECKS = """
dates = "DMY"
decimal = ","
[codes.state]
"borte" = "absent"
[[sheet]]
files = ["sjekk*.txt"]
kind = "check"
columns = { happened = "Dato", site_key = "Sted", unit_key = "Merke", state = "Tilstand", search_time_min = "Letetid" }
"""

# One good row of each kind, by our columns, as somebody would type it.
ROWS = {
    "site": {"site_key": "EP", "name": "East Point", "latitude": 39.2, "longitude": -9.2, "datum": "EPSG:4326", "uncertainty_m": 10,
             "radius_m": 80, "country": "PT", "sensitive": "none", "depth_min_m": 4, "depth_max_m": 9},
    "plot": {"site_key": "CB", "plot_key": "T9", "plot_kind": "treated", "area_m2": 60.5, "assigned_by": "random"},
    "bed": {"bed_key": "NEW", "species": "Laminaria hyperborea", "estimated_on": DAY, "fertile": 400, "estimate_method": "belts",
            "take_limit_pct": 10},
    "permit": {"permit_key": "2025/114", "authority": "Harbour office", "holder": "Club", "activity": "place on seabed",
               "valid_from": dt.date(2025, 1, 1), "valid_to": dt.date(2027, 12, 31)},
    "collection": {"batch_key": "B25-01", "bed_key": "OLD", "cut_from": TIME, "species": "Laminaria hyperborea", "plants_cut": 12,
                   "fertile_mass_kg": 2.25, "water_temp_degc": 12.5},
    "handling": {"batch_key": "B25-01", "step": "hold", "started_at": TIME, "ended_at": dt.datetime.fromisoformat("2025-06-04T07:00"), "temp_max_degc": 11.5},
    "deployment": {"unit_key": "CB-017", "method": "spore bag", "site_key": "CB", "plot_key": "T1", "down_at": DAY, "unit_count": 1,
                   "fixing": "bolt", "retrieve_by": dt.date(2030, 1, 1), "mass_kg": 1.5},
    "treatment": {"happened": DAY, "site_key": "CB", "plot_key": "T1", "action": "grazers removed", "area_m2": 20.5, "amount": 140,
                  "amount_unit": "animals"},
    "visit": {"happened": DAY, "site_key": "CB", "dive_number": 1, "outcome": "found", "team": 2, "visibility_m": 6.5},
    "survey": {"happened": DAY, "site_key": "CB", "plot_key": "T1", "frame_key": "1", "frame_type": "quadrat", "placement": "random",
               "area_m2": 0.25, "protocol": "frames", "species": "Laminaria hyperborea", "stage": "recruit", "count": 0},
    "check": {"happened": DAY, "site_key": "CB", "unit_key": "CB-017", "state": "absent", "search_time_min": 7.5, "retrieved_whole": "no"},
    "loss": {"happened": DAY, "unit_key": "CB-017", "how_known": "ashore", "cause": "storm", "cause_basis": "supposed", "gear_recovered": "yes"},
    "reading": {"logger_key": "L-07", "at": TIME, "quantity": "temperature", "value": 12.375, "unit": "degC", "site_key": "CB"},
    "cost": {"happened": DAY, "form": "cash", "amount": 840.5, "currency": "EUR", "category": "boat", "phase": "deploy", "for_kind": "site",
             "for_key": "CB"},
    "withdrawal": {"happened": DAY, "withdraws_kind": "check", "withdraws_key": "CB 2025-06-03 1 | CB-017", "reason": "wrong tag"},
}  # fmt: skip


def made(root: Path, partner: str, kinds: Sequence[str], language: str = "") -> bytes:
    """A blank workbook."""
    return blank(desk(root, partner, language), kinds)


def headings(sheet) -> list[str]:
    """The headings of a blank sheet."""
    return [str(c.value) for c in sheet[HEAD] if c.value is not None]


def filled(data: bytes, rows: dict[str, list[dict]], first: int = FIRST) -> bytes:
    """The workbook with rows typed in. rows: sheet name -> by heading what is typed."""
    book = openpyxl.load_workbook(io.BytesIO(data))
    for name, typed in rows.items():
        sheet = book[name]
        column = {h: n for n, h in enumerate(headings(sheet), 1)}
        for at, row in enumerate(typed, first):
            for heading, value in row.items():
                sheet.cell(at, column[heading], value)
    return saved(book)


def worked_out(book):
    """The workbook with what a spreadsheet program makes of the formulas by which given rows take over what is written once."""
    for sheet in book:
        for cell in (c for row in sheet.iter_rows(min_row=FIRST) for c in row if str(c.value).startswith("=IF(")):
            cell.value = sheet[cell.value.removeprefix("=IF(").partition("=")[0].replace("$", "")].value
    return book


def saved(book) -> bytes:
    """A workbook's bytes."""
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()
