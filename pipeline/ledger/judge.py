"""Whether a good part is news: entered, an amendment, a repeat, or held as a conflict or a question.

All drops of one take-in are judged together, so that no listing order decides; a drop of an interrupted take-in
is judged with those it disputed.
"""

from collections.abc import Callable, Sequence
from itertools import pairwise
from pathlib import Path

import duckdb
import pyarrow.parquet as pq

from pipeline.ledger.known import parts_of
from pipeline.ledger.outcome import Outcome
from pipeline.ledger.staging import Staged

AT_ONCE = 20_000_000  # parts whose things are counted at once: so many fit the memory that a take-in allows itself
AMENDS_TOO_MUCH = 0.30  # of a drop's records; one row alone may always amend, or no small file could correct anything

REASONS = {
    "conflict": ("Two rows say different things about the same {kind}: {key}.",
                 "one row for each thing",
                 "Find out which is right, mend or delete the other, and hand the file in again; or ask the programme to rule."),
    "other partner": ("{other} has already said something else about this {kind}: {key}.",
                      "partners that agree",
                      "Talk to {other} and hand in what you agree on, or ask the programme to rule."),
    "ruled against": ("This {kind} is settled already: {key}. The ruling of receipt {ruling} decided it on {day}, and not for what your row says.",
                      "what was ruled",
                      "Take what was ruled into your sheet. If your values are right after all, ask the programme to rule anew."),
    "older": ("This {kind} was later amended: {key}. Your row says again what stood before.",
              "the newest values",
              "If the older values are right after all, ask the programme to rule; otherwise take the newer ones into your sheet."),
    "withdrawn": ("This {kind} was withdrawn: {key}.",
                  "a thing that was not taken back",
                  "If it should count after all, ask the programme to rule; otherwise delete the row from your sheet."),
    "amends much": ("This file would amend more than 30 % of its rows; this one is {key}.",
                    "a file that mostly adds",
                    "Check that columns were not shifted or sorted apart. If the file is right, ask the programme to rule."),
}  # fmt: skip

# "ruled against" of a partner who had not said it before the ruling: nobody has decided between that partner's word and the others
# yet, so the row stays open (`refused` of warehouse/sql/060_held_open.sql) and must not be called settled
OTHERS_REFUSED = "The programme has ruled about this {kind}, and not for what your row says: {key}."

# What a fate means for the receipt's sums.
ENTERED, HELD = ("entered", "amends"), ("faulty", "conflict", "question")


def judge(con: duckdb.DuckDBPyConnection, parts: int, load_waited: Callable[[], None]) -> None:
    """Make the tables `judged` (pos, sheet, row, part, kind, identity, key, content, fate, why) and `vanished`.

    Judged are the parts whose thing the ledger, or another part of this take-in, speaks of too. All others keep the
    fate they were staged with. con holds what `known.load_known` made: part_read (`pos`: position among the staged drops), of which
    part_loaded and part_lying are the two halves (good_lying: the good ones of the latter), and, of the ledger,
    known_part, current, told_before, last_word, ruled, taken_back, disputed, resent; and `returned.load_mended` made mended.
    parts: about how many those are. load_waited: makes only_waited of what `amending` speaks of; called where a drop would amend much.
    """
    con.execute(_SPOKEN_OF)
    slices = 1 + parts // AT_ONCE
    edges = [f"{256 * n // slices:02x}" for n in range(slices)] + ["g"]  # of hex digits, which come before it
    for first, after in pairwise(edges):
        for told_twice in _TWICE:
            con.execute(told_twice, {"first": first, "after": after})
    con.execute(_MET)
    con.execute(_EARLY)
    con.execute(_FIRST_LOOK)
    [(much,)] = con.sql("select count(*) from much").fetchall()
    if much:  # what never counted is no harm to change, however many rows it is
        load_waited()
        con.execute("delete from amending where identity in (select identity from only_waited)")
        con.execute(_MUCH)
    con.execute(_JUDGED)
    con.execute(_VANISHED)


_SPOKEN_OF = """
create or replace temp table spoken_of as
    select distinct identity from known_part where identity is not null
    union select identity from taken_back
    union select identity from disputed
"""
_SLICE = "fate = 'entered' and identity >= $first and identity < $after"
# Things that several parts speak of: those whose number, made of their identity in a third of the time, is met twice, are counted
# as the 128 bits they are; as text they would take three times the memory. One count over both tables at once would not be
# spilled, so each is counted by itself and what they share is joined.
_TWICE = [
    f"""
insert into spoken_of
    select replace(cast(thing as varchar), '-', '') from ({told}) told
    except select identity from spoken_of
"""
    for told in (
        *(
            f"""
        select cast(identity as uuid) as thing from {parts}
        where {_SLICE} and hash(identity) in (
            select hash(identity) as number from {parts} where {_SLICE} group by number having count(*) > 1
        ) group by thing having count(*) > 1"""
            for parts in ("good_lying", "part_loaded")
        ),
        f"select distinct cast(l.identity as uuid) as thing from (select identity from part_loaded where {_SLICE}) l "
        f"join (select identity from good_lying where {_SLICE}) y on y.identity = l.identity",
    )
]
_MET = """
create or replace temp table part_met as
    select p.* from part_read p join spoken_of s on s.identity = p.identity where p.fate = 'entered'
"""

