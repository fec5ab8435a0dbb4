"""What partners say in a small random programme: rows of every kind, without contradiction, full of awkward cases.

Rows are made by asking a `Dice` for whole numbers only. Hypothesis can be the dice (and then shrinks a world that
breaks something), and so can a stored seed (and then the world is the same for ever): one generator, two drivers.
"""

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from random import Random
from typing import Any

PARTNERS = ("club", "lab", "agency")
SITES, GHOST = ("CB", "HP", "LR"), "XX"  # a ghost is named by some and registered by nobody
SPECIES = ("Saccharina latissima", "Laminaria digitata")
DAYS = (0, 7, 14, 15, 21, 22, 40, 41, 60, 90)  # after the first; near enough to each other to meet at every limit
FIRST = dt.date(2025, 3, 1)

KEYS = {
    "site": ("site_key",), "plot": ("site_key", "plot_key"), "bed": ("bed_key",), "permit": ("permit_key",),
    "collection": ("batch_key",), "handling": ("batch_key", "step", "started_at"), "deployment": ("unit_key",),
    "treatment": ("site_key", "plot_key", "action", "happened"), "visit": ("visit_key",),
    "survey": ("visit_key", "plot_key", "frame_key", "species", "stage", "plant_no"), "check": ("visit_key", "unit_key"),
    "loss": ("unit_key", "happened"), "cost": ("record_key",), "withdrawal": ("withdraws_kind", "withdraws_key"),
    "ruling": ("settles", "choice"),
}  # fmt: skip
SHARED = ("site", "plot", "bed", "permit", "collection", "deployment")


class Dice:
    """Whoever chooses. `whole` is the one question; smaller answers mean simpler worlds. `crowd` times as much is said."""

    def __init__(self, whole: Callable[[int, int], int], crowd: int = 1) -> None:
        self.whole, self.crowd = whole, crowd

    def many(self, low: int, high: int) -> range:
        """As often as chosen, times the crowd; counted from 1."""
        return range(1, 1 + self.crowd * self.whole(low, high))

    def pick(self, of: Sequence[Any]) -> Any:
        """One of them; the first is the simplest."""
        return of[self.whole(0, len(of) - 1)]

    def once_in(self, n: int) -> bool:
        """True once in about n times."""
        return self.whole(1, n) == n

    def day(self) -> str:
        """A day of the programme, as text."""
        return on(self.pick(DAYS))


def on(days: int) -> str:
    """The day that many days after the first."""
    return (FIRST + dt.timedelta(days=days)).isoformat()


def seeded(seed: int, crowd: int = 1) -> Dice:
    """Dice that fall the same way for ever (Random.random is promised not to change)."""
    chance = Random(seed)
    return Dice(lambda low, high: low + int(chance.random() * (high - low + 1)), crowd)


@dataclass(frozen=True)
class Row:
    """One row: who says it, of what kind, its filled cells."""

    partner: str
    kind: str
    cells: tuple[tuple[str, str], ...]

    @property
    def thing(self) -> tuple[str, ...]:
        """What it is about: rows about one thing must agree, or they contradict each other."""
        cells = dict(self.cells)
        key = tuple(cells.get(c, "") for c in KEYS[self.kind])
        if key == ("",):  # a dive without a code is named by site and day; a bill without a number by all it says
            key = (cells["site_key"], cells["happened"]) if self.kind == "visit" else self.cells
        return ("" if self.kind in SHARED else self.partner, self.kind, *map(str, key))

    @property
    def key_text(self) -> str:
        """The key as a withdrawal writes it."""
        cells = dict(self.cells)
        return " | ".join(cells.get(c, "") for c in KEYS[self.kind]).rstrip(" |")

    def but(self, **cells: str) -> "Row":
        """The same row with other cells."""
        return replace(self, cells=tuple({**dict(self.cells), **cells}.items()))


# --- rows ---------------------------------------------------------------------------------------------------


@dataclass
class Sayings:
    """Rows as they are said; a second, other row about the same thing is left unsaid."""

    partners: Sequence[str] = PARTNERS
    rows: dict[tuple[str, ...], Row] = field(default_factory=dict)

    def anyone(self, d: Dice) -> str:
        """One of the partners."""
        return str(d.pick(self.partners))

    def say(self, partner: str, kind: str, **cells: object) -> None:
        """Say it, unless the thing was spoken of already."""
        filled = tuple((c, str(v)) for c, v in cells.items() if v not in ("", None))
        row = Row(partner, kind, filled)
        self.rows.setdefault(row.thing, row)

    def of(self, kind: str) -> list[Row]:
        """Every row of that kind."""
        return [r for r in self.rows.values() if r.kind == kind]


