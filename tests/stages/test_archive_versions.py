"""What stays the same between exports, and what is said of what does not."""

import csv
import datetime as dt
import hashlib
import io
import json
import shutil

import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from archived import SEA, fill
from archives import every_byte, member
from hypothesis import given
from hypothesis import strategies as st

from pipeline import run
from pipeline.archive import versions
from pipeline.archive.pack import write_csv
from pipeline.archiving import make_archive
from pipeline.care import backup, restore
from pipeline.errors import BadUsage

TODAY = dt.date(2026, 1, 1)
HEADER = SEA["club/survey.csv"].strip().splitlines()[0]


@pytest.fixture(scope="module")
def exports(new_programme):
    """Three exports: the first, the same again, and one after a correction, a withdrawal and a new row."""
    programme = new_programme(sea=False)
    folder = fill(programme)
    first = every_byte(folder)
    again = run.archive(programme.root)
    second = every_byte(folder)
    programme.take({
        "club/survey-late.csv": HEADER + """
        V1   CB   C1   1   quadrat   random   0.25   frames   Saccharina latissima   juvenile   2   .   2025-04-01   mb   .   .
        V1   CB   C1   2   quadrat   random   0.25   frames   Laminaria hyperborea   juvenile   6   .   2025-04-01   mb   .   .
        """,
        "club/withdrawal.csv": """
        withdraws_kind   withdraws_key                                        reason       happened
        survey           V1 | R1 | 3 | Ecklonia radiata | juvenile            misread      2025-04-03
        """,
    })  # fmt: skip
    return programme, folder, first, again, second, run.archive(programme.root), every_byte(folder)


def ids(files):
    """Occurrences of an export: identifier -> (species, count)."""
    told = csv.DictReader(io.StringIO(files["tables/occurrence.csv"].decode()))
    return {
        o["occurrenceID"]: (o["scientificName"], o["individualCount"])
        for o in told
        if o["occurrenceStatus"] == "present"
    }


def test_a_second_export_is_the_same_to_the_byte(exports):
    """The same ledger gives the same bytes, every file of them, and says that nothing changed."""
    _, _, first, again, second, _, _ = exports
    assert first == second
    assert (again.version, again.added, again.changed, again.deleted) == (1, 0, 0, 0)


def test_an_amendment_keeps_its_identifier(exports):
    """The corrected count stands under the identifier it had; what was withdrawn is gone; what is new has one of its own."""
    _, _, first, _, _, _, third = exports
    before, after = ids(first), ids(third)
    assert [after[k] for k in before.keys() & after.keys() if before[k] != after[k]] == [("Saccharina latissima", "2")]
    assert [before[k] for k in before.keys() - after.keys()] == [("Ecklonia radiata", "4")]
    assert [after[k] for k in after.keys() - before.keys()] == [("Laminaria hyperborea", "6")]


def test_a_later_export_says_what_changed(exports):
    """The version rises by one; changes.csv names each record that was added, changed or deleted, and the EML its version."""
    _, folder, _, _, _, done, third = exports
    assert done.version == 2 and done.added and done.changed and done.deleted
    told = [line.split(",") for line in third["changes.csv"].decode().splitlines()[1:]]
    assert {line[0] for line in told} == {"2"} and len(told) == done.added + done.changed + done.deleted
    occurrences = {(what, key.split(":")[1]) for _, what, table, key in told if table == "occurrence"}
    assert occurrences >= {("added", "survey"), ("changed", "survey"), ("deleted", "survey")}
    assert b'packageId="drawn/v2"' in member(folder, "eml.xml")
    assert json.loads((folder / "about.json").read_text())["digest"].encode() in member(folder, "eml.xml")


def batches(rows, at_once=2):
    """Rows in order, a few at a time, as a version's come."""
    told = pa.Table.from_pylist([dict(zip(versions.ROWS.names, r, strict=True)) for r in sorted(rows)], versions.ROWS)
    return told.to_batches(at_once)


def written(number, rows):
    """The file of a version of these rows."""
    made, file = io.BytesIO(), io.BytesIO()
    versions.write_rows(batches(rows), made)
    version = versions.Version(number, versions.digest_of(batches(rows)), io.BytesIO(made.getvalue()))
    versions.write_version(version, file)
    return file.getvalue()


def test_the_digest_is_of_the_rows_alone():
    """The same rows give the same digest however many come at once, that of all of them joined; one other letter another."""
    known = [("event", f"k:{n}", str(n)) for n in range(50)]
    told = "\n".join("\x1f".join(row) for row in sorted(known))
    assert {versions.digest_of(batches(known, n)) for n in (1, 7, 50)} == {hashlib.sha256(told.encode()).hexdigest()}
    assert versions.digest_of(batches([*known[1:], ("event", "k:0", "8")])) != versions.digest_of(batches(known))


def test_a_row_is_a_line_whatever_is_in_it():
    """Commas, quotation marks and the line separators of other writing systems part neither rows nor cells; the line is what is hashed."""
    told, text = pa.table({"said": ["one\u2028two\x85three", None], "id": ['a,"b', "null"]}), io.BytesIO()
    write_csv(told.to_batches(), told.schema, text)
    rows = [row for b in versions.rows_of("t", io.BytesIO(text.getvalue()), "id") for row in b.to_pylist()]
    assert [(r["table"], r["id"]) for r in rows] == [("t", 'a,"b'), ("t", "null")]
    lines = text.getvalue().split(b"\n")[1:3]
    assert [r["digest"] for r in rows] == [hashlib.sha256(line).hexdigest()[:32] for line in lines]


