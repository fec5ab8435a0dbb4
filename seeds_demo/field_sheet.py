"""The messy drop: one sheet that volunteers share, a fault in every other row; and the same sheet mended."""

from collections.abc import Iterator
from datetime import timedelta
from decimal import Decimal
from typing import Any

from seeds_demo.coast import SUGAR
from seeds_demo.desk import Desk
from seeds_demo.diving import Told
from seeds_demo.forms import Values
from seeds_demo.growth import FEET_AREA, NEAR_UNITS
from seeds_demo.hand_wharfside import FIELD_SHEET, HAND

SINCE = 75  # days after the first planting
FRAME, SEEN, NEW = 0, 1, 2  # what a row is of: the part of the form

# (what the row is of, what is right, what was written instead, why it is held)
_FAULTS: tuple[tuple[int, dict[str, Any], dict[str, Any], str], ...] = (
    (FRAME, {"count": 7}, {"count": "lots"}, "letters in a count"),
    (FRAME, {"count": 2}, {"count": "2.5"}, "half a plant"),
    (FRAME, {"count": 2}, {"count": -2}, "a negative count"),
    (FRAME, {"count": 1}, {"happened": "06/31/2022"}, "a day that June has not"),
    (FRAME, {"count": 3, "stage": "juvenile"}, {"stage": "teenager"}, "an unknown word for a stage"),
    (FRAME, {"count": 4}, {"site_key": None}, "no site"),
    (FRAME, {"count": 5, "cover_pct": 40}, {"cover_pct": 140}, "a cover over 100 %"),
    (FRAME, {"count": 3}, {"species": None}, "plants of no species"),
    (FRAME, {"count": 6}, {"count": "??", "stage": "huge"}, "two faults in one row"),
    (SEEN, {}, {"state": "kinda loose"}, "an unknown word for a state"),
    (SEEN, {}, {"happened": "17/06/2022"}, "day before month"),
    (NEW, {}, {"latitude": "391.2"}, "a latitude of 391"),
    (NEW, {}, {"uncertainty_m": None}, "a position without its uncertainty"),
)


def hand_in(told: Told, desk: Desk) -> int:
    """The sheet as it first came, and on the last night as its owners mended it; gives how many units it puts down."""
    put_down = 0
    for right, wrong, why in _rows(told):
        part = next(i for i, values in enumerate(right) if values is not None)
        put_down += part == NEW
        if wrong is None:
            desk.write(HAND, FIELD_SHEET, right, 1)
            desk.write(HAND, FIELD_SHEET, right, 3, repeated=1)
        else:
            spoilt = [{**(v or {}), **wrong} if i == part else None for i, v in enumerate(right)]
            desk.write(HAND, FIELD_SHEET, spoilt, 1, held=1, why=why)
            desk.write(HAND, FIELD_SHEET, right, 3)
    return put_down


def _rows(told: Told) -> Iterator[tuple[list[Values | None], dict[str, Any] | None, str]]:
    """Right values, what was written instead (None: nothing wrong), why."""
    site = told.site
    day = site.planted_on + timedelta(days=SINCE)
    seen = [u for u in told.units if u.planting == 1 and u.pieces == 1 and u.lost_at > SINCE and u.torn_at > SINCE]
    base = {"happened": day, "site_key": site.key, "recorded_by": "dee"}
    numbers = {FRAME: 0, SEEN: 0, NEW: 0}

    def right(of: int, **more: Any) -> list[Values | None]:
        numbers[of] += 1
        n = numbers[of]
        made: list[dict[str, Any]] = [
            {**base, "plot_key": "T1", "frame_key": f"J{n}", "area_m2": FEET_AREA, "protocol": NEAR_UNITS,
             "species": SUGAR, "stage": "recruit", "count": n % 4},
            {**base, "unit_key": seen[n].key, "state": "attached", "search_time_min": 3},
            {"site_key": site.key, "recorded_by": "dee", "down_at": day, "unit_key": f"{site.key}-X{n}", "plot_key": "T1",
             "latitude": site.latitude, "longitude": site.longitude, "datum": "EPSG:4326",
             "uncertainty_m": Decimal("7.62"), "fixing": "tie", "batch_key": f"B22-{site.key}"},
        ]  # fmt: skip
        return [{**values, **more} if i == of else None for i, values in enumerate(made)]

    for of, mended, wrong, why in _FAULTS:
        yield right(of, **mended), wrong, why
        if numbers[of] < 4:  # between the spoilt rows stand good ones
            yield right(of), None, ""
    yield right(FRAME, protocol="june special"), None, ""
