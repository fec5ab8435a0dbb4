"""What is not settled yet, asked of the projection: held parts, contradictions, events that wait for something."""

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from pipeline.outputs.letter_places import letter_place
from pipeline.says import Saying as Said
from pipeline.says import as_text, difference, sayings
from schemas.kinds import Kind
from warehouse.asking import Asking


@dataclass(frozen=True)
class HeldCause:
    """Held parts of one file and cause: an instance, how many, the newest receipt that tells of them, its letter."""

    partner: str
    file: str
    kind: str
    column: str
    why: str
    for_instance: str
    parts: int
    receipt: int
    letter: str


@dataclass(frozen=True)
class Older:
    """Where an older drop, or an older reading of the same drop, says what a held part says too: its name there, file, row and receipt."""

    name: str
    file: str
    row: int
    same_drop: bool
    receipt: int


@dataclass(frozen=True)
class HeldRow:
    """A held part: its name (receipt/row/part), where it stands, the first reason, what was wanted, what to do, since when.

    fate: faulty, conflict or question. older: where the same partner said the same before, and that is held as well; it is counted once.
    """

    name: str
    partner: str
    file: str
    row: int
    kind: str
    why: str
    sheet: str
    part: int
    fate: str
    identity: str
    cause: str
    wanted: str
    advice: str
    since: dt.date
    receipt: int
    letter: str
    older: tuple[Older, ...] = ()


@dataclass(frozen=True)
class Saying:
    """One thing said of an identity that waits for a ruling: what it is, who said it where, whether it counts now.

    says: its filled values, and differs only those that others tell otherwise, on one line for the lead; values, differing:
    the same column by column.
    """

    kind: str
    key: str
    identity: str
    content: str
    said_as: str
    partner: str
    file: str
    sheet: str
    row: int
    entry: int
    why: str
    since: dt.date
    says: str
    differs: str
    values: Said = ()
    differing: Said = ()


@dataclass(frozen=True)
class Waiting:
    """An event that was taken in and waits for something else, by a rule of standing.

    meant: the key that is nearly what it names and nobody knows, "" where there is none; called: that thing's name, if it has one;
    by_name: what stands there is the name of that one thing and of no other.
    new_key: whether the unknown word is part of its key, so that a mended row is another event.
    """

    partner: str
    kind: str
    key: str
    rule: str
    why: str
    file: str
    sheet: str
    row: int
    since: dt.date
    receipt: int
    identity: str
    meant: str = ""
    called: str = ""
    new_key: bool = False
    by_name: bool = False


# Each held statement once: where its partner said it last, of a drop read again since it first came. Two say the same where the thing
# and what is told of it are the same, or all faults; a row in which no thing can be named is like no other.
_HELD_ONCE = """
with came as (
    select partner, drop, min(number) as since from entry group by partner, drop
), faults as (
    select entry, sheet, row, part, string_agg("column" || ' ' || code || ' ' || found, ' ' order by "column", code, found) as faults
    from fault group by entry, sheet, row, part
), said as (
    select h.*, c.since, case when h.fate = 'faulty' then f.faults else p.content end as says
    from held_open h
    join came c on c.partner = h.partner and c.drop = h.drop
    join part p on p.entry = h.entry and p.sheet = h.sheet and p.row = h.row and p.part = h.part
    left join faults f on f.entry = h.entry and f.sheet = h.sheet and f.row = h.row and f.part = h.part
), within as (  -- two rows of one file are two statements
    select *, coalesce(h.kind || ' ' || h.identity || ' ' || h.says, h.held_name) as statement,
        row_number() over (partition by h.entry, h.kind, h.identity, h.says order by h.sheet, h.row, h.part) as nth
    from said h
), once as (
    select *, row_number() over (partition by partner, statement, nth order by since desc, entry desc) as newest,
        first_value(held_name) over (partition by partner, statement, nth order by since desc, entry desc) as last_name
    from within
)
"""


def held_causes(con: Asking) -> list[HeldCause]:
    """What is still held, by partner, file and cause; what two drops say alike once, with the newest."""
    rows = con.sql(
        f"""{_HELD_ONCE}
           select h.partner, h.name, coalesce(h.kind, '') as kind, coalesce(nullif(f.heading, ''), f."column"), f.code,
                  min(coalesce(nullif(f.found, ''), f.wanted)),
                  count(distinct (h.entry, h.sheet, h.row, h.part)), max(h.entry)
           from once h
           join fault f on f.entry = h.entry and f.sheet = h.sheet and f.row = h.row and f.part = h.part
           where h.newest = 1
           group by all order by all"""
    ).fetchall()
    return [HeldCause(*(*r, letter_place(r[0], r[7], r[1]))) for r in rows]


