"""Reading: whatever bytes a partner hands in become rows of text with the numbers that its own program shows."""

# ruff: noqa: DTZ001 (times stand in tables without a zone: UTC, or as written)

import csv
import datetime as dt
import io
from decimal import Decimal
from unittest import mock

import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from pipeline.intake import tidy
from pipeline.intake.read import Tally, Unreadable, open_sheets, rows, rows_plain, rows_quick
from pipeline.intake.tidy import Untidy


@pytest.fixture(scope="module")
def read(tmp_path_factory):
    """Read bytes as a file: read(bytes, header_row) gives (rows as tuples, tally)."""
    folder = tmp_path_factory.mktemp("read")

    def reading(data, header_row=1, width=None):
        path = folder / "file"
        path.write_bytes(data)
        [sheet] = open_sheets(path, "file")
        assert not sheet.unreadable, sheet.unreadable
        tally = Tally()
        width = width or len(sheet.head[header_row - 1])
        tables = list(rows(sheet, header_row, width, tally, folder))
        return [tuple(r.values()) for t in tables for r in t.to_pylist()], tally

    return reading


@pytest.fixture(scope="module")
def refused(tmp_path_factory):
    """Why a file cannot be read."""
    folder = tmp_path_factory.mktemp("refused")

    def reading(data):
        path = folder / "file"
        path.write_bytes(data)
        [sheet] = open_sheets(path, "file")
        return sheet.unreadable

    return reading


def lines_of(tally):
    """(lines, furniture, blank, records), having seen that the sum holds."""
    assert tally.lines == tally.furniture + tally.blank + tally.records
    return tally.lines, tally.furniture, tally.blank, tally.records


# --- encodings, delimiters, line ends ------------------------------------------------------------------------

TABLE = "Ilha;n°\nPraia do Açúcar;3\nÉvora;4\n"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16", "utf-16-le", "utf-16-be"])
def test_encodings(read, encoding):
    """Letters with accents come out as written, whichever of the usual encodings the file is in."""
    mark = {"utf-16-le": b"\xff\xfe", "utf-16-be": b"\xfe\xff"}.get(encoding, b"")
    found, _ = read(mark + TABLE.encode(encoding))
    assert found == [(2, "Praia do Açúcar", "3"), (3, "Évora", "4")]


def test_euro_and_dash_of_windows(read):
    """The euro sign and the long dash of Windows-1252 are read, and a byte it does not define costs one cell only."""
    found, _ = read(b"a,b\n\x80 5 \x96 6,caf\xe9\nx\x81y,2\n")
    assert found == [(2, "€ 5 – 6", "café"), (3, "x\ufffdy", "2")]


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("last", [True, False])
def test_delimiters_and_line_ends(read, delimiter, end, last):
    """Comma, semicolon and tab, every line end, with or without one after the last row, give the same rows."""
    text = end.join(delimiter.join(row) for row in (["Mark", "Number"], ["CB-1", "3"], ["CB-2", "0"]))
    found, tally = read((text + (end if last else "")).encode())
    assert found == [(2, "CB-1", "3"), (3, "CB-2", "0")]
    assert lines_of(tally) == (3, 1, 0, 2)


def test_mixed_line_ends(read):
    """A file pasted together from two systems is read row by row."""
    found, tally = read(b"a,b\r\n1,2\n3,4\r5,6\r\n")
    assert found == [(2, "1", "2"), (3, "3", "4"), (4, "5", "6")]
    assert lines_of(tally) == (4, 1, 0, 3)


@pytest.mark.parametrize("row", ["1,2", '"1","2"'])
@pytest.mark.parametrize("table", ["Club\r\na,b\n{}\n3,4\n", "Club\na,b\r\n{}\r\n3,4\r\n", "Club\na,b\n{}\n3,4\r\n"])
def test_title_pasted_from_another_system(read, table, row):
    """A title line with another system's line end loses no row below it."""
    found, tally = read(table.format(row).encode(), header_row=2)
    assert found == [(3, "1", "2"), (4, "3", "4")]
    assert lines_of(tally) == (4, 2, 0, 2)


def test_delimiter_is_the_one_that_makes_a_table(read):
    """Decimal commas do not make a semicolon file a comma file, nor does a comma in the title."""
    found, _ = read(b"Dives, spring, 2025\nMark;Depth\nA;8,5\nB;9,0\nC;10,25\n", header_row=2, width=2)
    assert found == [(3, "A", "8,5"), (4, "B", "9,0"), (5, "C", "10,25")]


