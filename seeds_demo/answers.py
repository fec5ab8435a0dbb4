"""What was true: kept apart from the partners' files, for tests to ask whether the figures hold it.

truth.json is small whatever the size; up to DETAILED_UP_TO units it tells of every density and every unit.
truth-by-site.csv has one line a site at any size.
"""

import json
from collections import defaultdict
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

from seeds_demo.coast import ULVETANGEN, site_count
from seeds_demo.desk import Desk
from seeds_demo.diving import Told
from seeds_demo.growth import QUADRATS, SPREAD_K, true_densities
from seeds_demo.lives import BAG, NEVER, RETENTION_DAYS, Luck, true_retention
from seeds_demo.loggers import LOGGERS, true_heat
from seeds_demo.money import FORMS, Books

DETAILED_UP_TO = 2000


class Answers:
    """Collects the truth site by site."""

    def __init__(self, root: Path, seed: int, units: int) -> None:
        self.root, self.detailed = root, units <= DETAILED_UP_TO
        self.told: dict[str, Any] = {"seed": seed, "units": units, "sites": site_count(units), "spread_k": SPREAD_K}
        self.densities: list[dict[str, Any]] = []
        self.retention: dict[str, Any] = {}
        self.loggers: dict[str, Any] = {}
        self.bags: dict[str, int] = {}
        self.lives: dict[str, Any] = {}
        self.misses: list[str] = []  # bags first called absent, after they were last seen, while they still held
        self.site_file = (root / "truth-by-site.csv").open("w", encoding="utf-8", newline="\n")
        days = [f"attached_day_{d}_{how}" for d in RETENTION_DAYS for how in ("realised", "expected")]
        self.site_file.write(",".join(["site", "partner", "units", "treated_area_m2", "growth", *days]) + "\n")

    def add(self, told: Told, growth: float, luck: Luck) -> None:
        """One site."""
        for logger in LOGGERS:
            if logger.site_index == told.site.index:
                self.loggers[logger.key] = true_heat(self.told["seed"], logger, told.site.key)
        site, retention = told.site, true_retention(told.units, luck)
        fractions = [f"{retention[str(d)][how]:.6f}" for d in RETENTION_DAYS for how in ("realised", "expected")]
        line = [site.key, site.partner, str(site.units), f"{site.treated_area_m2():f}", f"{growth:.4f}", *fractions]
        self.site_file.write(",".join(line) + "\n")
        if not self.detailed:
            return
        self.retention[site.key] = retention
        self.bags[site.key] = sum(u.method == BAG for u in told.units)
        for look in told.looks:
            if look.survey and look.found:
                for kind, species, stage, mean in true_densities(site, growth, look):
                    self.densities.append(
                        {"site": site.key, "plot_kind": kind, "species": species, "stage": stage,
                         "survey": look.round_on.isoformat(), "protocol": QUADRATS, "per_m2": mean}
                    )  # fmt: skip
        self._add_lives(told)

    def _add_lives(self, told: Told) -> None:
        seen, absent = _sightings(told)
        for unit in told.units:
            if unit.method != BAG:
                continue
            age = unit.lost_at if unit.lost_at < NEVER else None
            self.lives[unit.key] = {"down": unit.down_on.isoformat(), "fixing": unit.fixing, "lost_on_day": age}
            since = [day for day in absent[unit.key] if day > seen.get(unit.key, unit.down_on)]
            if since and (min(since) - unit.down_on).days < unit.lost_at:
                self.misses.append(unit.key)

    def write(self, desk: Desk, books: Books) -> None:
        """truth.json, once everything is written."""
        self.site_file.close()
        totals = books.totals()
        tallies = sorted(desk.tallies.values(), key=lambda t: (t.night, t.partner, t.file))
        self.told |= {
            "events": sum(t.entered - t.amended for t in tallies),
            "loggers": self.loggers,
            "costs": totals if self.detailed else _summed(totals),
            "drops": [t.plain() for t in tallies],
            "mended": [
                {"partner": t.partner, "file": t.file, "night": t.night,
                 "amended": desk.mended_parts[t.partner, t.file],
                 "repeated": t.entered - desk.mended_parts[t.partner, t.file]}
                for t in tallies if t.partner == ULVETANGEN and desk.nights
            ],
        }  # fmt: skip
        if self.detailed:
            self.told |= {
                "densities": self.densities,
                "retention": self.retention,
                "bags": self.bags,
                "lives": self.lives,
                "missed_after_last_seen": self.misses,
            }
        text = json.dumps(self.told, indent=0, ensure_ascii=False, sort_keys=True)
        (self.root / "truth.json").write_text(text + "\n", encoding="utf-8", newline="\n")


def _sightings(told: Told) -> tuple[dict[str, date], dict[str, list[date]]]:
    """By unit: the day it was last seen, and every day it was called absent."""
    seen: dict[str, date] = {}
    absent: dict[str, list[date]] = defaultdict(list)
    for _, row in told.checks:
        if row["state"] == "absent":
            absent[row["unit_key"]].append(row["happened"])
        elif row["state"] != "not searched":
            seen[row["unit_key"]] = row["happened"]
    return seen, absent


def _summed(totals: Mapping[str, Mapping[str, float]]) -> dict[str, float]:
    return {form: round(sum(site[form] for site in totals.values()), 2) for form in FORMS}
