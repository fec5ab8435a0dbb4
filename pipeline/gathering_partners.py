"""What each partner gave and how it compares, asked of a session's views in one query for all partners."""

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise
from typing import Any

from pipeline.gathering import asked
from pipeline.indicators.contrast import ratio
from pipeline.indicators.detection import missed_though_there
from pipeline.overdue import rhythms_on
from pipeline.pages.given import Compared, Given, Looks
from pipeline.programme import Rules
from pipeline.says import ASIDE
from schemas.kinds import Kind
from warehouse.asking import Asking
from warehouse.sqlfiles import events

NOT_IN_THE_SEA = ("cost", "reading")  # bills come by the year, and loggers when they are brought up
HELD, TAKEN = "('faulty', 'conflict', 'question')", "('entered', 'amends', 'repeated')"
Counts = dict[tuple[Any, ...], dict[str, list[tuple[int, float]]]]


def given(con: Asking, rules: Rules, kinds: Mapping[str, Kind], as_of: dt.date) -> dict[str, Given]:
    """Of every partner that handed anything in what its page says. con: a session of `warehouse.database.reading`."""
    rows, mended, dives = _rows(con), _mended(con), _dives(con)
    filled, delays, remarked = _filled(con, kinds), _delays(con, kinds), _remarked(con)
    rhythms, looks, counts = _rhythms(con, rules, as_of), _looks(con, rules.survey_round_days), _counts(con)
    statements = {p: sum(n for _, n, _, _ in told) for p, told in filled.items()}
    return {
        partner: Given(
            *told, mended_days=mended.get(partner), statements=statements.get(partner, 0), remarked=remarked.get(partner, ()),
            **dives.get(partner, {}), filled=filled.get(partner, ()), delay=delays.get(partner), rhythm=rhythms.get(partner),
            looks=looks.get(partner), counts=counts.get(partner, ()),
        )
        for partner, told in rows.items()
    }  # fmt: skip


def _rows(con: Asking) -> dict[str, tuple[int, int, int, int]]:
    """Rows in all, taken in, ever held, and held still; one that was read twice counts once."""
    told = asked(
        con,
        f"""with one as (
               select p.partner, e.drop, p.sheet, p.row, max(case when p.fate in {TAKEN} then 1 else 0 end) as taken,
                   max(case when p.fate in {HELD} then 1 else 0 end) as held, max(case when h.row is not null then 1 else 0 end) as still
               from part p
               join entry e on e.number = p.entry
               cross join as_of a
               left join held_open h on h.entry = p.entry and h.sheet = p.sheet and h.row = p.row and h.part = p.part
               where p.entry <= a.entry
               group by all
           )
           select partner, count(*), sum(taken), sum(held), sum(still) from one group by partner order by partner""",
    )
    return {p: (int(n), int(taken), int(held), int(still)) for p, n, taken, held, still in told}


def _mended(con: Asking) -> dict[str, float]:
    """Middle of the days from a row's being held to its thing, or the row itself, being taken in."""
    told = asked(
        con,
        f"""with held as (
               select p.partner, e.drop, p.sheet, p.row, p.identity, min(p.entry) as entry
               from part p join entry e on e.number = p.entry cross join as_of a
               where p.fate in {HELD} and p.entry <= a.entry group by all
           ), later as (
               select p.partner, e.drop, p.sheet, p.row, p.identity, p.entry
               from part p join entry e on e.number = p.entry cross join as_of a
               where p.fate in {TAKEN} and p.entry <= a.entry
           ), closed as (
               select h.partner, h.drop, h.sheet, h.row, h.entry, l.entry as by_entry
               from held h join later l on l.partner = h.partner and l.identity = h.identity and l.entry > h.entry
               union all
               select h.partner, h.drop, h.sheet, h.row, h.entry, l.entry
               from held h join later l on l.partner = h.partner and l.drop = h.drop and l.sheet = h.sheet and l.row = h.row and l.entry > h.entry
           ), soonest as (
               select partner, drop, sheet, row, min(entry) as entry, min(by_entry) as by_entry from closed group by all
           )
           select s.partner, date_diff('day', cast(o.recorded as date), cast(c.recorded as date)), count(*)
           from soonest s join entry o on o.number = s.entry join entry c on c.number = s.by_entry group by all""",
    )
    return {p: middle(days) for p, days in _by_partner(told).items()}


def _dives(con: Asking) -> dict[str, dict[str, int]]:
    return {
        p: {"dives": int(n), "dives_told": int(told), "dives_seen": int(seen)}
        for p, n, told, seen in asked(
            con,
            "select partner, count(*), count(case when source = 'told' then 1 end), count(visibility_m) from visit_any group by partner order by 1",
        )
    }


