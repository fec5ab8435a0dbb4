"""The slow, obvious twin of the views: a ledger folded entry by entry in plain Python.

It shares no code with warehouse/sql, the lineage or the judge; the fates that the judge wrote are its input. What it
means by each word is the design's (glossary, coming again, zero and absent) and, for lives, section 1.1 of the
statistics.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from kept import KINDS, SHARED, Ledger, Row

from pipeline.programme import Rules


@dataclass
class State:
    """What the ledger makes of itself as of a day and an entry."""

    happened: dt.date = dt.date.max
    withdrawn: set[str] = field(default_factory=set)
    disputed: set[str] = field(default_factory=set)
    now: dict[str, list[Row]] = field(default_factory=dict)
    waits: set[tuple[str, str]] = field(default_factory=set)
    stands: dict[str, list[Row]] = field(default_factory=dict)


def fold(ledger: Ledger, rules: Rules, happened: dt.date | None = None, entry: int | None = None) -> State:
    """Everything as of the end of `happened` (None: the last day of what is current) and of `entry` (None: the last)."""
    by_then = len(ledger.entries) if entry is None else entry
    parts = [p for p in ledger.parts if p["entry"] <= by_then]
    state = State()
    current, state.withdrawn, state.disputed = _versions(parts)
    good = [p for i, p in current.items() if i not in state.withdrawn and i not in state.disputed]
    in_the_sea = [p["happened"] for p in good if p["kind"] not in ("withdrawal", "ruling") and p["happened"]]
    state.happened = happened or max(in_the_sea, default=dt.date(1950, 1, 1))
    good = [p for p in good if p["happened"] is None or p["happened"] <= state.happened]
    state.now = {k: [p for p in good if p["kind"] == k] for k in KINDS}
    state.waits = {(p["kind"], p["identity"]) for p in good if _waits(p, state.now, rules)}
    state.stands = {k: [p for p in rows if (k, p["identity"]) not in state.waits] for k, rows in state.now.items()}
    return state


def _versions(parts: list[Row]) -> tuple[dict[str, Row], set[str], set[str]]:
    """The version that holds of each identity; identities taken back; identities in dispute. Told entry by entry."""
    current: dict[str, Row] = {}
    disputed: set[str] = set()
    by_programme: set[str] = set()
    decided = [p for p in parts if p["kind"] == "ruling" and p["partner"] == "programme"]
    rulings = {p["settles"]: p for p in decided if p["fate"] in ("entered", "amends")}
    for number in sorted({p["entry"] for p in parts}):
        here = [p for p in parts if p["entry"] == number]
        for p in here:
            if p["fate"] in ("entered", "amends"):
                current[p["identity"]] = p
                disputed.discard(p["identity"])
                if p["partner"] == "programme":
                    by_programme.add(p["identity"])
        disputed |= {p["identity"] for p in here if p["fate"] == "conflict"}
        for settled, ruling in rulings.items():
            if ruling["entry"] == number:
                disputed.discard(settled)
                told = [p for p in parts if p["entry"] <= number and p["identity"] == settled and p["content"] == ruling["choice"]
                        and p["fate"] in ("entered", "amends", "conflict", "question")]  # fmt: skip
                if told:
                    current[settled] = told[0]
    taken_back = {i for i, holds in current.items() if _taken_back(holds, parts, rulings.get(i))}
    return current, taken_back, disputed - by_programme


def _taken_back(holds: Row, parts: list[Row], ruling: Row | None) -> bool:
    """Whether everyone who says it has taken it back, or the programme has; a later ruling for something ends that."""
    same = [
        p
        for p in parts
        if (p["identity"], p["content"]) == (holds["identity"], holds["content"]) and p["fate"] != "faulty"
    ]
    tellers = {p["partner"] for p in same}
    taken = [w for w in parts if w["kind"] == "withdrawal" and w["fate"] in ("entered", "amends")
             and (w["withdraws_kind"], w["withdraws_key"].rstrip(" |")) == (holds["kind"], holds["key"])
             and w["partner"] in {*tellers, "programme"}]  # fmt: skip
    by = {w["partner"] for w in taken}
    if not taken or not ("programme" in by or tellers <= by):
        return False
    chosen_later = ruling is not None and ruling["choice"] != "none"
    return not (chosen_later and ruling["entry"] > max(w["entry"] for w in taken))


# --- standing -----------------------------------------------------------------------------------------------


def _waits(event: Row, now: dict[str, list[Row]], rules: Rules) -> bool:
    """Whether an event waits for a register, a deployment, a protocol, a visit that found its site, or a rate."""
    kind = event["kind"]
    sites = {s["site_key"] for s in now["site"]}
    plots = {(p["site_key"], p["plot_key"]) for p in now["plot"]}
    if event.get("site_key") is not None and event["site_key"] not in sites and kind != "site":
        return True
    if event.get("plot_key") is not None and kind != "plot" and (event["site_key"], event["plot_key"]) not in plots:
        return True
    if kind == "collection":
        return event["bed_key"] not in {b["bed_key"] for b in now["bed"]}
    if kind in ("check", "loss"):
        return _waits_for_its_unit(event, now)
    if kind == "survey":
        dated = [p.dated for p in rules.protocols if p.key == event["protocol"]]
        if not dated or min(dated) > event["happened"]:
            return True
        return (
            event["count"] is not None
            and event["area_m2"] is None
            and event["frame_type"] in ("quadrat", "belt", "photo")
        )
    if kind == "cost":
        nowhere = event["share_key"] is None and not places_of(event, now)
        return nowhere or (event["form"] != "hours" and rate_of(event, rules) is None)
    return False


def _waits_for_its_unit(event: Row, now: dict[str, list[Row]]) -> bool:
    if event["kind"] == "loss" and event["unit_key"].lower() == "cannot name":
        return False
    down = [u["happened"] for u in now["deployment"] if u["unit_key"] == event["unit_key"]]
    if not down or event["happened"] < down[0]:
        return True
    dive = _dive(event, now)
    return event["kind"] == "check" and event["state"] == "absent" and dive is not None and dive["outcome"] != "found"


def _dive(event: Row, now: dict[str, list[Row]]) -> Row | None:
    key = (event["partner"], event.get("visit_key"))
    return next((v for v in now["visit"] if (v["partner"], v["visit_key"]) == key), None)


# --- lives --------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Life:
    """The unit went after day `left` and by day `right` (None: nobody found it gone), counted from its deployment."""

    left: int
    right: int | None
    misses: int
    unresolved: bool = False


def lives(state: State, rules: Rules) -> dict[str, Life]:
    """The life of every tagged unit that stands; an interval that contradicts itself is told as unresolved."""
    return {
        u["unit_key"]: _life(u, state, rules) for u in state.stands["deployment"] if (u["unit_count"] or 1) == 1
    }  # fmt: skip


def _life(unit: Row, state: State, rules: Rules) -> Life:
    def days(events: Iterable[Row]) -> list[int]:
        return [(e["happened"] - unit["happened"]).days for e in events]

    looks = [c for c in state.stands["check"] if c["unit_key"] == unit["unit_key"]]
    losses = [e for e in state.stands["loss"] if e["unit_key"] == unit["unit_key"]]
    seen = days(c for c in looks if c["state"] in ("attached", "torn", "empty", "retrieved"))
    home = days(c for c in looks if c["state"] == "retrieved")
    absent = days(c for c in looks if c["state"] == "absent" and _searched_well(c, state, rules))
    absent += days(e for e in losses if e["how_known"] == "missed")
    off = days(e for e in losses if e["how_known"] in ("adrift", "ashore"))
    witnessed = days(e for e in losses if e["how_known"] == "witnessed")
    last = max(seen, default=0)
    misses = len({a for a in absent if seen and a <= last})
    if witnessed:
        went = min(witnessed)
        return Life(went, went, misses, unresolved=bool(seen) and last > went)
    if home:
        return Life(last, None, misses)
    gone = min([*(a for a in absent if not seen or a > last), *off], default=None)
    return Life(last, gone, misses, unresolved=gone is not None and gone <= last)


def _searched_well(check: Row, state: State, rules: Rules) -> bool:
    """An absence after a search that was told to be too short, or in water told to be too thick, proves nothing."""
    dive = _dive(check, state.now)
    seen_far = dive["visibility_m"] if dive else None
    long_enough = check["search_time_min"] is None or check["search_time_min"] >= rules.least_search_min
    return long_enough and (seen_far is None or seen_far >= rules.least_visibility_m)


# --- frames -------------------------------------------------------------------------------------------------

FRAME = ("partner", "visit_key", "site_key", "plot_key", "frame_key", "protocol", "frame_type", "placement", "happened")


def rounds(state: State, rules: Rules) -> dict[tuple[str, dt.date], dt.date]:
    """Site and survey day -> the first day of its round."""
    found = {}
    counted = [s for s in state.stands["survey"] if s["frame_type"] != "timed search" and s["alive"] is not False]
    for site in {s["site_key"] for s in counted}:
        begun = previous = None
        for day in sorted({s["happened"] for s in counted if s["site_key"] == site}):
            if previous is None or (day - previous).days > rules.survey_round_days:
                begun = day
            found[site, day], previous = begun, day
    return found


def counts(state: State, rules: Rules) -> dict[tuple[Any, ...], tuple[int, Decimal]]:
    """(*FRAME, species, stage) -> (how many, area): written, or zero where the frame was counted and none written."""
    frames: dict[tuple[Any, ...], list[Row]] = defaultdict(list)
    for s in state.stands["survey"]:
        if s["frame_type"] != "timed search" and s["alive"] is not False:
            frames[tuple(s[c] for c in FRAME)].append(s)
    frames = {k: rows for k, rows in frames.items() if any(r["count"] is not None for r in rows)}
    began = rounds(state, rules)
    last: dict[tuple[Any, ...], tuple[Any, ...]] = {}
    for k in frames:
        at = dict(zip(FRAME, k, strict=True))
        if at["placement"] == "fixed":
            place = (k[2:8], began[at["site_key"], at["happened"]])
            # of two tellings on one day, the partner and dive that come first in the alphabet
            last[place] = min(last.get(place, k), k, key=lambda x: (-x[8].toordinal(), x[0], x[1]))
    plots = {(p["site_key"], p["plot_key"]) for p in state.stands["plot"]}
    found = {}
    for k, rows in frames.items():
        at = dict(zip(FRAME, k, strict=True))
        superseded = at["placement"] == "fixed" and last[k[2:8], began[at["site_key"], at["happened"]]] != k
        areas = [r["area_m2"] for r in rows if r["count"] is not None and r["area_m2"] is not None]
        if superseded or not areas or (at["site_key"], at["plot_key"]) not in plots:
            continue
        for target in [t for p in rules.protocols if p.key == at["protocol"] for t in p.targets]:
            told = _told(rows, target.species, target.stage, rules)
            if told is not None:
                count, written = told
                found[*k, target.species, target.stage] = (count, min(written, default=min(areas)))
    return found


def _told(rows: list[Row], species: str, stage: str, rules: Rules) -> tuple[int, list[Decimal]] | None:
    """How many of a species and stage the rows of one counted frame tell, and the areas written with them; None: unknown."""
    of_it = [(_stage(r, rules), r) for r in rows if r["species"] == species]
    plants = [(s, r) for s, r in of_it if r["count"] != 0]
    if stage != "any":
        if any(s is None or s == "any" for s, _ in plants):
            return None  # some of them may be of this stage
        meant = [r for s, r in of_it if s == stage]
    else:
        whole = [r for s, r in of_it if s == "any"]
        meant = whole or [r for _, r in of_it]
    if any(r["count"] is None for r in meant):
        return None
    return sum(r["count"] for r in meant), [r["area_m2"] for r in meant if r["area_m2"] is not None]


def _stage(row: Row, rules: Rules) -> str | None:
    """The stage as written, or by the programme's length rule."""
    if row["stage"] is not None or row["length_cm"] is None:
        return row["stage"]
    fits = [s.stage for s in rules.stages if s.species == row["species"] and s.from_cm <= row["length_cm"] < s.to_cm]
    return fits[0] if fits else None


