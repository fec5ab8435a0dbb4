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

REGISTERS = ("site", "plot", "bed", "permit")


@dataclass
class State:
    """What the ledger makes of itself as of a day and an entry."""

    happened: dt.date = dt.date.max
    withdrawn: set[str] = field(default_factory=set)
    disputed: set[str] = field(default_factory=set)
    now: dict[str, list[Row]] = field(default_factory=dict)
    waits: set[tuple[str, str]] = field(default_factory=set)
    stands: dict[str, list[Row]] = field(default_factory=dict)
    held: list[Row] = field(default_factory=list)
    doubts: list[Row] = field(default_factory=list)


def fold(ledger: Ledger, rules: Rules, happened: dt.date | None = None, entry: int | None = None) -> State:
    """Everything as of the end of `happened` (None: the last day of what is current) and of `entry` (None: the last)."""
    by_then = len(ledger.entries) if entry is None else entry
    parts = [p for p in ledger.parts if p["entry"] <= by_then]
    state = State()
    recorded = {e["number"]: dt.datetime.fromisoformat(e["recorded"]).date() for e in ledger.entries}
    current, state.withdrawn, state.disputed = _versions(parts, ledger, happened or dt.date.max)
    good = [p for i, p in current.items() if i not in state.withdrawn and i not in state.disputed]
    known = [p for p in good if p["happened"] and (happened is None or p["happened"] <= happened)]
    ahead = {p["identity"]: p["kind"] for p in known if _ahead(p, parts, recorded)}
    in_the_sea = [
        p["happened"]
        for p in good
        if p["kind"] not in (*REGISTERS, "withdrawal", "ruling") and p["identity"] not in ahead
    ]
    state.happened = happened or max(in_the_sea, default=dt.date(1950, 1, 1))
    last = {k: happened or dt.date.max if k in REGISTERS else state.happened for k in KINDS}
    good = [p for p in good if p["happened"] is None or p["happened"] <= last[p["kind"]]]
    state.now = {k: [p for p in good if p["kind"] == k] for k in KINDS}
    state.waits = {(p["kind"], p["identity"]) for p in good if _waits(p, state.now, rules)}
    state.waits |= {(kind, identity) for identity, kind in ahead.items()}
    state.stands = {k: [p for p in rows if (k, p["identity"]) not in state.waits] for k, rows in state.now.items()}
    state.held = still_held(parts, [e for e in ledger.entries if e["number"] <= by_then], state.disputed)
    state.doubts = _doubts(state, parts)
    return state


def _versions(parts: list[Row], ledger: Ledger, day: dt.date) -> tuple[dict[str, Row], set[str], set[str]]:
    """The version that holds of each identity; identities taken back; identities in dispute. Told entry by entry.

    A register's version that holds only from a day after `day` is not known on it.
    """
    current: dict[str, Row] = {}
    decided = [p for p in parts if p["kind"] == "ruling" and p["partner"] == "programme"]
    rulings = {p["settles"]: p for p in decided if p["fate"] in ("entered", "amends")}
    told = [p for p in parts if not (p["kind"] in REGISTERS and p.get("happened") and p["happened"] > day)]
    for number in sorted({p["entry"] for p in parts}):
        for p in told:
            if p["entry"] == number and p["fate"] in ("entered", "amends"):
                current[p["identity"]] = p
        for settled, ruling in rulings.items():
            if ruling["entry"] == number:
                chosen = [p for p in told if p["entry"] <= number and p["identity"] == settled and p["content"] == ruling["choice"]
                          and p["fate"] in ("entered", "amends", "conflict", "question")]  # fmt: skip
                if chosen:
                    current[settled] = chosen[0]
    taken_back = {i for i, holds in current.items() if _taken_back(holds, parts, rulings.get(i))}
    quarrelled = {p["identity"] for p in parts if p["fate"] == "conflict"}
    return current, taken_back, {i for i in quarrelled if _in_dispute(i, ledger, parts, rulings.get(i), current.get(i))}


