"""The donor beds, what is cut from them, and how each batch is kept on its way: all written by the laboratory.

First year: one batch a site. Second year: one batch for two sites, every third pair mixed from two cuttings.
"""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from seeds_demo.coast import LATE, SORTS, SUGAR, Site
from seeds_demo.dice import Dice

Values = dict[str, Any]

LIMIT_PCT = 10
WARM_SITE, UNKNOWN_BED_SITE = 3, 4  # of the first six
NO_ESTIMATE = "BED-X"
TOPPED_UP = 5  # units
EXTRA_BATCH = "B22-X1"  # cut from the bed without an estimate; nobody wrote how it was kept
COLLECT, PLACE, REMOVE = "CW-22-101", "CW-22-102", "CW-22-103"


@dataclass(frozen=True)
class Cutting:
    """One cutting and where it goes."""

    batch: str
    bed: str
    day: dt.date
    plants: int
    height_cm: Decimal
    hours_kept: int
    warmest_degc: Decimal
    permit: str
    handled: bool = True


def bed_of(number: int) -> str:
    """Two beds to every six sites."""
    return f"BED-{number + 1}"


def batch_for(site: Site, planting: int, nth: int) -> str:
    """The batch (or batches) that the site's nth unit is filled from; a small extra batch tops up a few."""
    if planting == 1:
        extra = f";{EXTRA_BATCH}" if site.index == UNKNOWN_BED_SITE and nth < TOPPED_UP else ""
        return f"B22-{site.key}{extra}"
    return f"M23-{site.pair}" if site.pair % 3 == 1 else f"B23-{site.pair}"


def beds(sites: int) -> Iterator[Values]:
    """The register of beds. The last has no estimate, so no share of it can be known."""
    for number in range(2 * ((sites + SORTS - 1) // SORTS)):
        fertile = 400 if number % 2 == 0 else 520
        yield {
            "bed_key": bed_of(number), "latitude": Decimal("44.05") + Decimal("0.001") * number,
            "longitude": Decimal("-27.91"), "datum": "EPSG:4326", "uncertainty_m": 30, "species": SUGAR,
            "estimated_on": dt.date(2022, 2, 20), "adults": 3 * fertile, "fertile": fertile,
            "fertile_low": fertile * 8 // 10, "fertile_high": fertile * 13 // 10, "estimate_method": "six belts",
            "take_limit_pct": LIMIT_PCT, "limit_source": "programme", "sensitive": "0.1",
        }  # fmt: skip
    yield {"bed_key": NO_ESTIMATE, "species": SUGAR, "estimated_on": dt.date(2022, 2, 21), "sensitive": "withheld"}


def cuttings_for(seed: int, site: Site) -> list[Cutting]:
    """The cuttings made for this site; those of a pair are told with its first site."""
    dice, first = Dice(seed, "cuttings", site.index), site.index < SORTS
    bed = bed_of(2 * (site.index // SORTS) + site.index % 2)
    kept = 90 if site.index == LATE else 18
    made = [
        Cutting(
            f"B22-{site.key}", bed, (dt.datetime.combine(site.planted_on, dt.time(9)) - dt.timedelta(hours=kept)).date(),
            # near the limit of the first bed in the first year: 13 + 13 + 12 of 400
            (13 if site.index < 4 else 12) if first and site.index % 2 == 0 else 11, _height(dice), kept,
            Decimal("17.5") if site.index == WARM_SITE else _cool(dice), COLLECT,
        )
    ]  # fmt: skip
    if site.index == UNKNOWN_BED_SITE:
        day = site.planted_on - dt.timedelta(days=1)
        made.append(
            Cutting(EXTRA_BATCH, NO_ESTIMATE, day, 4, _height(dice), 18, Decimal(9), "CW-22-911", handled=False)
        )
    if site.index % 2 == 0 and (again := _again(site)) is not None:
        made += _second_year(dice, site, again)
    return made


def _again(site: Site) -> dt.date | None:
    """The first day on which the pair is planted again; the sort that is not planted twice has its partner's."""
    if site.planted_again_on is not None:
        return site.planted_again_on
    return dt.date(site.planted_on.year + 1, 3, 13) + dt.timedelta(days=12 + 1 + (site.index // SORTS) % 20)


def _second_year(dice: Dice, site: Site, again: dt.date) -> list[Cutting]:
    day, group = again - dt.timedelta(days=1), site.index // SORTS
    beyond = group == 0 and site.pair % 3 != 1  # of the first bed, 22 + 20 of 400: the second goes beyond 10 %
    plants = {0: 22, 2: 20}.get(site.pair, 14) if beyond else 14
    bed = bed_of(2 * group + (site.pair % 3 == 1))
    low = Decimal("5.0") if site.pair == 1 else _height(dice)
    made = [Cutting(f"B23-{site.pair}", bed, day, plants, low, 18, _cool(dice), COLLECT)]
    if site.pair % 3 == 1:
        made.append(Cutting(f"B23-{site.pair}b", bed, day, 9, _height(dice), 18, _cool(dice), COLLECT))
    return made


def _height(dice: Dice) -> Decimal:
    return Decimal(dice.whole(90, 140)) / 10


def _cool(dice: Dice) -> Decimal:
    return Decimal(dice.whole(85, 120)) / 10


def collection(cut: Cutting) -> Values:
    """The cutting as an event."""
    at = dt.datetime.combine(cut.day, dt.time(15))
    return {
        "batch_key": cut.batch, "bed_key": cut.bed, "species": SUGAR, "plants_cut": cut.plants, "parents": cut.plants,
        "blades_cut": 2 * cut.plants, "permit_key": cut.permit, "cut_height_cm": cut.height_cm,
        "fertile_mass_kg": Decimal(cut.plants) * Decimal("0.12"), "cut_from": at, "cut_to": at + dt.timedelta(minutes=45),
        "water_temp_degc": Decimal("9.1"), "recorded_by": "aya",
    }  # fmt: skip


def handling(cut: Cutting, site: Site) -> Iterator[Values]:
    """Clean, dry, hold overnight or longer, carry; and mixing, for the pairs that mix."""
    if not cut.handled:
        return
    at = dt.datetime.combine(cut.day, dt.time(16, 30))
    out = dt.datetime.combine(cut.day, dt.time(15)) + dt.timedelta(hours=cut.hours_kept - 2)
    steps = (
        ("clean", at, at + dt.timedelta(minutes=40), Decimal("9.5"), "rinsed in cool sea water"),
        ("dry", at + dt.timedelta(minutes=45), at + dt.timedelta(minutes=75), Decimal("10.5"), "bench"),
        ("hold", at + dt.timedelta(minutes=80), out, Decimal("7.5"), "cool room"),
        ("carry", out, out + dt.timedelta(minutes=90), cut.warmest_degc, "boat box"),
    )
    for step, start, end, warmest, place in steps:
        yield {
            "batch_key": cut.batch, "step": step, "started_at": start, "ended_at": end, "temp_min_degc": Decimal("4.5"),
            "temp_max_degc": warmest, "place": place, "recorded_by": "kim",
        }  # fmt: skip
    if cut.batch == f"B23-{site.pair}" and site.pair % 3 == 1:
        yield {
            "batch_key": f"M23-{site.pair}", "step": "merge", "started_at": at + dt.timedelta(minutes=78),
            "ended_at": at + dt.timedelta(minutes=79), "parent_batches": f"{cut.batch};{cut.batch}b", "vessel": "tray",
            "recorded_by": "kim",
        }  # fmt: skip