# --- area and cost ------------------------------------------------------------------------------------------


def treated(state: State, rules: Rules) -> dict[str, tuple[int, Decimal]]:
    """Site -> (units put down, treated area): a plot planted twice counts its area once."""
    found: dict[str, tuple[int, Decimal]] = {}
    for plot in [p for p in state.stands["plot"] if p["plot_kind"] == "treated"]:
        units = [
            u
            for u in state.stands["deployment"]
            if (u["site_key"], u["plot_key"]) == (plot["site_key"], plot["plot_key"])
        ]
        if units:
            by_unit = sum(u["area_treated_m2"] or (u["unit_count"] or 1) * rules.area_per_unit_m2 for u in units)
            area = plot["area_m2"] if rules.treated_area_rule == "plot area" else min(by_unit, plot["area_m2"])
            n, m2 = found.get(plot["site_key"], (0, Decimal(0)))
            found[plot["site_key"]] = (n + len(units), m2 + area)
    return found


def rate_of(cost: Row, rules: Rules) -> Decimal | None:
    """Units of its currency for one of the programme's: the rate set last, on or before the day it was paid."""
    if cost["currency"] == rules.currency:
        return Decimal(1)
    set_by_then = [
        (r.dated, r.per_unit) for r in rules.rates if r.currency == cost["currency"] and r.dated <= cost["happened"]
    ]
    return max(set_by_then)[1] if set_by_then else None


