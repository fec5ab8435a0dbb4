"""A drop's rows as they were read, in both of the forms in which they are stored."""

import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.intake.read import encoded
from pipeline.intake.text import table_of
from pipeline.ledger import records
from pipeline.ledger.staging import Staged

CELL = st.text("a ,é\x1f", max_size=3)
SHEET = st.integers(1, 4).flatmap(
    lambda width: st.lists(st.lists(CELL, min_size=width, max_size=width), min_size=1, max_size=4)
)


@pytest.mark.parametrize("most, form", [(0, records.AS_LIST), (500, records.AS_COLUMNS)])
@given(sheets=st.lists(SHEET, min_size=1, max_size=3), data=st.data())
def test_rows_come_back_as_they_were_read(sheets, data, most, form, tmp_path_factory):
    """Rows of sheets of unlike width come back cell by cell, blank cells at a row's end too, all of a sheet's or those asked for, in
    either form."""
    drop = Staged(
        tmp_path_factory.mktemp("drop"), "club", "0" * 64, 1, "a.xlsx", "1" * 64, width=max(len(s[0]) for s in sheets)
    )
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(records, "MOST_COLUMNS", most)
        for n, sheet in enumerate(sheets):
            drop.write_records(
                f"sheet {n}", encoded(table_of(list(range(2, len(sheet) + 2)), sheet, len(sheet[0]))), len(sheet[0])
            )
        assert drop.version("record") == form
    drop.close()
    for n, sheet in enumerate(sheets):
        every = dict(enumerate(sheet, 2))
        wanted = data.draw(st.sets(st.sampled_from(sorted(every))))
        assert records.rows_of(drop.path("records"), f"sheet {n}") == every
        assert records.rows_of(drop.path("records"), f"sheet {n}", wanted) == {r: every[r] for r in wanted}


def test_a_very_wide_sheet_keeps_its_cells_as_a_list(empty):
    """A sheet of more columns than are worth one each is stored as lists, and its letter gives the cells back all the same."""
    wide = [f"heading {n}" for n in range(records.MOST_COLUMNS + 1)]
    text = "\n".join(",".join(row) for row in (wide, [f"{n}" for n in range(len(wide))]))
    [wider, narrow] = empty.take({"club/wide.csv": text.encode(), "club/z.csv": b"What,Who\nkelp,mb\n"})
    if len(wider.sheets[0].header) == 2:
        wider, narrow = narrow, wider
    assert [e.segment("record").version for e in (wider, narrow)] == [1, 2]
    cells = records.rows_of(empty.ledger.segment_path(wider.segment("record")), "")
    assert cells == {2: [f"{n}" for n in range(len(wide))]}
    told = pq.read_table(empty.ledger.segment_path(narrow.segment("record")))
    assert told.equals(pa.table({"sheet": [""], "row": [2], "c0": ["kelp"], "c1": ["mb"]}))


def test_rows_of_a_narrow_sheet_do_not_cost_the_width_of_another(tmp_path, monkeypatch):
    """Of a sheet's rows only its own columns and rows are read, however wide and long the others are."""
    drop = Staged(tmp_path, "club", "0" * 64, 1, "a.xlsx", "1" * 64, width=300)
    for name, width in (("narrow", 3), ("wide", 300)):
        cells = {f"c{i}": pa.array(["x"] * 5) for i in range(width)}
        drop.write_records(name, encoded(pa.table({"row": pa.array(range(2, 7)), **cells})), width)
    drop.close()
    seen, read = [], pq.read_table

    def watched(*args, **kwargs):
        seen.append(read(*args, **kwargs))
        return seen[-1]

    monkeypatch.setattr(records.pq, "read_table", watched)
    assert records.rows_of(tmp_path / "records.parquet", "narrow") == {n: ["x"] * 3 for n in range(2, 7)}
    assert {t.num_rows for t in seen} == {5}