def _in_dispute(identity: str, ledger: Ledger, parts: list[Row], ruling: Row | None, holds: Row | None) -> bool:
    """Whether the last words of those who spoke of it differ, or what counts is none of them. The programme's own word is never in doubt."""
    told = [p for p in parts if p["identity"] == identity and p["fate"] != "faulty"]
    if _registered(told):
        return False
    words = set().union(*last_words(told, ledger, ruling, taken_by(told, parts, ruling)).values())
    return bool(words) and len(words | ({holds["content"]} if holds else set())) > 1


def taken_by(told: list[Row], parts: list[Row], ruling: Row | None) -> set[str]:
    """Partners whose words on a thing were taken back, by themselves or the programme, and not brought back by a ruling."""
    since = ruling["entry"] if ruling is not None and ruling["choice"] != "none" else 0
    return {
        p["partner"] for p in told for w in parts
        if w["kind"] == "withdrawal" and w["fate"] in ("entered", "amends") and w["entry"] > since
        and (w["withdraws_kind"], w["withdraws_key"].rstrip(" |")) == (p["kind"], p["key"])
        and w["partner"] in (p["partner"], "programme")
    }  # fmt: skip


def last_words(told: list[Row], ledger: Ledger, ruling: Row | None, taken: set[str]) -> dict[str, set[str]]:
    """What each partner says of one thing now. told: all that was ever told of it, but for faulty parts.

    A drop speaks for the day it first came, as it was read last. Of two drops of one take-in that contradict each
    other neither is the later. A ruling ends all words before it and is the word of those who told what it left.
    """
    last = max((p["entry"] for p in told), default=0)
    entries = [
        e for e in ledger.entries if e["number"] <= max(last, max((a["entry"] for a in ledger.asked), default=0))
    ]
    words = [p for p in told if p["fate"] != "question"]
    if ruling is not None:
        before = [p for p in told if p["entry"] < ruling["entry"]]
        stood = [p for p in before if p["fate"] in ("entered", "amends")]
        left = ruling["choice"] if ruling["choice"] != "none" else stood[-1]["content"] if stood else None
        heirs = [{**p, "said": ruling["entry"]} for p in before
                 if p["content"] == left and (ruling["choice"] != "none" or p["fate"] not in ("question", "conflict"))]  # fmt: skip
        words = [p for p in words if p["entry"] > ruling["entry"]] + heirs
    drop_of = {e["number"]: e["drop"] for e in entries}
    said: dict[str, set[str]] = {}
    for partner in {p["partner"] for p in words} - taken:
        by_drop: dict[str, tuple[int, set[str]]] = {}
        for p in (p for p in words if p["partner"] == partner):
            drop, at = drop_of[p["entry"]], p.get("said", p["entry"])
            if drop not in by_drop or at > by_drop[drop][0]:
                by_drop[drop] = (at, set())
            if at == by_drop[drop][0]:
                by_drop[drop][1].add(p["content"])
        unsaid = {
            drop for drop, (at, _) in by_drop.items() for a in ledger.asked
            if a["identity"] == told[0]["identity"] and a["entry"] > at and drop_of.get(a["entry"]) == drop
            and any(e["number"] == a["entry"] and e["retaken"] and e["partner"] == partner for e in entries)
        }  # fmt: skip
        speaking = {d: contents for d, (_, contents) in by_drop.items() if d not in unsaid}
        if not speaking:
            continue
        first = {d: min(e["number"] for e in entries if (e["partner"], e["drop"]) == (partner, d)) for d in speaking}
        newest = max(first, key=lambda d: first[d])
        heard = {newest} | {d for d in speaking if _contradict(d, newest, partner, entries, told)}
        said[partner] = set().union(*(speaking[d] for d in heard))
    return said


def _contradict(one: str, other: str, partner: str, entries: list[Row], told: list[Row]) -> bool:
    """Whether two drops of a partner came in one take-in and said different things of this very thing."""
    pairs = {(e["number"], d) for e in entries if e["partner"] == partner for d in e["disputed_with"]}
    for p in told:
        for q in told:
            both = (
                p["fate"] == q["fate"] == "conflict"
                and p["partner"] == q["partner"] == partner
                and p["content"] != q["content"]
            )
            drops = {e["number"]: e["drop"] for e in entries}
            if (
                both
                and (p["entry"], drops[q["entry"]]) in pairs
                and {drops[p["entry"]], drops[q["entry"]]} == {one, other}
            ):
                return True
    return False


