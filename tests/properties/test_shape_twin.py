"""Rows that pandera is not shown, because none of their cells can be at fault, against pandera shown every row."""

# ruff: noqa: DTZ001 (times stand in tables without a zone: UTC)

import datetime as dt
from decimal import Decimal
from unittest.mock import patch

import polars as pl
import pyarrow as pa
from hypothesis import given
from hypothesis import strategies as st
from profiles import examples

from pipeline.check import shape
from schemas.kinds import all_kinds

KINDS = all_kinds()
TYPES = {
    "text": pa.string(),
    "whole": pa.int64(),
    "day": pa.date32(),
    "instant": pa.timestamp("us"),
    "yesno": pa.bool_(),
}
CELLS = {
    "text": ["", "x", "two\nlines", "y" * 80, "z" * 81, "PT", "EUR", "EPSG:4326", "Laminaria hyperborea"],
    "whole": [-1, 0, 1, 2, 99, 101, 2_000_000],
    "decimal": [Decimal(n) for n in ("-200", "0", "0.25", "1", "-5.5", "46", "91", "181", "30000000")],
    "day": [dt.date(1949, 12, 31), dt.date(2025, 4, 18), dt.date(2025, 4, 19), dt.date(2100, 12, 31), dt.date(2101, 1, 1)],
    "instant": [dt.datetime(2025, 4, 18, 9), dt.datetime(2025, 4, 18, 10)],
    "yesno": [True, False],
}  # fmt: skip


WRITTEN = {"country": "PT", "datum": "EPSG:4326", "currency": "EUR"}


@st.composite
def typed_rows(draw):
    """A kind and rows of it, most of whose cells are good; a few columns go to the edges of what is allowed and beyond."""
    kind = KINDS[draw(st.sampled_from(sorted(KINDS)))]
    rows = draw(st.integers(1, 8))
    odd = draw(st.sets(st.sampled_from([c.name for c in kind.columns]), max_size=2))
    columns = {"row": pa.array(range(2, rows + 2), pa.int64())}
    for c in kind.columns:
        usual = c.allowed[:2] or [WRITTEN.get(c.name, "x")] if c.type == "text" else CELLS[c.type][1:4]
        pool = CELLS[c.type] + [None] if c.name in odd else list(usual) + [None] * (not c.required)
        cells = draw(st.lists(st.sampled_from(pool), min_size=rows, max_size=rows))
        column = pa.array(cells, TYPES.get(c.type) or pa.decimal128(18, c.places))
        coded = c.type == "text" and draw(st.booleans())
        columns[c.name] = column.dictionary_encode() if coded else column
    return kind, pa.table(columns)


@examples(150)
@given(typed_rows())
def test_the_same_faults(drawn):
    """Every fault that pandera finds when it is shown every row is found, in the same order, and no other."""
    kind, typed = drawn

    def faults():
        return shape.check_shape(typed, kind, {c.name: c.name for c in kind.columns}, "", 1, set())

    quick = faults()
    with patch.object(shape, "suspects", lambda rows, *_: pl.repeat(True, rows.num_rows, eager=True)):
        assert quick == faults()


def test_a_good_row_is_no_suspect():
    """A row whose every cell is allowed is not shown to pandera: otherwise nothing would be won."""
    kind = KINDS["visit"]
    cells = {"visit_key": "D1", "site_key": "A", "happened": dt.date(2025, 4, 18), "outcome": "found"}
    frame = pl.DataFrame(
        {c.name: [cells.get(c.name)] for c in kind.columns}, {n: s.dtype.type for n, s in kind.schema.columns.items()}
    )
    assert shape.suspects(frame.to_arrow(), kind, set(cells)).to_list() == [False]
