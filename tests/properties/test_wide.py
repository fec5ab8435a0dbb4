"""Wide to long: every cell arrives once, and the order of columns makes no difference to what is said."""

import tempfile
from pathlib import Path

import pyarrow.parquet as pq
from hypothesis import example, given
from hypothesis import strategies as st
from profiles import examples

from pipeline.apart import read_drop
from pipeline.intake.names import Names
from pipeline.ledger.staging import Staged

MAPPING = """
[[sheet]]
kind = "survey"
[sheet.columns]
happened = ["Year", "Month", "Day"]
site_key = "Site"
plot_key = "Plot"
frame_key = "Quadrat"
remarks = "Notes"
[sheet.fixed]
frame_type = "quadrat"
placement = "random"
protocol = "frames"
[sheet.wide]
heading = "species"
cell = "count"
blank = "{blank}"
"""
KEYS = ["Year", "Month", "Day", "Site", "Plot", "Quadrat", "Notes"]
CELL = st.one_of(st.just(""), st.integers(0, 99).map(str))


@st.composite
def sheets(draw):
    """(headings, rows, the same columns in another order)."""
    species = draw(
        st.lists(st.text("abcdefgh", min_size=1, max_size=4).map(str.title), min_size=1, max_size=9, unique=True)
    )
    headings = [*KEYS, *(f"Kelp {s}" for s in species)]
    rows = [
        ["2025", "6", "1", "CB", "T1", str(n), f"n{n}", *draw(st.lists(CELL, min_size=len(species), max_size=len(species)))]
        for n in range(draw(st.integers(1, 6)))
    ]  # fmt: skip
    return headings, rows, draw(st.permutations(range(len(headings))))


def staged(headings, rows, blank):
    """What is read of a sheet: good parts as (identity, content), their places, and (frame, species, count)."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "wide.csv"
        path.write_text("\n".join(",".join(r) for r in [headings, *rows]) + "\n", encoding="utf-8")
        (scratch := Path(folder) / "s").mkdir()
        done = read_drop(
            path,
            Staged(scratch, "club", "", 1, "wide.csv", ""),
            MAPPING.replace("{blank}", blank).encode(),
            "UTC",
            Names(),
        )
        assert done.lines == done.furniture + done.blank + done.records
        if not done.has("survey"):
            return set(), [], []
        table = pq.read_table(done.path("survey")).to_pylist()
    said = {(r["identity"], r["content"]) for r in table}
    return said, [(r["row"], r["part"]) for r in table], [(r["frame_key"], r["species"], r["count"]) for r in table]


@examples(12)
@given(sheets(), st.sampled_from(["not written", "zero", "zero beside others", "not counted"]))
@example(
    (
        ["Year", "Month", "Day", "Site", "Plot", "Quadrat", "Notes", "Kelp A"],
        [["2025", "6", "1", "CB", "T1", "0", "", ""]],
        range(8),
    ),
    "zero",
)
def test_every_cell_arrives_once_in_any_order(sheet, blank):
    """Every written cell is one part with its own value and place; blanks are what the mapping says; order is no matter."""
    headings, rows, order = sheet
    said, places, cells = staged(headings, rows, blank)
    wanted = {}
    for n, row in enumerate(rows):
        written = any(row[len(KEYS) :])
        for heading, cell in zip(headings[len(KEYS) :], row[len(KEYS) :], strict=True):
            if cell or blank == "not counted":
                wanted[str(n), heading] = int(cell) if cell else None
            elif blank == "zero" or (blank == "zero beside others" and written):
                wanted[str(n), heading] = 0
    assert len(places) == len(set(places))
    assert {(frame, species): count for frame, species, count in cells} == wanted
    assert len(cells) == len(wanted)
    turned = staged([headings[i] for i in order], [[r[i] for i in order] for r in rows], blank)
    assert turned[0] == said