def test_a_table_without_rows_tells_none():
    """Headings alone are a table of no rows."""
    told, text = pa.table({"id": pa.array([], pa.string()), "said": pa.array([], pa.string())}), io.BytesIO()
    assert write_csv(told.to_batches(), told.schema, text) == 0
    assert list(versions.rows_of("t", io.BytesIO(text.getvalue()), "id")) == []


def test_a_long_text_is_read_in_blocks(monkeypatch):
    """However much is read at once, the rows are the same."""
    told, text = pa.table({"id": [f"k:{n:03}" for n in range(99)], "said": ["x"] * 99}), io.BytesIO()
    write_csv(told.to_batches(), told.schema, text)

    def rows():
        return [r for b in versions.rows_of("t", io.BytesIO(text.getvalue()), "id") for r in b.to_pylist()]

    whole = rows()
    monkeypatch.setattr(versions, "_BLOCK", 50)
    assert rows() == whole and len(whole) == 99


@given(
    st.dictionaries(st.sampled_from("abcdef"), st.sampled_from("12")),
    st.dictionaries(st.sampled_from("abcdef"), st.sampled_from("12")),
)
def test_what_changed_is_what_two_dictionaries_differ_in(before, now):
    """Two versions gone through side by side tell what their rows, held as dictionaries, would tell."""
    told = set(versions.difference(*(batches([("t", key, d) for key, d in known.items()]) for known in (before, now))))
    assert told == {
        *(("added", "t", k) for k in now.keys() - before.keys()),
        *(("deleted", "t", k) for k in before.keys() - now.keys()),
        *(("changed", "t", k) for k in now.keys() & before.keys() if now[k] != before[k]),
    }


def test_the_first_version_lists_nothing(exports):
    """All of it is new: changes.csv has its headings alone."""
    assert exports[2]["changes.csv"] == b"version,what,table,id\n"


def test_a_version_is_read_as_it_was_written(monkeypatch):
    """A kept version comes back whole, however its rows are grouped; a file that is none, or is cut off, is no version."""
    rows = [("event", "k:1", "a"), *(("occurrence", f"k:{n}", "b") for n in range(5))]
    for group in (2, 100):
        monkeypatch.setattr(versions, "GROUP", group)
        read = versions.read_version(io.BytesIO(written(4, rows)))
        assert (read.number, read.digest) == (4, versions.digest_of(batches(rows)))
        assert [tuple(r.values()) for batch in read.rows(3) for r in batch.to_pylist()] == rows
    for data in (b"no parquet", written(4, rows)[:-9], b""):
        assert versions.read_version(io.BytesIO(data)) is None


def test_a_version_that_was_written_in_one_go_is_read():
    """Versions were once written from memory, as one table: they are read as any other."""
    head = {"version": json.dumps({"number": 3, "digest": "d"})}
    told = pa.table({"table": ["event"], "id": ["k:1"], "digest": ["a"]}).replace_schema_metadata(head)
    pq.write_table(told, file := io.BytesIO(), compression="zstd")
    read = versions.read_version(io.BytesIO(file.getvalue()))
    assert (read.number, read.digest, versions.digest_of(read.rows())) == (
        3,
        "d",
        versions.digest_of(told.to_batches()),
    )


def test_a_lost_table_of_versions_is_made_again_from_the_archive(exports, tmp_path):
    """Gone or unreadable, it is written as it was, byte for byte, and a caution says so once; nothing counts as changed."""
    programme, folder = exports[:2]
    into = shutil.copytree(folder, tmp_path / "archive")
    kept = (into / "known.parquet").read_bytes()
    for spoil in (lambda path: path.write_bytes(b"no parquet"), lambda path: path.unlink()):
        spoil(into / "known.parquet")
        done = make_archive(programme.root, into, TODAY)
        assert (done.version, done.added, done.changed, done.deleted) == (2, 0, 0, 0)
        assert any("made again from the archive of version 2" in c for c in done.cautions)
        assert (into / "known.parquet").read_bytes() == kept
    assert not any("made again" in c for c in make_archive(programme.root, into, TODAY).cautions)


def test_where_nothing_tells_the_last_version_nothing_is_written(exports, tmp_path):
    """An archive whose tables are not those its EML was written of tells no version: the export is refused, with the cure."""
    programme, folder = exports[:2]
    into = shutil.copytree(folder, tmp_path / "archive")
    (into / "known.parquet").unlink()
    with (into / "tables" / "indicators.csv").open("a", encoding="utf-8") as table:
        table.write('"another"' + "," * 42 + "\n")
    before = every_byte(into)
    with pytest.raises(BadUsage, match=r"known\.parquet is missing.*Restore it from a back-up"):
        make_archive(programme.root, into, TODAY)
    assert every_byte(into) == before


def test_numbers_go_on_where_all_that_was_published_is_gone(exports, tmp_path):
    """A deleted out/archive does not start from 1 again; from a back-up its table comes back, and nothing counts as changed."""
    programme, folder = exports[:2]
    backup(programme.root, tmp_path / "copy")
    shutil.rmtree(folder)
    done = make_archive(programme.root, folder, TODAY)
    assert (done.version, done.deleted) == (3, 0) and done.added == sum(done.rows.values()) + 1  # the metadata too
    assert any(c.startswith("Version 2 was published, and known.parquet tells of none") for c in done.cautions)
    shutil.rmtree(folder)
    (programme.root / "warehouse" / "archived.json").unlink()
    assert "out/archive/known.parquet" in restore(tmp_path / "copy", programme.root).put_back
    done = make_archive(programme.root, folder, TODAY)
    assert (done.version, done.added, done.changed, done.deleted) == (2, 0, 0, 0)