def rows_of(d: Dice) -> list[Row]:
    """Everything that is said in one world, without contradiction. Most worlds are about one thing, to stay small."""
    said = Sayings(PARTNERS[: d.pick((1, 1, 2, 3))])
    theme = "all" if d.crowd > 1 else d.pick(("lives", "counts", "money", "all"))
    sites = SITES[: d.pick((1, 1, 2, 3))]
    _registers(d, said, sites)
    if theme in ("money", "all"):
        _batches(d, said)
    _units(d, said, sites)
    visits = _visits(d, said, sites) if theme != "money" else []
    if theme in ("counts", "all"):
        _surveys(d, said, visits, sites)
    if theme in ("money", "all"):
        _money(d, said, sites)
    _withdrawals(d, said)
    return list(said.rows.values())


def _registers(d: Dice, said: Sayings, sites: Sequence[str]) -> None:
    for at, site in enumerate(sites):
        said.say(
            "programme", "site", site_key=site, name=f"Reef {site}", latitude=f"60.{at}", longitude="5.1",
            datum=d.pick(("EPSG:4326", "")), uncertainty_m=10, radius_m=200, country="NO",
            happened=d.pick(("", "", on(15))),
        )  # fmt: skip
        for plot, kind in (("T1", "treated"), ("C1", "control"), ("T2", "treated"), ("R1", "reference"))[
            : d.whole(2, 4)
        ]:
            control = {"control_kind": "untouched", "assigned_by": "random"} if kind == "control" else {}
            area = d.pick(("20", "50.5", "400"))
            said.say("programme", "plot", site_key=site, plot_key=plot, plot_kind=kind, area_m2=area, **control)


def _batches(d: Dice, said: Sayings) -> None:
    for bed in ("D1", "D2")[: d.whole(1, 2)]:
        fertile = d.pick(("200", ""))
        said.say("programme", "bed", bed_key=bed, species=SPECIES[0], estimated_on=on(0), fertile=fertile)
    if d.once_in(3):
        said.say("agency", "permit", permit_key="P-1", authority="Fishery", holder="club", activity="collect",
                 valid_from=on(0), valid_to=on(90))  # fmt: skip
    batches = [f"B{n}" for n in range(1, d.whole(1, 4))]
    for batch in batches:
        said.say(said.anyone(d), "collection", batch_key=batch, bed_key=d.pick(("D1", "D1", "D2", "D9")),
                 species=SPECIES[0], plants_cut=d.pick((5, 15, 21)), happened=on(d.pick((0, 7))),
                 permit_key=d.pick(("", "P-1")), cut_height_cm=d.pick(("", 8, 5)))  # fmt: skip
        if d.once_in(2):
            said.say(said.partners[-1], "handling", batch_key=batch, step=d.pick(("hold", "carry")), started_at=f"{on(7)} 10:00",
                     temp_max_degc=d.pick((12, 16)))  # fmt: skip
    if len(batches) > 1 and d.once_in(2):
        said.say(
            said.partners[-1],
            "handling",
            batch_key="M1",
            step="merge",
            started_at=f"{on(7)} 12:00",
            parent_batches="B1; B2",
        )
    if batches and d.once_in(2):
        parent = d.pick((*batches, "M1", "B9"))
        said.say(
            said.partners[-1],
            "handling",
            batch_key="M2",
            step="split",
            started_at=f"{on(7)} 14:00",
            parent_batches=parent,
        )


def _place(d: Dice, sites: Sequence[str]) -> dict[str, str]:
    site = GHOST if d.once_in(20) else d.pick(sites)
    return {"site_key": site, "plot_key": "X9" if d.once_in(12) else d.pick(("T1", "T1", "C1", "T2"))}


def _units(d: Dice, said: Sayings, sites: Sequence[str]) -> None:
    batches = ("", "B1", "B1; M2", "B2", "M1", "M2", "B1; M2", "B9")
    for n in d.many(2, 5):
        said.say(said.anyone(d), "deployment", unit_key=f"U{n}", method=d.pick(("spore bag", "transplant")),
                 happened=on(d.pick((7, 0, 14, 15))), unit_count=d.pick(("", "1")), fixing=d.pick(("bolt", "glue")),
                 area_treated_m2=d.pick(("", "3.5", "60")), batch_key=d.pick(batches), **_place(d, sites))  # fmt: skip
    for n in d.many(0, 2):
        said.say(said.anyone(d), "deployment", unit_key=f"L{n}", method="seeded gravel", happened=d.day(),
                 unit_count=40, batch_key=d.pick(batches), **_place(d, sites))  # fmt: skip


def _visits(d: Dice, said: Sayings, sites: Sequence[str]) -> list[tuple[str, str, str, str]]:
    visits = []
    for n in d.many(2, 6):
        partner, site = said.anyone(d), d.pick(sites)
        day = visits[-1][3] if visits and d.once_in(3) else d.day()  # two dives on one day are not rare
        key = d.pick((f"V{n}", f"V{n}", f"{site} {day} 1"))  # the last: what a dive without a code is called
        visits.append((partner, key, site, day))
        told = d.pick(("found", "found", "found", "not found", "aborted", "nothing"))
        if told != "nothing":
            said.say(partner, "visit", visit_key=key if key[0] == "V" else "", site_key=site, happened=day, outcome=told,
                     why="" if told == "found" else "fog", visibility_m=d.pick(("", 2, 2, 3)),
                     dive_number=1 if key[0] != "V" else "")  # fmt: skip
        for _ in range(d.whole(1, 5)):
            _look(d, said, partner, key, site, day)
    for _ in d.many(0, 4):
        unit = d.pick((*[f"U{d.whole(1, 3 * d.crowd)}"] * 3, "U0", "cannot name"))
        how = d.pick(("missed", "adrift", "ashore", "witnessed"))
        said.say(said.anyone(d), "loss", unit_key=unit, happened=d.day(), how_known=how)
    return visits