# --- row numbers ---------------------------------------------------------------------------------------------


def test_title_lines_count(read):
    """Title lines and blank lines above the headings are furniture, and rows keep their own numbers."""
    found, tally = read(b"Dive club\n\nSpring 2025\nMark,Number\nCB-1,3\n", header_row=4)
    assert found == [(5, "CB-1", "3")]
    assert lines_of(tally) == (5, 4, 0, 1)


def test_blank_rows_count(read):
    """Blank lines, rows of delimiters only and rows of spaces are counted as blank and shift no number."""
    found, tally = read(b"Mark,Number\nCB-1,3\n\n,\nCB-2,4\n  ,\t\n\nCB-3,5\n,\n")
    assert found == [(2, "CB-1", "3"), (5, "CB-2", "4"), (8, "CB-3", "5")]
    assert lines_of(tally) == (9, 1, 5, 3)


def test_rows_of_delimiters_alone_in_a_tidy_file(read):
    """Empty rows that a spreadsheet saves below its table are blank also when the file is otherwise tidy."""
    found, tally = read(b"Mark,Number\nCB-1,3\n,\n,\n")
    assert found == [(2, "CB-1", "3")]
    assert lines_of(tally) == (4, 1, 2, 1)


@pytest.mark.parametrize("inner", ["\n", "\r\n", "\n\n", "\r"])
@pytest.mark.parametrize("encoding", ["utf-8", "cp1252"])
def test_line_breaks_in_a_cell(read, inner, encoding):
    """A quoted cell with line breaks is one row, as in a spreadsheet, and comes out as it was written."""
    found, tally = read(f'Mark,Note\r\nA,"café{inner}late"\r\nB,x\r\n'.encode(encoding))
    assert found == [(2, "A", f"café{inner}late"), (3, "B", "x")]
    assert lines_of(tally) == (3, 1, 0, 2)


def test_line_breaks_in_a_heading(read):
    """A heading with a line break is one row of the sheet."""
    found, tally = read(b'"Mark\nof bag",Number\nCB-1,3\n')
    assert found == [(2, "CB-1", "3")]
    assert lines_of(tally) == (2, 1, 0, 1)


def test_short_and_long_rows(read):
    """A short row ends in blanks; a row with more filled cells than headings is named, one with empty ones is not."""
    found, tally = read(b"a,b\n1\n2,x,y\n3,z,\n")
    assert found == [(2, "1", ""), (3, "2", "x"), (4, "3", "z")]
    assert tally.too_long == [3]
    assert lines_of(tally) == (4, 1, 0, 3)


@pytest.mark.parametrize("block", [tidy.BLOCK, 1000])
def test_one_ragged_line_among_many(read, block, monkeypatch):
    """One ragged line near the end of a long tidy file moves no row and loses none, whether all before it is read at once."""
    monkeypatch.setattr(tidy, "BLOCK", block)
    many = [f"m{i},{i}" for i in range(2, 3000)]
    many[2500] += ",extra"
    found, tally = read("\n".join(["Mark,Number", *many]).encode())
    assert found == [(i, f"m{i}", str(i)) for i in range(2, 3000)]
    assert tally.too_long == [2502]


def test_quotes(read):
    """Doubled quotation marks are one; a mark inside an unquoted cell, as for inches, stays."""
    found, _ = read(b'a,b\n"say ""hi""",1\n5" pipe,2\n')
    assert found == [(2, 'say "hi"', "1"), (3, '5" pipe', "2")]


def test_nul(read):
    """Zero bytes, left by a broken copy, are dropped and nothing else is."""
    found, tally = read(b"a,b\n1,2\0\n3,4\n")
    assert found == [(2, "1", "2"), (3, "3", "4")]
    assert lines_of(tally) == (3, 1, 0, 2)


def test_headings_alone(read):
    """A sheet that was never filled in has one line of furniture and no record."""
    found, tally = read(b"Mark,Number\n")
    assert found == []
    assert lines_of(tally) == (1, 1, 0, 0)


# --- what cannot be read -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "the file is empty"),
        (b"\xef\xbb\xbf", "the file is empty"),
        (b"\n\n \n", "the file is empty"),
        (b"\0\0", "the file is empty"),
        (b"PK\x03\x04rest", "a damaged workbook or archive"),
        (b"\xd0\xcf\x11\xe0rest", "no workbook that can be opened, or it is damaged"),
        (b'a,b\n1,"x\n2,y\n', "quotation mark is opened and never closed"),
        (b"PAR1 but no more", "not a parquet file"),
    ],
)
def test_unreadable_files_say_why(refused, data, says):
    """A file that cannot be read comes back with a plain reason and never as an error of the program."""
    assert says in refused(data)