def _registered(words: list[Row]) -> bool:
    """Whether the programme itself told of it."""
    return any(p["partner"] == "programme" and p["fate"] in ("entered", "amends", "repeated") for p in words)


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


def _ahead(event: Row, parts: list[Row], recorded: dict[int, dt.date]) -> bool:
    """Whether it is dated after the last day (and one more, for time zones) on which anybody told of it."""
    if event["kind"] in (*REGISTERS, "withdrawal", "ruling"):
        return False
    told = [recorded[p["entry"]] for p in parts if (p["identity"], p["content"]) == (event["identity"], event["content"])
            and p["fate"] != "faulty"]  # fmt: skip
    return bool(event["happened"] > max(told) + dt.timedelta(days=1))


# --- held ---------------------------------------------------------------------------------------------------


def still_held(parts: list[Row], entries: list[Row], disputed: set[str]) -> list[Row]:
    """Held parts that nothing has closed: no later word, no mended file, no ruling, no end of the dispute."""
    return [
        p for p in parts if p["fate"] in ("faulty", "conflict", "question") and not _closed(p, parts, entries, disputed)
    ]


def _closed(held: Row, parts: list[Row], entries: list[Row], disputed: set[str]) -> bool:
    names = {e["number"]: (e["partner"], e["name"]) for e in entries}
    drops = {e["number"]: (e["partner"], e["drop"]) for e in entries}
    came = {n: (min(m for m in drops if drops[m] == drops[n]), n) for n in drops}  # a drop stands where it first came
    rulings = [
        p for p in parts if p["kind"] == "ruling" and p["partner"] == "programme" and p["fate"] in ("entered", "amends")
    ]
    if any(r["settles"] == held["identity"] and r["entry"] > held["entry"] for r in rulings):
        return True
    if held["fate"] == "question" and _settled_already(held, parts, rulings):
        return True
    same = [
        p
        for p in parts
        if p["identity"] and p["identity"] == held["identity"] and p["fate"] in ("entered", "amends", "repeated")
    ]
    spoke_since = any(came[p["entry"]] > came[held["entry"]] and p["partner"] == held["partner"] for p in same)
    if held["fate"] == "conflict":
        counts = any(p["fate"] in ("entered", "amends") for p in same)
        return held["identity"] not in disputed and (spoke_since or (counts and not _registered(same)))
    if held["fate"] == "question" and spoke_since:
        return True
    if held["fate"] == "faulty" and any(
        came[p["entry"]] > came[held["entry"]] or names[p["entry"]] != names[held["entry"]] for p in same
    ):
        return True
    told = {p["entry"] for p in parts}
    if any(n > held["entry"] and drops[n] == drops[held["entry"]] and n in told for n in drops):
        return True
    later = [came[n] for n in names if came[n] > came[held["entry"]] and names[n] == names[held["entry"]] and n in told]
    if not later:
        return False
    as_read_last = max(n for since, n in later if since == min(later)[0])
    old, new = ([p for p in parts if p["entry"] == n] for n in (held["entry"], as_read_last))
    named = {p["identity"] for p in old if p["identity"]}
    in_place = any(
        (p["sheet"], p["row"]) == (held["sheet"], held["row"]) and held["kind"] in (p["kind"], "") for p in new
    )
    shared = named & {p["identity"] for p in new}
    return bool(shared or (not named and in_place))


def _settled_already(held: Row, parts: list[Row], rulings: list[Row]) -> bool:
    """Whether its partner had said the very same before the newest ruling, which chose something else, or nothing."""
    mine = sorted((r for r in rulings if r["settles"] == held["identity"]), key=lambda r: r["entry"])
    if not mine or mine[-1]["entry"] > held["entry"] or mine[-1]["choice"] == held["content"]:
        return False
    return any(
        (p["identity"], p["partner"], p["content"]) == (held["identity"], held["partner"], held["content"])
        and p["entry"] < mine[-1]["entry"]
        and p["fate"] != "faulty"
        for p in parts
    )


STAGES = ("recruit", "juvenile", "sub-canopy", "canopy", "any")


