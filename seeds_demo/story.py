"""What the first six sites' files are meant to show, beyond how each partner writes. STORY.md tells it in words.

Twists change rows that are written anyway; additions are rows that nobody should have written, or that came from
somebody else. Everything here is left out when all files are to come on one night.
"""

import datetime as dt
from decimal import Decimal

from seeds_demo import field_sheet
from seeds_demo import hand_coastworks as coastworks
from seeds_demo import hand_ponta_parda as ponta_parda
from seeds_demo import hand_skerrylight as skerrylight
from seeds_demo import hand_wharfside as wharfside
from seeds_demo.desk import Desk, Twist
from seeds_demo.diving import Told
from seeds_demo.forms import Values
from seeds_demo.money import Books

NOT_TOLD = ("HN-011", "HN-012")  # put down by the Portuguese club, who tell of them on the second night
DISPUTED = ("HN-013", "HN-014")  # both say that they put them down, with different fixings
FAR_AWAY, WRONG_BATCH = "HN-016", "HN-021"
FALSE_LOSS = ("HN-031", dt.date(2022, 11, 20))


def twists() -> list[Twist]:
    """The twists, fresh: each counts down as it is used."""
    day = dt.date

    return [
        # amended: two cells of the cumulative sheet are put right on the second night
        Twist("skerrylight/frames.csv", lambda v: _frame(v, "HN", "T2") and v["count"] >= 2 and v["stage"] == "recruit",
              left=2, first=lambda v: {**v, "count": v["count"] + 10}),
        # a frame that was not counted: no zero may be made of it
        Twist("skerrylight/frames.csv", lambda v: _frame(v, "HN", "T1") and v["stage"] == "recruit" and v["happened"] > day(2023, 1, 1),
              always=lambda v: {**v, "count": None}),
        # two bags that the charity forgot, one at a place far beyond the site, one from a batch nobody cut
        Twist("skerrylight/bags out.csv", lambda v: v["unit_key"] in NOT_TOLD, left=len(NOT_TOLD), skip=True),
        Twist("skerrylight/bags out.csv", lambda v: v["unit_key"] == FAR_AWAY,
              always=lambda v: {**v, "latitude": v["latitude"] + Decimal("0.03")}),
        Twist("skerrylight/bags out.csv", lambda v: v["unit_key"] == WRONG_BATCH,
              always=lambda v: {**v, "batch_key": "B22-HM"}),
        # one dive, one bag, two states
        Twist("skerrylight/bag checks {years}.csv", lambda v: v["happened"] > day(2024, 1, 1) and v["state"] == "attached",
              twin=lambda v: {**v, "state": "empty"}),
        # a frame without area, and one in a plot that the register has not
        Twist("ponta-parda/contagens {years}.csv",
              lambda v: _frame(v, "CS", "T1", "3") and day(2022, 8, 1) < v["happened"] < day(2022, 12, 31),
              left=9, always=lambda v: {**v, "area_m2": None}),
        Twist("ponta-parda/contagens {years}.csv",
              lambda v: _frame(v, "CS", "T1", "4") and day(2022, 8, 1) < v["happened"] < day(2022, 12, 31),
              left=9, always=lambda v: {**v, "plot_key": "T3"}),
        # the rows of one dive are missing from the longer sheet
        Twist("wharfside/Bag Log.csv", lambda v: v["visit_key"] == "W-BL-03", left=10**6, gone=True),
    ]  # fmt: skip


def _frame(row: Values, site: str, plot: str, key: str = "") -> bool:
    return row["site_key"] == site and row["plot_key"] == plot and key in ("", row["frame_key"])


def add(told: Told, desk: Desk, books: Books) -> None:
    """What is added to one of the first six sites."""
    if told.site.key == "HN":
        _hollow_ness(told, desk, books)
    if told.site.key == "BL":
        _bellwether(told, desk, books)


def finish(desk: Desk) -> None:
    """What belongs to no site."""
    for n, thing in enumerate(("rope end", "buoy", "cotton rag", "net")):
        row = {"happened": dt.date(2024, 5, 4), "unit_key": thing, "remarks": f"post {n + 3}"}
        desk.write(coastworks.HAND, coastworks.LITTER, row, 2, held=1, why="no mapping")
    desk.copy(skerrylight.HAND, skerrylight.OUT, 2, "bags out (copy).csv")