def test_quote_left_open_far_down(empty):
    """A quotation mark left open after many good rows makes the whole file unreadable: half a file never enters."""
    table = "site_key,name\n" + "".join(f"S{i},x\n" for i in range(60)) + '"S,x\nT,y\n'
    [entry] = empty.take({"programme/site.csv": table.encode()})
    assert entry.unreadable.startswith("The file cannot be read to its end")
    assert entry.receipt.lines == entry.receipt.parts == 0
    assert entry.segments == ()


@pytest.mark.parametrize(
    "data", [b"\n\n", b"\xef\xbb\xbf", b"\0", b"x", b",", b'"', b"\xff", b"\xff\xfe", b"PK", b"PAR1"]
)
def test_no_bytes_stop_a_take_in(empty, data):
    """Any little heap of bytes is taken in as a drop of its own, with sums that hold."""
    [entry] = empty.take({"club/odd.csv": data})
    assert entry.receipt.holds()
    assert entry.receipt.entered == 0


# --- Parquet -------------------------------------------------------------------------------------------------


def parquet(table):
    """A table as the bytes of a Parquet file."""
    out = io.BytesIO()
    pq.write_table(table, out)
    return out.getvalue()


def test_parquet_cells_are_written_our_way(read):
    """Typed cells come as our own text: days, points, yes and no, nulls blank; the first record is row 1."""
    table = pa.table(
        {
            "text": ["a", None],
            "whole": pa.array([3, None], pa.int32()),
            "decimal": pa.array([Decimal("8.50"), None], pa.decimal128(9, 2)),
            "float": [0.25, None],
            "day": [dt.date(2025, 4, 18), None],
            "yes": [True, None],
            "code": pa.array(["x", None]).dictionary_encode(),
            "none": pa.nulls(2),
        }
    )
    found, tally = read(parquet(table))
    assert found == [(1, "a", "3", "8.50", "0.25", "2025-04-18", "true", "x", "")]
    assert lines_of(tally) == (2, 0, 1, 1)


@pytest.mark.parametrize(
    ("type_", "text"),
    [
        (pa.timestamp("s"), "2025-04-18 09:30:00"),
        (pa.timestamp("us"), "2025-04-18 09:30:00"),
        (pa.timestamp("ns"), "2025-04-18 09:30:00"),
        (pa.timestamp("us", "UTC"), "2025-04-18 09:30:00+00"),
        (pa.timestamp("ns", "Asia/Tokyo"), "2025-04-18 09:30:00+00"),
    ],
)
def test_parquet_times_keep_their_zone(read, type_, text):
    """A time without a zone stays without one; an instant is written in UTC with its offset."""
    table = pa.table({"a": ["x"], "at": pa.array([dt.datetime(2025, 4, 18, 9, 30)], pa.timestamp("us")).cast(type_)})
    found, _ = read(parquet(table))
    assert found == [(1, "x", text)]


def test_parquet_columns_go_by_place(read):
    """Two columns whose names differ in case only, or not at all, are two columns."""
    table = pa.Table.from_arrays([pa.array(["1"]), pa.array(["2"]), pa.array(["3"])], names=["site", "Site", "site"])
    found, _ = read(parquet(table))
    assert found == [(1, "1", "2", "3")]


def test_parquet_in_batches(read):
    """Rows are numbered on through row groups and batches."""
    out = io.BytesIO()
    pq.write_table(pa.table({"n": [str(i) for i in range(1, 120_001)]}), out, row_group_size=50_000)
    found, tally = read(out.getvalue())
    assert [r for r in found if r[0] != int(r[1])] == []
    assert lines_of(tally) == (120_000, 0, 0, 120_000)


@pytest.fixture(scope="module")
def harmed(new_programme):
    """A programme that takes harmed Parquet files one after another."""
    return new_programme(sea=False)