def _look(d: Dice, said: Sayings, partner: str, key: str, site: str, day: str) -> None:
    said.say(partner, "check", visit_key=key, happened=day, site_key=d.pick(("", "", "", "", site, GHOST)),
             unit_key=d.pick((*[f"U{d.whole(1, 3 * d.crowd)}"] * 6, "L1", "U0")),
             state=d.pick(("attached", "absent", "absent", "torn", "not searched", "retrieved")),
             search_time_min=d.pick(("", 5, 4)))  # fmt: skip


def _surveys(d: Dice, said: Sayings, visits: Sequence[tuple[str, str, str, str]], sites: Sequence[str]) -> None:
    for _ in d.many(0, 2):
        said.say(said.anyone(d), "treatment", action=d.pick(("grazers removed", "turf removed")), area_m2=20,
                 happened=d.day(), **_place(d, sites))  # fmt: skip
    for partner, key, site, day in visits:
        for frame in range(1, d.whole(2, 5)):
            about = {
                "visit_key": key, "happened": day, "site_key": site, "plot_key": "X9" if d.once_in(12) else d.pick(("T1", "C1")),
                "frame_key": f"Q{d.pick((frame, 1))}", "frame_type": d.pick(("quadrat", "quadrat", "belt", "timed search", "points")),
                "placement": d.pick(("random", "fixed", "fixed", "at unit")), "area_m2": "" if d.once_in(12) else d.pick(("0.25", "0.25", "1")),
                "protocol": "P9" if d.once_in(15) else d.pick(("P1", "P1", "P2")),
            }  # fmt: skip
            for _ in range(d.whole(1, 3)):
                _count(d, said, partner, about)


def _count(d: Dice, said: Sayings, partner: str, about: dict[str, Any]) -> None:
    how = d.pick(("stage", "stage", "none found", "length", "no stage", "plants"))
    species, count = d.pick(SPECIES), d.pick((0, 1, 4, ""))
    if how == "none found":
        said.say(partner, "survey", **about, count=0)
    elif how == "stage":
        stage = d.pick(("recruit", "juvenile", "canopy", "any"))
        said.say(partner, "survey", **about, species=species, stage=stage, count=count)
    elif how == "no stage":
        said.say(partner, "survey", **about, species=species, count=count)
    else:
        for plant in range(1, 2 if how == "length" else 3):
            length = d.pick((3, 5, "39.9", 40))
            said.say(partner, "survey", **about, species=species, plant_no=plant, length_cm=length, count=1)


def _money(d: Dice, said: Sayings, sites: Sequence[str]) -> None:
    for n in d.many(2, 8):
        target = d.pick((
            ("site", sites[0]), ("plot", f"{sites[-1]} | T1"), ("deployment", "U1"), ("collection", "B1"), ("collection", "B1"),
            ("collection", "B2"), ("visit", "V1"), ("site", GHOST), ("units", ""), ("area", ""), ("equal", ""), ("hours", ""),
        ))  # fmt: skip
        direct = {"for_kind": target[0], "for_key": target[1]} if target[1] else {"share_key": target[0]}
        form = d.pick(("cash", "cash", "in kind", "hours"))
        money = "" if form == "hours" else d.pick(("EUR", "NOK", "USD"))
        said.say(said.anyone(d), "cost", record_key=d.pick((f"R{n}", "")), happened=d.day(), form=form,
                 amount=d.pick(("100", "33.33", "-5")), currency=money, category="boat", phase="deploy",
                 actual_or_budget=d.pick(("", "", "budget")), **direct)  # fmt: skip


def _withdrawals(d: Dice, said: Sayings) -> None:
    """Some things are taken back; a withdrawal may be dated after everything else, as such notes are."""
    kinds = (
        "check",
        "survey",
        "cost",
        "loss",
        "check",
        "survey",
        "cost",
        "deployment",
        "visit",
        "plot",
        "site",
        "collection",
    )
    for _ in d.many(0, 3):
        rows = [r for r in said.of(d.pick(kinds)) if r.key_text]
        if rows:
            row = d.pick(rows)
            by = "agency" if row.partner == "programme" else row.partner
            said.say(by, "withdrawal", withdraws_kind=row.kind, withdraws_key=row.key_text, reason="a slip",
                     happened=d.pick((on(120), *map(on, DAYS))))  # fmt: skip
