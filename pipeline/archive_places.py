"""The places of an archive: those of the registers, blurred as they, the programme and its sensitive species ask."""

import datetime as dt
import math
from collections.abc import Collection
from dataclasses import replace
from decimal import Decimal
from typing import Any

from pipeline.archive.places import Held, Place, coarser, published
from pipeline.intake.radius import precision_m
from pipeline.rules.publishing import PublishingRules, Sensitive
from warehouse.asking import Asking

BED_LEVEL = "0.1"  # of donor beds of which the register says nothing: they are worth hiding
DATUM = "EPSG:4326"
_Told = tuple[Held, Collection[str], str]  # a place, the species that it is of or that were seen there, its datum
ASSUMED = f"The datum was not told; {DATUM} is assumed."


def in_force(told: PublishingRules, today: dt.date) -> list[Sensitive]:
    """What is sensitive today beyond what the registers say."""
    return [s for s in told.sensitive if s.until is None or today <= s.until]


def hidden_species(told: PublishingRules, today: dt.date) -> set[str]:
    """Species of which nothing may be told today."""
    return {s.species for s in in_force(told, today) if s.species and s.level == "withheld"}


def places_of(con: Asking, told: PublishingRules, today: dt.date) -> list[Place]:
    """Every site and bed that may be seen, as it may be seen. con: a session with the views of archives.

    A sensitive species blurs every site where it was seen: its events carry the place, whatever is said at them.
    """
    rules = in_force(told, today)
    return [
        place
        for held, species, datum in [*_sites(con), *_beds(con)]
        if datum == DATUM and (place := published(_blurred(held, species, rules), precision_m)) is not None
    ]


def _blurred(held: Held, species: Collection[str], rules: list[Sensitive]) -> Held:
    levels = [held.level]
    for rule in rules:
        # a species that is withheld leaves its site alone, of which other things are told; a bed is of one species
        of_species = rule.species in species and (rule.level != "withheld" or held.kind == "bed")
        if of_species or held.key == (rule.site if held.kind == "site" else rule.bed):
            levels.append(rule.level)
    return replace(held, level=coarser(*levels))


def _sites(con: Asking) -> list[_Told]:
    seen: dict[str, set[str]] = {}
    for site, species in con.sql("select distinct site_key, species from archive_seen").fetchall():
        seen.setdefault(site, set()).add(species)
    found = _rows(con, "select site_key as key, identity, coalesce(sensitive, 'none') as level, latitude, longitude, uncertainty_m, "
        "radius_m, name, country, coalesce(water_body, '') as water_body, coalesce(habitat, '') as habitat, "
        "coalesce(outline, '') as outline, depth_min_m, depth_max_m, datum from site_archive_published order by site_key")  # fmt: skip
    return [_held("site", row, seen.get(row["key"], ())) for row in found]


def _beds(con: Asking) -> list[_Told]:
    found = _rows(con, f"select bed_key as key, identity, coalesce(sensitive, '{BED_LEVEL}') as level, latitude, longitude, "
        "uncertainty_m, area_m2, species, datum from bed_archive_published order by bed_key")  # fmt: skip
    for row in found:
        row["radius_m"] = Decimal(math.ceil(math.sqrt(float(row.pop("area_m2") or 0) / math.pi)))
    return [_held("bed", row, {row.pop("species")}) for row in found]


def _held(kind: str, row: dict[str, Any], species: Collection[str]) -> _Told:
    datum = row.pop("datum")
    return Held(kind=kind, **row, remarks="" if datum else ASSUMED), species, datum or DATUM


def _rows(con: Asking, query: str) -> list[dict[str, Any]]:
    asked = con.relation(query)
    return [dict(zip(asked.columns, row, strict=True)) for row in asked.fetchall()]
