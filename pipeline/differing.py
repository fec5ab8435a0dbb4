"""What held rows say otherwise than another row, another partner, or what counts: which columns, and both values."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import duckdb

from pipeline.faults import Fault
from pipeline.intake.match import Match, wide_groups
from pipeline.rules.settling import PARTNERS, SettlingRule
from pipeline.says import ASIDE, Saying, sayings
from schemas.kinds import Kind
from warehouse.asking import Asking

FEW = 5  # rows of a file that would amend much of which it is told; the rest are counted
MOST = 5_000  # held rows of a receipt of which it is told
CODES = ("conflict", "other partner", "older", "ruled against", "amends much")
RULE_WANTED = "the word that counts by a rule of the programme"
RULE_ADVICE = (
    "The programme's rule “{rule}” decides whose word counts. Your page of what is open says whose, or asks you to agree where the "
    "rule finds none. If it should be otherwise, write to the programme."
)
Row = tuple[str, int, int, str, str, str, str, str, str, str, str, int, bool, bool]
Place = tuple[str, int, int, str, str, str, str]


@dataclass(frozen=True)
class Against:
    """Who says otherwise: a partner, in which file, sheet and row. counts: it is what counts now, wherever it stands.

    unseen: its value is another's and a decision stands between the two, so it is not shown, and not given either.
    """

    partner: str
    file: str
    sheet: str
    row: int
    counts: bool = False
    unseen: bool = False


@dataclass(frozen=True)
class Differs:
    """One column in which a held row differs: our name for it, the heading it has in the partner's sheet ("" for none), the row's
    own value, and each other value with who says it. Values are as `says.in_words` writes them, "" for a blank cell and for what
    is unseen."""

    column: str
    heading: str
    mine: str
    others: tuple[tuple[str, Against], ...]


@dataclass(frozen=True)
class Difference:
    """One held part, of which file and partner, and the columns in which it differs from what others say, in order.

    happened: the day that the row tells, as 2025-06-30. rule: the name of the programme's rule that decides whose word counts,
    "" where none speaks of it.
    """

    file: str
    sheet: str
    row: int
    part: int
    kind: str
    partner: str
    columns: tuple[Differs, ...]
    happened: str = ""
    rule: str = ""


def differences(con: Asking, kinds: Mapping[str, Kind], receipt: int) -> list[Difference]:
    """Of each part that a receipt holds because something else is said of its thing: what differs, in order.

    con: a session with the views up to `last_word`, as of that receipt. Another's values are for a partner's letter only while
    both are asked to agree. So, where neither the partner nor the programme told what counts now: after a ruling it is given that
    another word counts, without its values; where the row says again what was amended, or its file would amend much, nothing.
    """
    con.execute(
        _ASKED.replace("{codes}", ", ".join(f"'{c}'" for c in CODES)), {"receipt": receipt, "few": FEW, "most": MOST}
    )
    rows: list[Row] = con.sql(f"select * from ({_WORDS}) order by all", params={"receipt": receipt}).fetchall()
    [(file,)] = con.sql("select name from entry where number = $receipt", params={"receipt": receipt}).fetchall()
    return told_of(file, rows, sayings(con, kinds, wanted_by(rows), whole=True), kinds)


def words_of_trial(con: duckdb.DuckDBPyConnection, file: str, names: Mapping[int, str]) -> list[Row]:
    """The same rows of a file that is only tried. con: what `judge` made of it; names: of the files of earlier receipts."""
    asked = {
        "codes": list(CODES),
        "file": file,
        "few": FEW,
        "most": MOST,
        "names": [{"entry": n, "name": t} for n, t in names.items()],
    }
    return con.execute(_TRIED, asked).fetchall()


def by_rules(told: Sequence[Difference], settling: Sequence[SettlingRule]) -> list[Difference]:
    """The same without other partners' values where a rule of the programme speaks of it: a rule, not they, decides then.

    A letter is written once, and whether a rule finds whose word counts may hang on files that come later (a dive, say): what
    is open now stands on the partner's page, which asks to agree where the rule finds none.
    """
    found = []
    for d in told:
        rule = next((r.name for r in settling if _speaks_of(r, d)), "")
        columns = tuple(
            replace(c, others=tuple(("", replace(a, unseen=True)) for __, a in c.others)) for c in d.columns
        )
        found.append(replace(d, columns=columns, rule=rule) if rule else d)
    return found


def _speaks_of(rule: SettlingRule, d: Difference) -> bool:
    against = {a.partner for c in d.columns for __, a in c.others}
    if d.kind != rule.kind or d.happened < rule.since.isoformat() or against & {"", "programme", d.partner}:
        return False
    if rule.whose == PARTNERS and not set(rule.partners) & {d.partner, *against}:
        return False
    return not rule.columns or {c.column for c in d.columns} <= {*rule.columns, *ASIDE}


def as_decided(faults: Sequence[Fault], told: Iterable[Difference]) -> list[Fault]:
    """The faults, those of parts that a rule decides saying so instead of asking to agree."""
    rules = {(d.sheet, d.row, d.part): d.rule for d in told if d.rule}
    return [
        replace(f, wanted=RULE_WANTED, advice=RULE_ADVICE.format(rule=rules[f.sheet, f.row, f.part]))
        if f.code in ("conflict", "other partner") and (f.sheet, f.row, f.part) in rules
        else f
        for f in faults
    ]


def of_place(told: Sequence[Difference]) -> dict[tuple[str, int, int], Difference]:
    """By sheet, row and part."""
    return {(d.sheet, d.row, d.part): d for d in told}


def wanted_by(rows: Sequence[Row]) -> Iterable[tuple[str, str, str]]:
    """Kind, identity and content of all that they speak of."""
    for r in rows:
        yield from ((r[3], r[5], r[6]), (r[3], r[5], r[7]))


def told_of(
    file: str, rows: Sequence[Row], said: Mapping[tuple[str, str, str], Saying], kinds: Mapping[str, Kind]
) -> list[Difference]:
    """What rows of that file say otherwise. rows: sheet, row, part, kind, partner, identity, content, another content, and where that is told (partner, file, sheet, row, counts, unseen).

    said: values by kind, identity and content; what was erased is not among them, and nothing is told of it.
    """
    places: dict[Place, list[tuple[str, Against]]] = defaultdict(list)
    for r in rows:
        places[r[:7]].append((r[7], Against(*r[8:])))
    found = []
    for (sheet, row, part, kind, partner, identity, content), others in places.items():
        mine = said.get((kind, identity, content))
        against = [(dict(said[kind, identity, c]), a) for c, a in others if (kind, identity, c) in said]
        if mine is None or not against:
            continue
        own, columns = dict(mine), []
        for name in (c.name for c in kinds[kind].columns):
            told = tuple(
                ("" if a.unseen else values.get(name, ""), a)
                for values, a in against
                if values.get(name) != own.get(name)
            )
            columns += [Differs(name, "", own.get(name, ""), told)] if told else []
        if any(c.column == kinds[kind].happened_from for c in columns):  # the day is made from that time
            columns = [c for c in columns if c.column != "happened"]
        found += (
            [Difference(file, sheet, row, part, kind, partner, tuple(columns), own.get("happened", ""))]
            if columns
            else []
        )
    return found


def headed(told: Sequence[Difference], ways: Mapping[str, Match]) -> list[Difference]:
    """The same with the partner's own headings. ways: how each sheet is read, by its name."""
    found = []
    for d in told:
        match = ways.get(d.sheet)
        own = _headings(match, d) if match else {}
        found.append(replace(d, columns=tuple(replace(c, heading=own.get(c.column, "")) for c in d.columns)))
    return found