# What a part is by what was said before this take-in; null where that depends on what others say now.
_EARLY = """
create or replace temp table heard as
with came as (
    select partner, drop as drop_hash, min(number) as since from entry group by partner, drop
), late as (  -- of drops read again: things of which a drop that came later has spoken since, of the same partner or the programme
    select distinct c.pos, w.identity
    from (select distinct pos, identity, partner, drop_hash from part_met where retaken) c
    join came f on f.partner = c.partner and f.drop_hash = c.drop_hash
    join last_word w on w.identity = c.identity and w.partner in (c.partner, 'programme') and w.since > f.since
    left join last_word own on own.identity = c.identity and own.partner = c.partner and own.drop = c.drop_hash
    where own.identity is null or w.partner <> c.partner
)
-- a retake changes what this drop itself said last; where another drop has spoken since, its word is history
select p.*, l.pos is not null as history
from part_met p left join late l on l.pos = p.pos and l.identity = p.identity;

create or replace temp table early as
with settled_word as (  -- what its own partner said before a ruling that refused it, and what does not count again since: it opens nothing
    select distinct t.identity, t.partner, t.content
    from told_before t
    join ruled r on r.identity = t.identity and t.entry < r.entry
    left join current c on c.identity = t.identity and c.content = t.content
    where (r.content is null or r.content <> t.content) and c.identity is null
), news as (
    select g.* from heard g
    left join settled_word s on s.identity = g.identity and s.partner = g.partner and s.content = g.content
    where not g.history and s.identity is null
), contrary as (  -- told in two ways by this take-in, or by one that was stopped
    select pos, identity, content from (
        select g.pos, g.identity, g.content from news g
        join (select identity from news group by identity having count(distinct content) > 1) t on t.identity = g.identity
        union
        select g.pos, g.identity, g.content from heard g join disputed d on d.pos = g.pos and d.identity = g.identity and d.content <> g.content
    )
), registered as (
    select distinct identity from told_before where partner = 'programme' and was_word
), own as (  -- what this partner said of it before, and whether it is what it said last
    select t.identity, t.partner, t.content, t.stood, coalesce(not list_contains(w.contents, t.content), false) as superseded
    from told_before t
    left join (select identity, partner, list(content) as contents from last_word group by identity, partner) w
        on w.identity = t.identity and w.partner = t.partner
    where t.was_word
), against as (  -- what was said before a ruling that chose something else, or nothing
    select distinct t.identity, t.content
    from told_before t join ruled r on r.identity = t.identity and t.entry < r.entry
    where r.content is null or r.content <> t.content
)
select g.* exclude (history), c.partner as holder, n.identity is not null as registered,
    case
        when x.identity is not null then 'conflict'
        when t.identity is not null then 'withdrawn'
        when c.content = g.content then case when o.superseded and not g.retaken then 'older' else 'repeated' end
        when a.identity is not null then 'ruled against'
        when (o.superseded or (n.identity is not null and o.stood)) and not g.retaken then 'older'
    end as verdict
from heard g
left join contrary x on x.pos = g.pos and x.identity = g.identity and x.content = g.content
left join (select distinct identity, partner from taken_back) t on t.identity = g.identity and t.partner = g.partner
left join current c on c.identity = g.identity
left join own o on o.identity = g.identity and o.partner = g.partner and o.content = g.content
left join against a on a.identity = g.identity and a.content = g.content
left join registered n on n.identity = g.identity
where not g.history
"""


def _among(told: str) -> str:
    """What the parts of that table are, all of one content, beside what others said last and do not say anew in it."""
    return f"""
        with teller as (
            select distinct identity, partner from {told}
        ), others as (
            select g.identity, count(*) as words, count(*) filter (where w.content <> g.content) as unlike,
                min(w.partner) filter (where w.content <> g.content) as other
            from (select distinct identity, content from {told}) g
            join last_word w on w.identity = g.identity
            left join teller t on t.identity = w.identity and t.partner = w.partner
            where t.partner is null
            group by g.identity
        )
        select g.*,
            case
                when g.partner = 'programme' then case when g.holder is null then 'entered' else 'amends' end
                when g.registered or h.unlike > 0 or (g.holder <> g.partner and h.words is null and t.partner is null) then 'other partner'
                when g.holder is null then 'entered'
                else 'amends'
            end as outcome,
            case when g.registered then 'programme' else coalesce(h.other, g.holder) end as other
        from {told} g
        left join others h on h.identity = g.identity
        left join teller t on t.identity = g.identity and t.partner = g.holder"""


