"""What a file may ask of us, and what a mapping may say about it: each refusal is a sentence with a cure."""

import io

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from pipeline.errors import BadUsage
from pipeline.intake import limits, parquet, text, workbook
from pipeline.intake.mapping import parse_mapping
from pipeline.intake.read import Tally, Unreadable, open_sheets, rows


def refusal(path, data, tmp_path):
    """Why a file is refused, when it is opened or while it is read."""
    path.write_bytes(data)
    [sheet] = open_sheets(path, path.name)
    if sheet.unreadable:
        return sheet.unreadable
    try:
        list(rows(sheet, 1, len(sheet.head[0]), Tally(), tmp_path))
    except Unreadable as e:
        return str(e)
    return ""


def table(**columns):
    """The bytes of a Parquet file."""
    out = io.BytesIO()
    pq.write_table(pa.table(columns), out)
    return out.getvalue()


@pytest.mark.parametrize(
    ("data", "read_by"), [(b"a,b\n1,2\n3,4\n5,6\n", "quick"), (b"a,b\n1,2\n\n3,4\n5,6\n", "plain")]
)
def test_too_many_rows_of_text(tmp_path, monkeypatch, data, read_by):
    """More rows than are read make the file unreadable, whichever reader it is; a row fewer is fine."""
    count = data.count(b"\n")
    monkeypatch.setattr(limits, "MOST_ROWS", count)
    assert refusal(tmp_path / "f", data, tmp_path) == ""
    monkeypatch.setattr(limits, "MOST_ROWS", 2)
    assert "it has more than 2 rows; hand it in as several files" in refusal(tmp_path / "f", data, tmp_path)


def test_too_many_rows_of_parquet(tmp_path, monkeypatch):
    """Parquet says how many rows it has, so that none is read for that."""
    monkeypatch.setattr(limits, "MOST_ROWS", 2)
    assert "more than 2 rows" in refusal(tmp_path / "f", table(a=[1, 2, 3]), tmp_path)
    assert refusal(tmp_path / "f", table(a=[1, 2]), tmp_path) == ""


def test_a_row_group_that_unfolds(tmp_path, monkeypatch):
    """A Parquet column that would unfold to more than is read is refused by what the file says of itself."""
    monkeypatch.setattr(parquet, "COLUMN_CHUNK", 1 << 10)
    many = table(a=[f"x{n}" for n in range(5_000)])
    assert "write it with smaller row groups" in refusal(tmp_path / "f", many, tmp_path)


@pytest.mark.parametrize(
    ("module", "name", "data"),
    [
        (text, "MOST_BYTES", b"a,b\n1,2\n"),
        (parquet, "MOST_BYTES", table(a=[1])),
        (workbook, "WORKBOOK_BYTES", b"PK\x03\x04...."),
    ],
)
def test_too_big(tmp_path, monkeypatch, module, name, data):
    """A file of more bytes than are read is refused before a byte of it is read."""
    monkeypatch.setattr(module, name, 4)
    assert "MB are read" in refusal(tmp_path / "f", data, tmp_path)


@pytest.mark.parametrize("width", [1, 12, 100, 16_384, 1_000_000])
def test_batches_have_few_cells(width):
    """However wide a sheet is, no more than three million cells are handled at once, and at least one row."""
    assert limits.batch_rows(width) == 1 or limits.batch_rows(width) * width <= 3_000_000
    assert limits.batch_rows(width) >= 1


@pytest.mark.parametrize(
    ("said", "wanted"),
    [
        ('encoding = "utf-9"', "`encoding` is 'utf-9'"),
        ('encoding = "base64"', "`encoding` is 'base64'"),
        ('delimiter = ";;"', "one character is wanted"),
        ('quote = "ab"', "`quote` is 'ab'"),
        ('delimiter = ";"\nquote = ";"', "`quote` is ';'"),
        ('unit_row = "yes"', "true or false, without quotes"),
        ("sheets = 3", "a list of texts"),
    ],
)
def test_what_a_mapping_cannot_say(kinds, said, wanted):
    """A slip in what the mapping says of the file is told with its place and what is wanted."""
    with pytest.raises(BadUsage, match=r"partners/club.toml, \[\[sheet\]\] number 1") as e:
        parse_mapping(
            "club", f'[[sheet]]\n{said}\nkind = "visit"\n[sheet.columns]\nsite_key = "Site"\n'.encode(), kinds
        )
    assert wanted in str(e.value)


@pytest.mark.parametrize(
    ("data", "sentences"),
    [
        (b"a;b\n1,5;2\n", ["Encoding utf-8: every byte agrees with it.", "Cells parted by semicolon: semicolon makes the evenest"]),
        ("a\tb\né\t2\n".encode("cp1252"), ["Encoding Windows-1252: it is not UTF-8, and its letters make sense", "Cells parted by tab"]),
        (b"\xef\xbb\xbfsep=|\na|b\n1|2\n", ["a mark at its very start says so", "Cells parted by bar: its first line says so"]),
        (b"a^b\n1^2\n3^4\n", ["utf-8", "part every row alike"]),
        (table(a=[1]), ["Parquet: headings and types stand in the file."]),
    ],
)  # fmt: skip
def test_a_sheet_says_what_was_taken_and_why(tmp_path, data, sentences):
    """Whoever confirms a mapping is shown what was taken for granted about the file, and why."""
    (tmp_path / "f").write_bytes(data)
    [sheet] = open_sheets(tmp_path / "f", "f")
    assert len(sheet.why) == len(sentences)
    for why, part in zip(sheet.why, sentences, strict=True):
        assert part in why