def _filled(con: Asking, kinds: Mapping[str, Kind]) -> dict[str, list[tuple[str, int, int, float]]]:
    """Kinds with their statements, the columns that the partner ever filled, and the share of those cells that are."""
    found: dict[str, list[tuple[str, int, int, float]]] = defaultdict(list)
    for name in events(kinds):
        columns = [c.name for c in kinds[name].columns if c.name not in ASIDE]
        picked = ", ".join(f'count(k."{c}")' for c in columns)
        for partner, n, *told in asked(
            con, f"select k.partner, count(*), {picked} from {name}_now k group by k.partner order by 1"
        ):
            used = [int(t) for t in told if t]
            found[partner].append((name, int(n), len(used), sum(used) / (int(n) * len(used))))
    return found


def _delays(con: Asking, kinds: Mapping[str, Kind]) -> dict[str, tuple[float, int, int]]:
    """Days from what happened in the sea to the day its file first came, whenever it was read."""
    every = " union all ".join(
        f"select k.partner, k.entry, k.happened from {k}_said k where k.fate = 'entered'"
        for k in events(kinds)
        if k not in NOT_IN_THE_SEA
    )
    told = asked(
        con,
        f"""with came as (select partner, drop, min(recorded) as recorded from entry group by all)
           select k.partner, greatest(0, date_diff('day', k.happened, cast(c.recorded as date))) as days, count(*)
           from ({every}) k
           join entry e on e.number = k.entry
           join came c on c.partner = e.partner and c.drop = e.drop
           cross join as_of a
           where k.entry <= a.entry and k.happened is not null
           group by all""",
    )
    return {p: (middle(days), min(days), max(days)) for p, days in _by_partner(told).items()}


def _remarked(con: Asking) -> dict[str, list[tuple[str, int]]]:
    """Rules of standing that speak of the partner's own statements, those of most first."""
    found: dict[str, list[tuple[str, int]]] = defaultdict(list)
    for partner, rule, n in asked(
        con,
        """select p.partner, s.rule, count(distinct s.identity) as n
           from standing s
           join part p on p.identity = s.identity and p.kind = s.kind and p.fate in ('entered', 'amends')
           cross join as_of a where p.entry <= a.entry group by all order by 1, 3 desc, 2""",
    ):
        found[partner].append((rule, int(n)))
    return found


def _rhythms(con: Asking, rules: Rules, as_of: dt.date) -> dict[str, tuple[int, dt.date, int]]:
    """Rhythms that hold on the last day of the ledger, with the longest time between two files since."""
    days: dict[str, set[dt.date]] = defaultdict(set)
    for partner, day in asked(
        con,
        "select e.partner, cast(e.recorded as date) from entry e cross join as_of a where e.what = 'drop' and not e.retaken and e.number <= a.entry",
    ):
        days[partner].add(day)
    last = max((max(d) for d in days.values()), default=as_of)
    return {
        p: (r.every_days, r.dated, max((b - a).days for a, b in pairwise(sorted({r.dated, *(d for d in days[p] if d > r.dated), last}))))
        for p, r in rhythms_on(rules.night.rhythms, last).items() if r.dated < last
    }  # fmt: skip


def _looks(con: Asking, round_days: int) -> dict[str, Looks]:
    """Looks at units that were there, by partner, in rounds of a site in which several looked."""
    con.execute(
        """create or replace temp table known_look as
           with look as (
               select c.unit_key, c.happened as day, c.partner, 1 as seen
               from check_stands c where c.state in ('attached', 'torn', 'empty', 'retrieved')
               union
               select c.unit_key, c.happened, c.partner, 0
               from check_stands c
               cross join setting r
               left join visit_any v on v.partner = c.partner and v.visit_key = c.visit_key
               where c.state = 'absent' and (c.search_time_min is null or c.search_time_min >= r.least_search_min)
                   and (v.visibility_m is null or v.visibility_m >= r.least_visibility_m)  -- as in the view `absence`
               union
               select l.unit_key, l.happened, l.partner, 0 from loss_stands l where l.how_known = 'missed'
           )
           select u.site_key, l.unit_key, l.day, l.partner, l.seen
           from look l
           join unit_life u on u.unit_key = l.unit_key
           where u.unresolved = '' and l.day >= u.down_on and date_diff('day', u.down_on, l.day) < u.l"""
    )
    rounds: dict[str, dict[dt.date, dict[str, tuple[int, int]]]] = defaultdict(dict)
    for site, day, partner, misses, found in asked(
        con,
        "select site_key, day, partner, sum(1 - seen), sum(seen) from known_look group by all order by all",
    ):
        rounds[site].setdefault(day, {})[partner] = (int(misses), int(found))
    sums: dict[str, list[int]] = defaultdict(lambda: [0, 0, 0, 0])
    for days in rounds.values():
        for told in _in_rounds(days, round_days):
            for partner, (misses, found) in told.items():
                others = [n for p, n in told.items() if p != partner]
                if others:
                    more = (misses, found, sum(n[0] for n in others), sum(n[1] for n in others))
                    sums[partner] = [a + b for a, b in zip(sums[partner], more, strict=True)]
    later = _seen_later(con)
    return {
        p: Looks(missed_though_there(n[0], n[1]), missed_though_there(n[2], n[3]), *later.get(p, (0, 0, 0)))
        for p, n in sums.items()
    }


