"""What was decided about what partners told, asked of the projection: rulings, parts closed for good, things taken back."""

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pipeline.says import Saying, as_text, difference, sayings
from schemas.kinds import Kind
from warehouse.asking import Asking

ACCEPTED = ("entered", "amends")


@dataclass(frozen=True)
class Word:
    """What a partner told of a thing that was decided about: where it told so last, its values, whether it counts now.

    told: only the values that others tell otherwise, all of them where nobody does; says: the same on one line, for the lead.
    receipt: of the file, 0 where none is meant.
    """

    partner: str
    file: str
    sheet: str
    row: int
    says: str
    counts: bool
    told: Saying = ()
    receipt: int = 0


@dataclass(frozen=True)
class Decision:
    """One decision that holds: what it is about, by whom, why, on which day, in which receipt.

    sort: ruling, closed (a held part), taken back, or rule (of the programme: its name in by, its sentence in reason). chosen: whether one of the words was chosen; else what counted
    before stays. replaces: the receipt of the ruling that it took the place of, 0 for none. words: of each partner
    that is concerned, in order.
    """

    sort: str
    identity: str
    kind: str
    key: str
    chosen: bool
    by: str
    reason: str
    day: dt.date
    receipt: int
    replaces: int
    words: tuple[Word, ...]


def decisions(con: Asking, kinds: Mapping[str, Kind], receipt: int | None = None) -> list[Decision]:
    """Every decision that still holds as of the asked entry, or those of one receipt alone; newest last.

    con: a session with the views up to `withdrawn`. A ruling is over once one of those it is about said something new
    that was taken in, or the thing was taken back.
    """
    made = [*_rulings(con, kinds, receipt), *_closed(con, receipt), *_taken_back(con, receipt)]
    return sorted(made, key=lambda d: (d.receipt, d.kind, d.key, d.identity))


def _rulings(con: Asking, kinds: Mapping[str, Kind], receipt: int | None) -> list[Decision]:
    made = con.sql(
        """with ranked as (
               select r.settles, r.choice, r.decided_by, r.reason, r.happened, r.entry,
                   row_number() over (partition by r.settles order by r.entry desc, r.row desc, r.part desc) as newest,
                   min(r.entry) over (partition by r.settles order by r.entry desc, r.row desc, r.part desc
                       rows between 1 following and 1 following) as before
               from ruling_said r cross join as_of a
               where r.entry <= a.entry and r.fate in ('entered', 'amends') and r.partner = 'programme'
           ), first as (
               select p.identity, min(p.content) as content
               from part p cross join as_of a where p.fate = 'entered' and p.entry <= a.entry group by p.identity
           )
           select r.settles, r.choice, r.decided_by, r.reason, r.happened, r.entry, coalesce(r.before, 0),
               case when w.identity is null then coalesce(s.content, f.content) end,
               w.entry > r.entry or s.since > r.entry
           from ranked r
           left join settled s on s.identity = r.settles
           left join first f on f.identity = r.settles
           left join withdrawn w on w.identity = r.settles
           where r.newest = 1 and r.settles not like 'held %' and ($receipt is null or r.entry = $receipt)""",
        params={"receipt": receipt},
    ).fetchall()
    of: dict[str, list[tuple[Any, ...]]] = defaultdict(list)
    for identity, *told in con.execute(
        """select p.identity, p.kind, p.key, p.partner, p.content, p.fate, p.entry, e.name, p.sheet, p.row
           from part p join entry e on e.number = p.entry cross join as_of a
           where p.identity in (select unnest($ruled)) and p.fate <> 'faulty' and p.entry <= a.entry
           order by p.entry, p.sheet, p.row, p.part""",
        {"ruled": [identity for identity, *_ in made]},
    ).fetchall():
        of[identity].append(tuple(told))
    said = sayings(con, kinds, ((t[0], identity, t[3]) for identity, parts in of.items() for t in parts))
    found = []
    for identity, choice, by, reason, day, entry, before, counting, over in made:
        parts = of[identity]
        if over or not parts:
            continue
        kind, key = parts[0][:2]
        alone = {content: said.get((kind, identity, content), ()) for *_, content in {(t[3],) for t in parts}}
        unlike = {content: difference(own, alone.values()) or own for content, own in alone.items()}
        words = tuple(
            Word(partner, name, sheet, row, as_text(unlike[content]), content == counting, unlike[content], at)
            for partner, content, name, sheet, row, at in _concerned(parts, counting, entry)
        )
        found.append(
            Decision("ruling", identity, kind, key or "", choice != "none", by, reason, day, entry, before, words)
        )
    return found