def held_rows(con: Asking) -> list[HeldRow]:
    """Every held part that is still open, with the first of its reasons; what two drops say alike once, with the newest."""
    rows = con.sql(
        f"""{_HELD_ONCE}, reason as (
               select f.*, row_number() over (partition by entry, sheet, row, part order by "column", code) as nth from fault f
           )
           select h.held_name, h.partner, h.name, h.row, coalesce(h.kind, ''),
                  trim(coalesce(nullif(f.heading, ''), f."column") || ' ' || f.code || case when f.found = '' then '' else ': ' || f.found end),
                  h.sheet, h.part, h.fate, coalesce(h.identity, ''), f.code, f.wanted, f.advice, cast(e.recorded as date), h.entry, h.drop, h.last_name
           from once h
           join entry e on e.number = h.entry
           join reason f on f.entry = h.entry and f.sheet = h.sheet and f.row = h.row and f.part = h.part and f.nth = 1
           order by h.partner, h.name, h.entry, h.sheet, h.row, h.part"""
    ).fetchall()
    drops = {r[0]: r[15] for r in rows}
    older: dict[str, list[Older]] = defaultdict(list)
    for r in sorted(rows, key=lambda r: r[14]):
        if r[0] != r[16]:
            older[r[16]].append(Older(r[0], r[2], r[3], r[15] == drops[r[16]], r[14]))
    last = [r for r in rows if r[0] == r[16]]
    return [HeldRow(*(*r[:15], letter_place(r[1], r[14], r[2]), tuple(older[r[0]]))) for r in last]


@dataclass(frozen=True)
class Ruling:
    """A ruling: the identity or held part it settled, what was chosen of it, by whom, why, when, in which receipt.

    says: the values that were chosen, "" for none of what was held. holds: no later ruling replaced it.
    """

    settles: str
    kind: str
    key: str
    choice: str
    by: str
    reason: str
    day: dt.date
    receipt: int
    holds: bool
    says: str


def rulings(con: Asking, kinds: Mapping[str, Kind]) -> list[Ruling]:
    """Every ruling and dismissal, in the order they were recorded."""
    rows = con.sql("select * from ruling_made order by entry, kind, key, settles, choice").fetchall()
    said = sayings(con, kinds, ((kind, settles, choice) for settles, kind, _, choice, *_ in rows if kind))
    return [Ruling(*(*row, as_text(said.get((row[1], row[0], row[3]), ())))) for row in rows]


def waiting(con: Asking, kinds: Mapping[str, Kind], settled: bool = False) -> list[Saying]:
    """Everything said of every identity that waits for a ruling, or of those that had one, in order."""
    rows = con.sql(
        """select q.kind, q.key, q.identity, q.content, q.said_as, q.partner, q.name, q.sheet, q.row, q.entry, q.why,
                  cast(e.recorded as date)
           from open_question q join entry e on e.number = q.entry where q.waits = $waits
           order by q.kind, q.key, q.entry, q.sheet, q.row, q.content, q.said_as, q.why""",
        params={"waits": 0 if settled else 1},
    ).fetchall()
    said = sayings(con, kinds, ((kind, identity, content) for kind, _, identity, content, *_ in rows))
    of: dict[str, set[Said]] = defaultdict(set)
    for kind, _, identity, content, *_ in rows:
        of[identity].add(said.get((kind, identity, content), ()))
    found = []
    for row in rows:
        mine = said.get((row[0], row[2], row[3]), ())
        unlike = difference(mine, of[row[2]])
        found.append(Saying(*(*row, as_text(mine), as_text(unlike), mine, unlike)))
    return found


def in_dispute(con: Asking) -> set[str]:
    """Identities that count for nothing until somebody rules."""
    return {identity for (identity,) in con.sql("select identity from in_dispute").fetchall()}


_WAITS = """
with waits as (  -- where the site is not known its plots are not either: one of the two is told
    select s.kind, s.identity, s.rule, s.why
    from standing s
    left join (select distinct identity from standing where rule = 'unknown site') u on u.identity = s.identity
    where s.effect = 'waits' and (s.rule <> 'unknown plot' or u.identity is null)
), said as (
    select s.kind, s.identity, s.rule, s.why, p.partner, coalesce(p.key, '') as key, p.entry, p.sheet, p.row,
        row_number() over (partition by s.kind, s.identity, s.rule, s.why{each} order by p.entry desc, p.sheet, p.row, p.part) as newest
    from waits s
    join part p on p.identity = s.identity and p.kind = s.kind and p.fate in ({fates})
    cross join as_of a
    where p.entry <= a.entry{only}
)
select t.partner, t.kind, t.key, t.rule, t.why, e.name, t.sheet, t.row, cast(e.recorded as date), t.entry, t.identity
from said t join entry e on e.number = t.entry where t.newest = 1 order by all
"""


def waiting_events(con: Asking) -> list[Waiting]:
    """Every event that waits by a rule of standing, with the row that said it last."""
    return [Waiting(*r) for r in con.sql(_WAITS.format(each="", fates="'entered', 'amends'", only="")).fetchall()]


def waiting_of(con: Asking, receipts: Sequence[int]) -> list[Waiting]:
    """The same of those receipts alone, each with its own row, also where it said what was known already."""
    query = _WAITS.format(
        each=", p.entry", fates="'entered', 'amends', 'repeated'", only=" and list_contains($receipts, p.entry)"
    )
    return [Waiting(*r) for r in con.execute(query, {"receipts": list(receipts)}).fetchall()]


def last_words(said: Sequence[Saying]) -> list[Saying]:
    """Of what is said, each thing once a partner: where that partner said it last."""
    newest = {(q.identity, q.content, q.partner): q for q in said}
    return [q for q in said if newest[q.identity, q.content, q.partner] is q]