@settings(max_examples=25)
@given(at=st.floats(0, 1, exclude_max=True), cut=st.booleans(), byte=st.integers(0, 255))
def test_harmed_parquet_never_stops_a_take_in(harmed, at, cut, byte):
    """A Parquet file with a byte changed or its end cut off is read or held, and told plainly where it cannot be read."""
    n = 300
    table = pa.table(
        {
            "unit_key": [f"B{i}" for i in range(n)],
            "state": ["absent"] * n,
            "site_key": ["CB"] * n,
            "happened": [dt.date(2025, 3, 1)] * n,
        }
    )
    data = bytearray(parquet(table))
    place = int(at * len(data))
    data[place] = byte
    told = harmed.take({"club/check.parquet": bytes(data[:place] if cut else data)})
    for entry in told:
        assert entry.receipt.holds()
        if cut and place < len(
            "PAR1"
        ):  # what is left no longer begins as Parquet: a text of one line, which are headings
            assert entry.unreadable or (entry.receipt.lines, entry.receipt.furniture) == (1, 1)
        else:
            assert entry.unreadable or entry.receipt.records
    assert harmed.ledger.last_number() == len(harmed.ledger.entries())


# --- the two readers -----------------------------------------------------------------------------------------

CELL = st.text(st.sampled_from([*"ab1é,;\t\"' .", "\n", "\r", "\u00a0", "€"]), max_size=5)


def twins(folder, data, header_row, block=tidy.BLOCK):
    """What the quick reader makes of a file, None where it declines at once, and as many rows of the plain one's.

    All of these where the quick one does not meet a row that it leaves to the other. block: bytes that it parses at once.
    """
    path = folder / "file"
    path.write_bytes(data)
    [sheet] = open_sheets(path, "file")
    if sheet.unreadable or len(sheet.head) < header_row:
        return None, None
    width = len(sheet.head[header_row - 1])

    def told(tables):
        return [tuple(r.values()) for t in tables for r in t.to_pylist()]

    with mock.patch.object(tidy, "BLOCK", block):
        quick = rows_quick(sheet, header_row, width, folder)
        found, whole = [], quick is not None
        try:
            for table in quick or ():
                found += told([table])
        except Untidy:
            whole = False
    try:
        plain = told(rows_plain(sheet, header_row, width, Tally()))
    except Unreadable as e:
        plain = [str(e)]
    return None if quick is None else found, plain if whole else plain[: len(found)]


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A folder that examples may share."""
    return tmp_path_factory.mktemp("twins")


BLOCKS = st.sampled_from([tidy.BLOCK, 8, 24])


@given(
    table=st.integers(1, 3).flatmap(lambda w: st.lists(st.lists(CELL, min_size=w, max_size=w), min_size=1, max_size=5)),
    delimiter=st.sampled_from(",;\t|^:~"),
    end=st.sampled_from(["\n", "\r\n", "\r"]),
    quoting=st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL]),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "cp1252", "utf-16", "utf-16-le"]),
    header_row=st.integers(1, 2),
    block=BLOCKS,
)
def test_twins_agree_on_written_tables(folder, table, delimiter, end, quoting, encoding, header_row, block):
    """For any table of texts, the quick reader gives what the plain one gives, or declines."""
    text = io.StringIO(newline="")
    csv.writer(text, delimiter=delimiter, lineterminator=end, quoting=quoting).writerows(table)
    quick, plain = twins(folder, text.getvalue().encode(encoding), header_row, block)
    assert quick is None or quick == plain


@given(
    text=st.lists(st.sampled_from([*"a1,;\t\"' ", "\n", "\r\n", "\r", "é", "\0"]), max_size=30).map("".join),
    block=BLOCKS,
)
@example('a,b\n 1, "x"\n', tidy.BLOCK)
@example('a,b\n"x" ,1\n', tidy.BLOCK)
@example('a,b\n"x"y,1\n', tidy.BLOCK)
@example('a,b\n""x,1\n', tidy.BLOCK)
@example("a,b\n1,2\n   ", tidy.BLOCK)
def test_twins_agree_on_any_text(folder, text, block):
    """For any text at all, tidy or torn, the quick reader gives what the plain one gives, or declines."""
    quick, plain = twins(folder, text.encode(), 1, block)
    assert quick is None or quick == plain


@pytest.mark.parametrize("letters", [1_100_000, 4_300_000])
def test_a_line_that_is_far_too_long_is_left_to_the_plain_reader(read, letters):
    """A tidy file with a cell of over a million letters far down is refused as a torn one is, and not read in part."""
    rows = "".join(f"m{i},{'x' * letters if i == 60 else i}\n" for i in range(2, 100))
    with pytest.raises(Unreadable, match="longer than"):
        read(f"Mark,Number\n{rows}".encode())


def test_quick_reader_is_used(folder):
    """A tidy file is read by the quick reader, so that the twins above compare two things."""
    quick, plain = twins(folder, b"a,b\n1,2\n", 1)
    assert quick == plain == [(2, "1", "2")]