def _in_rounds(
    days: Mapping[dt.date, Mapping[str, tuple[int, int]]], round_days: int
) -> Iterable[dict[str, tuple[int, int]]]:
    """Misses and finds of each partner, of days close together: a gap longer than the programme's begins a new round."""
    told, before = dict[str, tuple[int, int]](), dt.date.min
    for day in sorted(days):
        if told and (day - before).days > round_days:
            yield told
            told = {}
        for partner, (misses, found) in days[day].items():
            have = told.get(partner, (0, 0))
            told[partner] = (have[0] + misses, have[1] + found)
        before = day
    if told:
        yield told


def _seen_later(con: Asking) -> dict[str, tuple[int, int, int]]:
    """Units that a partner did not find and others saw later; that it saw later itself; that others did not find and it saw later."""
    con.execute(
        """create or replace temp table missed_then_seen as
           select m.unit_key, m.partner as missed_by, s.partner as seen_by
           from (select unit_key, partner, min(day) as day from known_look where seen = 0 group by all) m
           join (
               select unit_key, partner, max(happened) as day from check_stands
               where state in ('attached', 'torn', 'empty', 'retrieved') group by all
           ) s on s.unit_key = m.unit_key and s.day > m.day"""
    )
    found: dict[str, list[int]] = defaultdict(lambda: [0, 0, 0])
    for partner, by_others, again in asked(
        con,
        """select missed_by, count(distinct case when seen_by <> missed_by then unit_key end),
               count(distinct case when seen_by = missed_by then unit_key end) from missed_then_seen group by all""",
    ):
        found[partner][:2] = [int(by_others), int(again)]
    for partner, n in asked(
        con, "select seen_by, count(distinct unit_key) from missed_then_seen where seen_by <> missed_by group by all"
    ):
        found[partner][2] = int(n)
    return {p: (n[0], n[1], n[2]) for p, n in found.items()}


def _counts(con: Asking) -> dict[str, list[Compared]]:
    """Counts of plots that several partners counted in one round, in frames of one sort, the newest first."""
    cells: Counts = defaultdict(lambda: defaultdict(list))
    for *cell, partner, count, area in asked(
        con,
        """with shared as (
               select site_key, plot_key, round_on, species, stage, protocol, frame_type, placement
               from frame_count where stage <> 'any' and placement <> 'at unit'
               group by all having count(distinct partner) > 1 and sum(count) > 0
           )
           select f.site_key, f.plot_key, f.round_on, f.species, f.stage, f.protocol, f.frame_type, f.placement,
               f.partner, f.count, f.area_m2
           from frame_count f
           join shared s using (site_key, plot_key, round_on, species, stage, protocol, frame_type, placement)
           order by all""",
    ):
        cells[tuple(cell)][partner].append((int(count), float(area)))
    found: dict[str, list[Compared]] = defaultdict(list)
    for (site, plot, on, species, stage, *_), by in sorted(cells.items(), key=lambda c: (-c[0][2].toordinal(), c[0])):
        for partner, mine in by.items():
            others = [frame for p, frames in by.items() if p != partner for frame in frames]
            told = ratio(*_parted(mine), *_parted(others), other="others")
            found[partner].append(Compared(site, plot, on, species, stage, len(mine), len(others), told))
    return found


def _parted(frames: Sequence[tuple[int, float]]) -> tuple[list[int], list[float]]:
    return [c for c, _ in frames], [a for _, a in frames]


def _by_partner(told: Iterable[tuple[Any, ...]]) -> dict[str, Counter[int]]:
    found: dict[str, Counter[int]] = defaultdict(Counter)
    for partner, days, n in told:
        found[partner][int(days)] += int(n)
    return found


def middle(counts: Counter[int]) -> float:
    """The median of values told with how often each occurs."""
    total = sum(counts.values())
    wanted = ((total - 1) // 2, total // 2)
    found, seen = list[int](), 0
    for value in sorted(counts):
        found += [value for at in wanted if seen <= at < seen + counts[value]]
        seen += counts[value]
    return sum(found) / len(found)