def _doubts(state: State, parts: list[Row]) -> list[Row]:
    """Of each survey row that does not count: its frame, and the species and stage it may be of (None: any)."""
    rows = [p for p in state.now["survey"] if ("survey", p["identity"]) in state.waits]
    rows += [
        p
        for p in parts
        if p["kind"] == "survey" and p["identity"] in state.disputed and p["fate"] not in ("repeated", "faulty")
    ]
    standing = {p["identity"] for p in state.stands["survey"]}
    for held in state.held:
        if held["kind"] == "survey" and held["key"] and held["identity"] not in standing | state.withdrawn:
            told = dict(
                zip(("visit_key", "plot_key", "frame_key", "species", "stage"), held["key"].split(" | "), strict=False)
            )
            rows.append({"partner": held["partner"], "species": "", "stage": "", **told})
    return [{**r, "species": r["species"] or None, "stage": r["stage"] if r["stage"] in STAGES else None} for r in rows]


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
        plot = next(p for p in now["plot"] if (p["site_key"], p["plot_key"]) == (event["site_key"], event["plot_key"]))
        if (plot["role_from"] or dt.date.min) > event["happened"] or event["happened"] > (
            plot["role_to"] or dt.date.max
        ):
            return True
        frame = [
            s for s in now["survey"] if all(s[c] == event[c] for c in ("partner", "visit_key", "plot_key", "frame_key"))
        ]
        if len({(s["site_key"], s["happened"], s["frame_type"], s["placement"]) for s in frame}) > 1:
            return True
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
    misses = len({a for a in absent if (seen and a <= last) or (witnessed and a < min(witnessed))})
    told = [e for e in (*state.now["check"], *state.now["loss"]) if e["unit_key"] == unit["unit_key"]]
    too_early = any(e["happened"] < unit["happened"] for e in told)
    if witnessed:
        went = min(witnessed)
        return Life(went, went, misses, unresolved=too_early or (bool(seen) and last > went))
    if home:
        return Life(last, None, misses, unresolved=too_early)
    gone = min([*(a for a in absent if not seen or a > last), *off], default=None)
    return Life(last, gone, misses, unresolved=too_early or (bool(seen) and gone is not None and gone < last))


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
            counted = [r for r in rows if not _too_small(r, target.species, rules)]
            here = [
                d for d in state.doubts if all(d[c] == at[c] for c in ("partner", "visit_key", "plot_key", "frame_key"))
            ]
            unsure = any(
                d["species"] in (None, target.species)
                and (d["stage"] in (None, "any", target.stage) or target.stage == "any")
                for d in here
            )
            told = _told(counted, target.species, target.stage, rules, unsure)
            if told is not None:
                count, written = told
                found[*k, target.species, target.stage] = (count, min(written, default=min(areas)))
    return found


def _too_small(row: Row, species: str, rules: Rules) -> bool:
    """Whether the protocol does not count plants as short as this."""
    smallest = [t.smallest_cm for p in rules.protocols if p.key == row["protocol"] for t in p.targets
                if (t.species, t.stage) == (row["species"], _stage(row, rules)) and t.smallest_cm is not None]  # fmt: skip
    return bool(
        row["species"] == species and row["length_cm"] is not None and smallest and row["length_cm"] < smallest[0]
    )


def _told(rows: list[Row], species: str, stage: str, rules: Rules, unsure: bool) -> tuple[int, list[Decimal]] | None:
    """How many of a species and stage the rows of one counted frame tell, and the areas written with them; None: unknown.

    unsure: a row of the frame that may be of them is missing, so only one number for all of them can be trusted.
    """
    of_it = [(_stage(r, rules), r) for r in rows if r["species"] == species]
    plants = [(s, r) for s, r in of_it if r["count"] != 0]
    if stage != "any":
        if any(s is None or s == "any" for s, _ in plants):
            return None  # some of them may be of this stage
        meant = [r for s, r in of_it if s == stage]
    else:
        whole = [r for s, r in of_it if s == "any"]
        meant = whole or [r for _, r in of_it]
    one_number = all(r["plant_no"] is None and (r["stage"] is not None or r["length_cm"] is None) for r in meant)
    whole_stage = stage != "any" or any(s == "any" for s, _ in of_it)
    if any(r["count"] is None for r in meant) or (unsure and not (meant and one_number and whole_stage)):
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