def places_of(cost: Row, now: dict[str, list[Row]]) -> dict[str, int]:
    """Site -> how many units of it a direct cost was for; 1 where it was for the site, a plot, a unit or a dive."""
    kind, key = cost["for_kind"], cost["for_key"]
    if kind == "collection":
        if key not in {c["batch_key"] for c in now["collection"]}:
            return {}
        sown: dict[str, int] = defaultdict(int)
        for u in now["deployment"]:
            if any(key in _sources(b.strip(), now) for b in (u["batch_key"] or "").split(";")):
                sown[u["site_key"]] += 1
        return dict(sown)
    named = {
        "site": lambda x: x["site_key"] == key, "plot": lambda x: f"{x['site_key']} | {x['plot_key']}" == key,
        "deployment": lambda x: x["unit_key"] == key,
        "visit": lambda x: (x["visit_key"], x["partner"]) == (key, cost["partner"]),
    }  # fmt: skip
    return {x["site_key"]: 1 for x in now[kind] if named[kind](x)} if kind else {}


def _sources(batch: str, now: dict[str, list[Row]]) -> set[str]:
    """A batch and everything upstream of it."""
    found, more = set(), {batch}
    while more:
        found |= more
        parents = [h["parent_batches"] for h in now["handling"] if h["batch_key"] in more and h["parent_batches"]]
        more = {p.strip() for text in parents for p in text.split(";")} - found
    return found


def costs(state: State, rules: Rules) -> dict[tuple[Any, ...], int]:
    """What was paid, in hundredths: sums by place or sharing key, and single costs parted over several sites."""
    found: dict[tuple[Any, ...], int] = defaultdict(int)
    for c in state.stands["cost"]:
        if c["actual_or_budget"] == "budget":
            continue
        where = {c["share_key"]: 0} if c["share_key"] else places_of(c, state.now)
        rate = rate_of(c, rules) if c["form"] != "hours" else None
        for place, units in where.items():
            alone = ("whole", place, c["form"], c["currency"], rate)
            parted = ("parted", c["identity"], place, units, rate)
            found[alone if len(where) == 1 else parted] += int(c["amount"] * 100)
    return dict(found)
