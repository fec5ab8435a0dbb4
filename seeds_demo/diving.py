"""What divers see of the truth, and so what can be written down: with misses, poor visibility and short searches."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from seeds_demo.coast import BARE_CONTROL_SORT, SORTS, UNFOUND_SORT, Site
from seeds_demo.dice import Dice
from seeds_demo.growth import Frame
from seeds_demo.lives import BAG, NEVER, Unit
from seeds_demo.seasons import RETRIEVED, Look
from seeds_demo.tissue import PLACE, REMOVE

Values = dict[str, Any]

DETECTS, DETECTS_POORLY = 0.965, 0.7  # chance that an attached bag is found, by visibility
POOR_VISIBILITY_M = Decimal("1.5")
LEAST_SEARCH_MIN = 3
MISSED_THEN_SEEN = 4  # the bag of the first site that is surely missed once and seen again
MISSED_ON = 45
LAST_DAY = date(2025, 3, 20)


@dataclass
class Told:
    """All that one site's divers could write down, in order of time, as our own columns."""

    site: Site
    looks: list[Look]
    units: list[Unit]
    frames: list[Frame] = field(default_factory=list)
    visits: list[Values] = field(default_factory=list)
    checks: list[tuple[Look, Values]] = field(default_factory=list)
    losses: list[Values] = field(default_factory=list)
    deployments: list[Values] = field(default_factory=list)
    treatments: list[Values] = field(default_factory=list)
    last_said: dict[str, str] = field(default_factory=dict)  # unit -> how its story ends, for the truth


def visit(look: Look) -> Values:
    """The dive as an event."""
    return {
        "visit_key": look.key or None, "site_key": look.site, "happened": look.day, "dive_number": look.number,
        "outcome": look.outcome, "why": look.why or None, "team": look.team, "bottom_time_min": look.minutes,
        "visibility_m": look.visibility_m if look.found else None,
        "water_temp_degc": look.water_degc if look.found else None, "recorded_by": look.by,
    }  # fmt: skip


def deployment(unit: Unit, site: Site) -> Values:
    """Putting the unit down as an event."""
    bag = unit.method == BAG
    placed = unit.latitude is not None
    return {
        "unit_key": unit.key, "method": unit.method, "site_key": site.key, "plot_key": unit.plot,
        "down_at": unit.down_at, "unit_count": unit.pieces, "fixing": unit.fixing, "batch_key": unit.batch,
        "latitude": unit.latitude, "longitude": unit.longitude, "datum": "EPSG:4326" if placed else None,
        "uncertainty_m": Decimal("7.62") if placed else None, "permit_key": PLACE, "mass_kg": unit.mass_kg,
        "material": "cotton and jute" if bag else "local stone",
        "retrieve_by": unit.down_on + timedelta(days=RETRIEVED[unit.planting]) if bag else None,
        "recorded_by": None,
    }  # fmt: skip


def treatments(seed: int, site: Site) -> list[Values]:
    """Grazers taken off before planting: on the control plots too, except at one sort of site."""
    dice = Dice(seed, "treatments", site.index)
    return [
        {
            "site_key": site.key, "plot_key": plot.key, "happened": site.planted_on - timedelta(days=10),
            "action": "grazers removed", "area_m2": plot.area_m2, "amount": dice.whole(120, 700), "amount_unit": "animals",
            "species": "Strongylocentrotus droebachiensis", "permit_key": REMOVE,
            "effort_person_min": 30 * dice.whole(4, 12), "disposal": "composted ashore", "recorded_by": None,
        }
        for plot in site.plots
        if plot.kind == "treated" or (plot.kind == "control" and site.sort != BARE_CONTROL_SORT)
    ]  # fmt: skip


def dive(seed: int, site: Site, looks: Sequence[Look], units: list[Unit]) -> Told:
    """Everything that is seen of the site's units over three years. `looks` are its dives in order."""
    dice, told = Dice(seed, "dive", site.index), Told(site, list(looks), units)
    told.visits = [visit(look) for look in looks]
    told.deployments = [deployment(unit, site) for unit in units]
    told.treatments = treatments(seed, site)
    forced = units[MISSED_THEN_SEEN].key if site.index < SORTS and site.sort == 0 else ""
    if forced:  # it is there, and holds long enough to be seen again
        kept = units[MISSED_THEN_SEEN]
        kept.lost_at, kept.seen_to_go = max(kept.lost_at, 400), False
    absences: dict[str, int] = {}
    off_list: set[str] = set()
    for look in looks:
        if not look.found or look.controls:
            continue
        for unit in units:
            age = (look.day - unit.down_on).days
            home_on = 700 if site.sort == UNFOUND_SORT else RETRIEVED[unit.planting]
            if age <= 0 or unit.key in off_list or not _looked_for(look, unit, home_on):
                continue
            said = _see(dice, look, unit, age, home_on, look.since == MISSED_ON and unit.key == forced)
            if said is None:  # it went before their eyes
                told.losses.append(_loss(unit, look.day, "witnessed", "fixing failed", "seen", look.by))
                off_list.add(unit.key)
                told.last_said[unit.key] = "witnessed"
                continue
            told.checks.append((look, said))
            _close(told, look, unit, said, absences, off_list, forced)
    _wash_ashore(dice, told)
    return told