def _concerned(
    parts: Sequence[tuple[Any, ...]], counting: str | None, ruled: int
) -> list[tuple[str, str, str, str, int, int]]:
    """Of each partner what it told that the ruling speaks of: partner, content, and where it told so last, the receipt too.

    What a partner amended before is history, and so is all it told before it took up what counts.
    """
    last, since = dict[tuple[str, str], tuple[Any, ...]](), dict[str, int]()
    for _, _, partner, content, fate, entry, name, sheet, row in parts:
        last[partner, content] = (entry, name, sheet, row)
        if fate in ACCEPTED or (content == counting and entry > ruled):
            since[partner] = entry
    return [
        (partner, content, name, sheet, row, entry)
        for (partner, content), (entry, name, sheet, row) in sorted(last.items())
        if content == counting or entry >= since.get(partner, 0)
    ]


def _closed(con: Asking, receipt: int | None) -> list[Decision]:
    """Held parts that were dismissed, by the names that `held --rows` gives them."""
    rows = con.sql(
        """select r.settles, coalesce(p.kind, ''), coalesce(p.key, ''), r.decided_by, r.reason, r.happened, r.entry,
               p.partner, e.name, p.sheet, p.row, p.entry
           from ruling_said r cross join as_of a
           join part p on 'held ' || p.entry || '/' || case when p.sheet = '' then '' else p.sheet || '/' end
               || p.row || '/' || p.part = r.settles
           join entry e on e.number = p.entry
           where r.settles like 'held %' and r.entry <= a.entry and r.fate in ('entered', 'amends')
               and r.partner = 'programme' and ($receipt is null or r.entry = $receipt)""",
        params={"receipt": receipt},
    ).fetchall()
    return [
        Decision(
            "closed",
            settles,
            kind,
            key,
            False,
            by,
            reason,
            day,
            entry,
            0,
            (Word(partner, file, sheet, row, "", counts=False, receipt=at),),
        )
        for settles, kind, key, by, reason, day, entry, partner, file, sheet, row, at in rows
    ]


def _taken_back(con: Asking, receipt: int | None) -> list[Decision]:
    """What the programme took back of others' words; of one receipt, whatever it takes back."""
    rows = con.sql(
        """select distinct w.withdraws_kind, rtrim(w.withdraws_key, ' |'), coalesce(w.recorded_by, ''), w.reason,
               w.happened, w.entry, p.identity, p.partner
           from withdrawal_said w cross join as_of a
           join part p on p.kind = w.withdraws_kind and p.key = rtrim(w.withdraws_key, ' |')
           left join withdrawn t on t.identity = p.identity
           where w.entry <= a.entry and w.fate in ('entered', 'amends') and p.fate <> 'faulty' and p.entry <= a.entry
               and case when $receipt is null then w.partner = 'programme' and t.identity is not null
                   else w.entry = $receipt and w.partner in (p.partner, 'programme') end
           order by all""",
        params={"receipt": receipt},
    ).fetchall()
    words: dict[tuple[Any, ...], list[Word]] = defaultdict(list)
    for *about, partner in rows:
        words[tuple(about)].append(Word(partner, "", "", 0, "", False))
    return [
        Decision("taken back", identity, kind, key, False, by, reason, day, entry, 0, tuple(told))
        for (kind, key, by, reason, day, entry, identity), told in words.items()
    ]