_MUCH = f"""
create or replace temp table much as
    select pos from (
        select pos, records, identity, min(struct_pack(sheet := sheet, row := row)) as place
        from amending group by pos, records, identity
    ) group by pos, records
    having count(distinct place) > greatest({AMENDS_TOO_MUCH} * records, 1)
"""
_FIRST_LOOK = f"""
create or replace temp table undecided as select * from early where verdict is null;
create or replace temp table first_look as {_among("undecided")};
create or replace temp table amending as  -- of rows that were held and come back each was mended by hand
    select f.* from first_look f left join mended m on m.pos = f.pos and m.sheet = f.sheet and m.row = f.row
    where f.outcome = 'amends' and not f.retaken and m.pos is null;
{_MUCH}"""
_JUDGED = f"""
create or replace temp table saying as
    select f.* exclude (outcome, other) from first_look f
    left join (select a.* from amending a join much m on m.pos = a.pos) x
        on x.pos = f.pos and x.sheet = f.sheet and x.row = f.row and x.part = f.part
    where x.pos is null;
create or replace temp table second_look as {_among("saying")};
create or replace temp table judged as
with taken as (  -- of those who say alike the first one's part enters, and the others' are known then
    select identity, min(struct_pack(after := partner <> 'programme', pos := pos, sheet := sheet, row := row, part := part)) as first
    from second_look where outcome in ('entered', 'amends') group by identity
), verdicts as (
    select pos, sheet, row, part, kind, identity, key, content, verdict, '' as other from early where verdict is not null
    union all
    select f.pos, f.sheet, f.row, f.part, f.kind, f.identity, f.key, f.content, 'amends much', ''
    from amending f join much m on m.pos = f.pos
    union all
    select s.pos, s.sheet, s.row, s.part, s.kind, s.identity, s.key, s.content,
        case
            when t.identity is null then 'other partner'
            when t.first = struct_pack(after := s.partner <> 'programme', pos := s.pos, sheet := s.sheet, row := s.row, part := s.part)
            then s.outcome
            else 'repeated'
        end, s.other
    from second_look s left join taken t on t.identity = s.identity
    union all
    select pos, sheet, row, part, kind, identity, key, content, 'repeated', '' from heard where history
)
select pos, sheet, row, part, kind, identity, key, content,
    case
        when verdict in ('entered', 'amends', 'repeated') then verdict
        when verdict in ('conflict', 'other partner') then 'conflict'
        else 'question'
    end as fate,
    case when verdict in ('entered', 'amends', 'repeated') then '' else verdict end as why, other
from verdicts
"""


# Rows that an earlier file of the same name had and this one has not, where the two have anything in common; held ones
# too, unless a thing not told before stands in their place: that is the row, mended. Of a drop read again: what its row no longer says,
# unless the row is faulty now, when nobody knows what it says.
_VANISHED = """
create or replace temp table vanished as
with before as (
    select r.pos, k.kind, k.identity, k.key, min(k.sheet) as sheet, min(k.row) as row,
        bool_and(k.fate in ('faulty', 'conflict', 'question')) as held
    from resent r join known_part k on k.entry = r.entry
    where k.identity is not null and k.identity not in (select identity from taken_back)
    group by r.pos, k.kind, k.identity, k.key
), here as (
    select distinct pos, identity from part_read where pos in (select pos from resent)
), kept as (
    select distinct b.pos from before b join here h on h.pos = b.pos and h.identity = b.identity
), mended as (
    select distinct p.pos, p.sheet, p.row
    from part_read p left join before b on b.pos = p.pos and b.identity = p.identity
    where p.fate = 'entered' and b.identity is null and p.pos in (select pos from resent)
), reread as (
    select distinct pos, sheet, row from part_read where retaken and fate = 'entered'
), read_now as (  -- and a row that now says nothing at all, in a sheet of which others say something
    select distinct pos, sheet, row from part_read where retaken
)
select b.pos, b.kind, b.identity, b.key, b.row, b.held
from before b
left join here h on h.pos = b.pos and h.identity = b.identity
left join kept on kept.pos = b.pos
left join mended m on m.pos = b.pos and m.sheet = b.sheet and m.row = b.row
left join reread a on a.pos = b.pos and a.sheet = b.sheet and a.row = b.row
left join read_now n on n.pos = b.pos and n.sheet = b.sheet and n.row = b.row
left join (select distinct pos, sheet from read_now) o on o.pos = b.pos and o.sheet = b.sheet
where h.identity is null and (not b.held or m.row is null)
    and case when b.pos in (select pos from part_read where retaken) then a.row is not null or (o.sheet is not null and n.row is null)
        else kept.pos is not null end
"""