def _looked_for(look: Look, unit: Unit, home_on: int) -> bool:
    """Each planting has its own trips; lots are counted on three of them."""
    if unit.method != BAG:
        return look.since in ((90, 150, 330) if unit.planting == 1 else (430, 510, 700))
    others_trip = look.since in (377, 389) and unit.planting == 1
    return not others_trip and look.since <= home_on


def _see(dice: Dice, look: Look, unit: Unit, age: int, home_on: int, must_miss: bool) -> Values | None:
    said: Values = {
        "visit_key": look.key or None, "site_key": look.site, "happened": look.day, "dive_number": look.number,
        "unit_key": unit.key, "recorded_by": look.by,
    }  # fmt: skip
    if unit.method != BAG:
        left = unit.pieces * (0.9 - 0.0009 * age) * (0.85 + 0.3 * dice.throw())
        found = max(0, min(unit.pieces, round(left)))
        return {
            **said, "state": "attached" if found else "absent", "count_found": found,
            "area_searched_m2": Decimal(dice.whole(8, 14)),
        }  # fmt: skip
    if unit.seen_to_go and age == unit.lost_at:
        return None
    if dice.chance(0.015) and not must_miss:
        return {**said, "state": "not searched"}
    there = unit.lost_at > age
    poor = look.visibility_m < POOR_VISIBILITY_M
    seen = there and dice.chance(DETECTS_POORLY if poor else DETECTS) and not must_miss
    if not seen:
        short = dice.chance(0.05)
        minutes = dice.whole(1, LEAST_SEARCH_MIN - 1) if short and not must_miss else dice.whole(LEAST_SEARCH_MIN, 12)
        return {**said, "state": "absent", "search_time_min": minutes}
    if look.since == home_on:
        return {**said, "state": "retrieved", "retrieved_whole": dice.chance(0.85)}
    return {**said, "state": "empty" if age >= unit.empty_at else "torn" if age >= unit.torn_at else "attached"}


def _close(
    told: Told, look: Look, unit: Unit, said: Values, absences: dict[str, int], off_list: set[str], forced: str
) -> None:
    """After two absences a unit is written off and no longer looked for; what came home is not either."""
    state = said["state"]
    if state != "not searched":
        told.last_said[unit.key] = state
    if state == "retrieved":
        off_list.add(unit.key)
    if state != "absent":
        return
    absences[unit.key] = absences.get(unit.key, 0) + 1
    written_off = absences[unit.key] == 2
    if written_off:
        off_list.add(unit.key)
    if (written_off and told.site.sort == 0) or (unit.key == forced and look.since == MISSED_ON):
        told.losses.append(_loss(unit, look.day, "missed", "unknown", "supposed", look.by))


def _loss(unit: Unit, day: date, how: str, cause: str, basis: str, by: str) -> Values:
    return {
        "unit_key": unit.key, "happened": day, "how_known": how, "cause": cause, "cause_basis": basis,
        "gear_recovered": how != "missed", "mass_kg": unit.mass_kg, "recorded_by": by,
    }  # fmt: skip


def _wash_ashore(dice: Dice, told: Told) -> None:
    """Some of what was lost is found drifting or on a beach, days or weeks later."""
    told_of = {(loss["unit_key"], loss["happened"]) for loss in told.losses}
    for unit in told.units:
        if unit.method != BAG or unit.lost_at == NEVER or unit.seen_to_go or not dice.chance(0.12):
            continue
        if told.last_said.get(unit.key) == "retrieved":
            continue
        day = unit.down_on + timedelta(days=unit.lost_at + dice.whole(1, 30))
        how = "ashore" if dice.chance(0.6) else "adrift"
        if day <= LAST_DAY and (unit.key, day) not in told_of:
            cause = "storm" if unit.by_storm else "unknown"
            told.losses.append(_loss(unit, day, how, cause, "supposed", dice.pick(told.looks).by))