def _headings(match: Match, d: Difference) -> dict[str, str]:
    """Our column -> its heading, of the part of the way of writing that made this part of the row."""
    first = 1
    for p in match.sheet.parts:
        width = len(match.header) if p.wide else 1
        if first <= d.part < first + width:
            found = {**{c: hs[0] for c, hs in p.joins.items() if hs}, **p.headings}
            place = d.part - first
            group = wide_groups(match.sheet, p.wide, match.header).get(place) if p.wide else None
            if p.wide and group:
                found |= {c: match.header[group.cells.get(c, place)] for c in p.wide.columns()}
            return found
        first += width
    return {}


# Of each held part that something else contradicts: its thing and content. unseen: what counts was told by other partners alone.
_ASKED = """
create or replace temp table differing_part as
with first as (
    select p.identity, min(p.content) as content
    from part p cross join as_of a where p.fate = 'entered' and p.entry <= a.entry group by p.identity
), told as (
    select p.sheet, p.row, p.part, p.kind, p.partner, p.identity, p.content, f.code,
        coalesce(s.content, b.content) as counting
    from fault f
    join part p on p.entry = f.entry and p.sheet = f.sheet and p.row = f.row and p.part = f.part
    left join settled s on s.identity = p.identity
    left join first b on b.identity = p.identity
    where f.entry = $receipt and f.code in ({codes})
), known as (
    select t.*, t.partner <> 'programme' and not exists (
        select 1 from part o where o.identity = t.identity and o.content = t.counting
            and o.partner in (t.partner, 'programme') and o.fate <> 'faulty' and o.entry < $receipt) as unseen
    from told t
), shown as (
    select k.*, row_number() over (partition by k.code = 'amends much' order by k.sheet, k.row, k.part) as nth
    from known k
    where k.code in ('conflict', 'other partner', 'ruled against') or not k.unseen
)
select * exclude (nth) from shown where nth <= case when code = 'amends much' then $few else $most end
"""

