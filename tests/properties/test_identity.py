"""Hashes of keys and contents: the quick way to the text is the plain one's twin."""

from decimal import Decimal

import duckdb
import pyarrow as pa
from hypothesis import given
from hypothesis import strategies as st
from profiles import examples

from pipeline.ledger.hashing import contents_of, identities_of
from pipeline.ledger.identity import content_text_sql, identity_sql, key_sql
from pipeline.ledger.records import TEXTS
from pipeline.parts import FIRST_DAY, full_columns, said_once
from schemas.kinds import all_kinds

KIND = all_kinds()["survey"]
CELL = st.one_of(st.none(), st.text("ab |\x1f =é", max_size=4))
NAMES = ["visit_key", "plot_key", "frame_key", "species", "stage", "plant_no"]
NUMBERS = ["area_m2", "count", "happened"]


@examples(60)
@given(
    st.lists(st.tuples(*[CELL] * 5, st.one_of(st.none(), st.integers(0, 99))), min_size=1, max_size=4)
    | st.lists(st.tuples(*[st.sampled_from(["a", "b é", "", "c ", "d|"])] * 5, st.none()), min_size=1, max_size=2)
    | st.lists(st.tuples(*[st.sampled_from(["a", "b é"])] * 5, st.integers(0, 99)), min_size=1, max_size=3)
)
def test_the_quick_way_gives_the_same_hashes(rows):
    """A column that is filled in every row and holds no mark is joined with less work, to the very same key, content and
    identity; and hashes are those of DuckDB, which are the standard's."""
    columns = zip(*rows, strict=True)
    table = pa.table(
        {n: pa.array(c, pa.int64() if n == "plant_no" else pa.string()) for n, c in zip(NAMES, columns, strict=True)}
    )

    def named(full, blank=(), said=()):
        told = f"select {key_sql(KIND, full, blank)} as key, {content_text_sql(NAMES, full, said)} as content from read"
        identity = identity_sql("survey", False, "'club'", "key")
        with duckdb.connect() as con:
            con.register("read", read)
            texts = con.sql(told).to_arrow_table()
            hashed = con.sql(f"select {identity}, left(sha256(content), 32), key from ({told})").fetchall()
        quick = identities_of("survey", "club", texts.column("key")), contents_of(texts.column("content"))
        assert list(zip(*(q.to_pylist() for q in quick), strict=True)) == [h[:2] for h in hashed]
        return hashed

    blank, full = [n for n in NAMES if table.column(n).null_count == len(rows)], full_columns(table, NAMES)
    coded = [c.cast(TEXTS) if c.type == pa.string() else c for c in table.columns]
    read, said = said_once(pa.table(coded, NAMES), full)
    assert full_columns(read, NAMES) == full
    assert named(full, blank) == named(full, blank, said) == named(())


@examples(100)
@given(
    st.lists(st.tuples(st.integers(-(2**63), 2**63 - 1), st.integers(-(10**18) + 1, 10**18 - 1), st.integers(-900_000, 3_000_000)),
             min_size=1, max_size=3),
    st.sampled_from([0, 2, 6, 7]),
)  # fmt: skip
def test_numbers_and_days_that_are_said_once_are_said_as_duckdb_says_them(few, places):
    """Whole numbers, decimals and days of which there are few are said once, in the words in which DuckDB says each: what Arrow would say
    otherwise (small numbers of seven places, days before our era) is left to DuckDB."""
    whole, decimals, days = zip(*few, strict=True)
    scaled = [Decimal(n).scaleb(-places) for n in decimals]
    rows = pa.table({
        "area_m2": pa.array(scaled * 9, pa.decimal128(18, places)), "count": pa.array(whole * 9, pa.int64()),
        "happened": pa.array(days * 9, pa.int32()).view(pa.date32()),
    })  # fmt: skip
    read, said = said_once(rows, NUMBERS)
    assert said == [
        n for n in NUMBERS if (n != "area_m2" or places < 7) and (n != "happened" or min(days) >= FIRST_DAY)
    ]
    with duckdb.connect() as con:
        con.register("read", read)
        quick, slow = (con.sql(f"select {content_text_sql(NUMBERS, full, told)} from read").fetchall()
                       for full, told in ((NUMBERS, said), ((), ())))  # fmt: skip
    assert quick == slow


def test_marks_are_seen():
    """A cell with a mark, a blank at its end, or none at all, keeps its column from the quick way; others take it."""
    table = pa.table(
        {
            "a": ["x", "y"],
            "b": ["x|", "y"],
            "c": ["x", None],
            "d": ["\x1f", "y"],
            "e": [1, 2],
            "f": ["x", "y "],
            "g": ["", "y"],
        }
    )
    assert full_columns(table, ["a", "b", "c", "d", "e", "f", "g"]) == ["a", "e"]