def write_segments(
    con: duckdb.DuckDBPyConnection, drop: Staged, at: int, folder: Path, keyless: Sequence[str], of_all: Outcome
) -> dict[str, tuple[Path, int]]:
    """The drop's segments by name (part, record, fault, asked, and one a kind): where they are now, and their rows.

    What was staged is a segment as it is, where nothing is judged otherwise; other segments are made in `folder`.
    """
    made: dict[str, tuple[Path, int]] = {}

    def copy(name: str, query: str) -> None:
        target = folder / f"{name}.parquet"
        con.execute(f"copy ({query}) to '{_sql(str(target))}' (format parquet, compression zstd)")
        made[name] = (target, rows_in(target))

    def as_staged(name: str, staged_as: str) -> None:
        made[name] = (drop.path(staged_as), rows_in(drop.path(staged_as)))

    here = f"(select * from judged where pos = {at})"
    plain = at not in of_all.otherwise and not set(keyless) & set(drop.kinds)
    if drop.parts:
        as_staged("record", "records")
    if plain:
        for name in drop.parts_files():
            as_staged(name, "parts" if name == "part" else name)
    elif drop.parts:
        told = f"""(select p.* replace (coalesce(j.fate, p.fate) as fate) from ({parts_of(at, drop, keyless)}) p
                left join {here} j on j.sheet = p.sheet and j.row = p.row and j.part = p.part)"""
        copy(
            "part",
            f"""select sheet, row, part, kind, fate, identity, key, content from {told}
                where fate in ('faulty', 'repeated') order by sheet, row, part""",
        )
        for kind in drop.kinds:
            copy(
                kind,
                f"""select k.* replace (p.fate as fate, p.identity as identity, p.key as key)
                    from {_file(drop.path(kind))} k join {told} p on p.sheet = k.sheet and p.row = k.row and p.part = k.part
                    where p.fate <> 'repeated' order by k.sheet, k.row, k.part""",
            )
    faults = [f"select * from {_file(drop.path('faults'))}"] if drop.has("faults") else []
    faults += [_held_reasons(here, drop.partner)] if at in of_all.otherwise else []
    if faults:
        copy("fault", f'select * from ({" union all ".join(faults)}) order by sheet, row, part, "column", code')
    if at in of_all.asked:
        copy(
            "asked",
            f"select kind, identity, key, row as row_before, held from vanished where pos = {at} order by kind, row, key",
        )
    return {name: (path, rows) for name, (path, rows) in made.items() if rows}


def _held_reasons(here: str, partner: str) -> str:
    """A fault line for every part of that partner's drop that is held as a conflict or a question."""

    def filled(text: str) -> str:
        return (
            "'"
            + _sql(text)
            .replace("{kind}", "' || kind || '")
            .replace("{key}", "' || coalesce(key, '') || '")
            .replace("{other}", "' || coalesce(other, '') || '")
            .replace("{ruling}", "' || coalesce(cast(r.entry as varchar), '') || '")
            .replace("{day}", "' || coalesce(e.day, '') || '")
            + "'"
        )

    whens = {"found": f" when why = 'ruled against' and own.identity is null then {filled(OTHERS_REFUSED)}"}
    whens |= {"wanted": "", "advice": ""}
    for why, texts in REASONS.items():
        for column, text in zip(whens, texts, strict=True):
            whens[column] += f" when why = '{why}' then {filled(text)}"
    cells = ", ".join(f"case {w} end as {c}" for c, w in whens.items())
    return (
        "select sheet, row, part, kind, '' as \"column\", '' as heading, why as code, "
        f"{cells} from {here} h left join ruled r on r.identity = h.identity left join entry e on e.number = r.entry "
        "left join (select identity, content, entry as since from told_before where partner = "
        f"'{_sql(partner)}') own on own.identity = h.identity and own.content = h.content and own.since < r.entry "
        "where fate in ('conflict', 'question')"
    )


def rows_in(path: Path) -> int:
    """How many rows a Parquet file says it has."""
    return int(pq.read_metadata(path).num_rows)


def _sql(text: str) -> str:
    return text.replace("'", "''")


def _file(path: Path) -> str:
    """The rows of a Parquet file, whatever the folders above it are called."""
    return f"read_parquet('{_sql(str(path))}', hive_partitioning=false)"