def _hollow_ness(told: Told, desk: Desk, books: Books) -> None:
    first = next(look for look in told.looks if look.since == 12)
    seen = {"happened": first.day, "site_key": "HN", "dive_number": 1, "state": "attached", "recorded_by": "fin"}
    second = [u for u in told.units if u.planting == 2 and u.pieces == 1]
    for unit in ("HN-499", second[0].key):  # never put down; seen a year before it was
        desk.put(skerrylight.HAND, skerrylight.CHECKS, {**seen, "unit_key": unit}, first.day)
    for unit, day in ((second[1].key, dt.date(2022, 9, 3)), FALSE_LOSS, ("cannot name", dt.date(2022, 10, 8))):
        row = {
            "unit_key": unit, "happened": day, "how_known": "ashore", "cause": "unknown", "cause_basis": "supposed",
            "gear_recovered": True, "recorded_by": "ode",
        }  # fmt: skip
        desk.put(skerrylight.HAND, skerrylight.LOST, row, day)
    key = f"{FALSE_LOSS[0]} | {FALSE_LOSS[1].isoformat()}"
    taken_back = {
        "happened": dt.date(2024, 2, 1), "withdraws_kind": "loss", "withdraws_key": key,
        "reason": "it was a bait bag of the harbour, not ours", "recorded_by": "ode",
    }  # fmt: skip
    desk.write(skerrylight.HAND, skerrylight.WITHDRAWN, taken_back, 2)
    _bills(desk, books)
    _portuguese_help(told, desk)


def _bills(desk: Desk, books: Books) -> None:
    """Two equal bills of one day are two; a bill for a unit that nobody put down waits."""
    day = dt.date(2022, 7, 2)
    bill = {
        "happened": day, "form": "cash", "amount": Decimal("85.00"), "currency": "EUR",
        "category": "boat fuel", "phase": "monitor", "for_kind": "site", "for_key": "HN",
    }  # fmt: skip
    for _ in range(2):
        desk.put(skerrylight.HAND, skerrylight.SPENDING, bill, day)
        books.add_direct("HN", bill)
    lost = {**bill, "category": "new tag", "for_kind": "deployment", "for_key": "HN-777"}
    desk.put(skerrylight.HAND, skerrylight.SPENDING, lost, day)


def _portuguese_help(told: Told, desk: Desk) -> None:
    """The Portuguese club tells of the bags it put down for the charity; about two the charity says otherwise."""
    by_key = {row["unit_key"]: row for row in told.deployments}
    for unit in NOT_TOLD:
        desk.write(ponta_parda.HAND, ponta_parda.HELP, by_key[unit], 2)
    for unit in DISPUTED:
        said = by_key[unit]["fixing"]
        other = {**by_key[unit], "fixing": "glue" if said != "glue" else "bolt"}
        desk.write(ponta_parda.HAND, ponta_parda.HELP, other, 2, held=1, why="other partner")


def _bellwether(told: Told, desk: Desk, books: Books) -> None:
    unfound = next(look for look in told.looks if look.day.year == 2023 and not look.found)
    unit = next(u for u in told.units if u.planting == 1 and u.pieces == 1)
    gone = {
        "visit_key": unfound.visit_key, "happened": unfound.day, "site_key": "BL", "unit_key": unit.key,
        "state": "absent", "search_time_min": 5, "recorded_by": "bo",
    }  # fmt: skip
    desk.put(wharfside.HAND, wharfside.BAG_LOG, gone, unfound.day)
    day = dt.date(2021, 12, 15)
    early = {
        "happened": day, "form": "cash", "amount": Decimal("240.00"), "currency": "USD", "category": "chart and tide tables",
        "phase": "plan and permit", "for_kind": "site", "for_key": "BL",
    }  # fmt: skip
    desk.put(wharfside.HAND, wharfside.SPENDING, early, day)  # before the first rate: it waits
    books.weights["units"]["BL"] += field_sheet.hand_in(told, desk)