# What is said otherwise: by other rows of the same take-in; by others, last; and what counts.
_WORDS = """
with taken as (  -- the receipt and those of the same take-in that contradict it
    select $receipt as entry
    union
    select o.number
    from entry e
    join contradicts c on c.entry = e.number
    join entry o on o.drop = c.drop
    join contradicts b on b.entry = o.number and b.drop = e.drop
    where e.number = $receipt
), beside as (
    select d.sheet, d.row, d.part, d.kind, d.partner as whose, d.identity, d.content, p.content as other, p.partner, e.name as file,
        p.sheet as at_sheet, p.row as at_row, false as counts, false as unseen
    from differing_part d
    join part p on p.identity = d.identity and p.content <> d.content and p.fate = 'conflict'
    join taken t on t.entry = p.entry
    join entry e on e.number = p.entry
    where d.code = 'conflict'
), theirs as (
    select d.sheet, d.row, d.part, d.kind, d.partner as whose, d.identity, d.content, w.content as other, w.partner, e.name as file,
        p.sheet as at_sheet, p.row as at_row, false as counts, false as unseen
    from differing_part d
    join last_word w on w.identity = d.identity and w.partner <> d.partner and w.content <> d.content
    join part p on p.identity = w.identity and p.content = w.content and p.partner = w.partner and p.entry = w.entry
    join entry e on e.number = p.entry
    where d.code = 'other partner'
    qualify row_number() over (partition by d.sheet, d.row, d.part, w.partner, w.content order by p.sheet, p.row, p.part) = 1
), counting as (
    select d.sheet, d.row, d.part, d.kind, d.partner as whose, d.identity, d.content, d.counting as other, '' as partner, '' as file,
        '' as at_sheet, 0 as at_row, true as counts,
        d.code = 'ruled against' and d.unseen as unseen
    from differing_part d
    left join (select distinct sheet, row, part from theirs) t on t.sheet = d.sheet and t.row = d.row and t.part = d.part
    where d.counting <> d.content and d.code <> 'conflict' and (d.code <> 'other partner' or t.row is null)
)
select * from beside union all select * from theirs union all select * from counting
"""

_TRIED = """
with held as (
    select j.*, s.partner, row_number() over (partition by j.why = 'amends much' order by j.sheet, j.row, j.part) as nth
    from judged j
    join (select distinct pos, partner from part_read) s on s.pos = j.pos
    where list_contains($codes, j.why)
), asked as (
    select * from held where nth <= case when why = 'amends much' then $few else $most end
), file_of as (
    select unnest($names, recursive := true)
), theirs as (
    select a.sheet, a.row, a.part, a.kind, a.partner, a.identity, a.content, w.content as other, w.partner as who,
        coalesce(f.name, '') as file, p.sheet as at_sheet, p.row as at_row, false as counts, false as unseen
    from asked a
    join last_word w on w.identity = a.identity and w.partner <> a.partner and w.content <> a.content
    join known_part p on p.identity = w.identity and p.content = w.content and p.partner = w.partner and p.entry = w.entry
    left join file_of f on f.entry = p.entry
    where a.why = 'other partner'
    qualify row_number() over (partition by a.sheet, a.row, a.part, w.partner, w.content order by p.sheet, p.row) = 1
), counting as (
    select a.*, c.content as counts_now, a.partner <> 'programme' and not exists (
        select 1 from known_part o where o.identity = a.identity and o.content = c.content
            and o.partner in (a.partner, 'programme') and o.fate <> 'faulty') as unseen
    from asked a
    join current c on c.identity = a.identity and c.content <> a.content
)
select a.sheet, a.row, a.part, a.kind, a.partner as whose, a.identity, a.content, j.content, a.partner, $file, j.sheet, j.row, false, false
from asked a
join judged j on j.identity = a.identity and j.content <> a.content and j.fate = 'conflict'
where a.why = 'conflict'
union all
select * from theirs
union all
select c.sheet, c.row, c.part, c.kind, c.partner, c.identity, c.content, c.counts_now, '', '', '', 0, true,
    c.why = 'ruled against' and c.unseen
from counting c
left join (select distinct sheet, row, part from theirs) t on t.sheet = c.sheet and t.row = c.row and t.part = c.part
where c.why <> 'conflict' and (c.why <> 'other partner' or t.row is null)
    and (c.why in ('other partner', 'ruled against') or not c.unseen)
order by all
"""
