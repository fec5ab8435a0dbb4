"""What stays the same between exports, and what is said of what does not."""

import csv
import datetime as dt
import io
import json
import random
import shutil

import pyarrow as pa
import pytest
from archived import SEA, fill
from archives import every_byte, member

from pipeline import run
from pipeline.archive import versions
from pipeline.archive.pack import as_text
from pipeline.archiving import make_archive
from pipeline.errors import BadUsage

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


def test_the_digest_has_no_order():
    """The same records give the same digest in whatever order they come, and one other letter another."""
    known = {("event", f"k:{n}"): str(n) for n in range(50)}
    mixed = list(known.items())
    random.Random(3).shuffle(mixed)
    assert versions.digest_of(dict(mixed)) == versions.digest_of(known)
    assert versions.digest_of(known | {("event", "k:7"): "8"}) != versions.digest_of(known)


def test_a_row_is_a_line_whatever_is_in_it():
    """Commas, quotation marks and the line separators of other writing systems part neither rows nor cells."""
    text = as_text(pa.table({"id": ['a,"b', "c"], "said": ["one\u2028two\x85three", None]}))
    assert set(versions.rows_of({"t": (text, 0)})) == {("t", 'a,"b'), ("t", "c")}


def test_the_first_version_lists_nothing(exports):
    """All of it is new: changes.csv has its headings alone."""
    assert exports[2]["changes.csv"] == b"version,what,table,id\n"


def test_a_version_is_read_as_it_was_written():
    """A kept version comes back whole; bytes that are none are no version."""
    version = versions.Version(4, "d", {("event", "k:1"): "a", ("occurrence", "k:2"): "b"})
    assert versions.from_parquet(versions.as_parquet(version)) == version
    assert versions.from_parquet(b"no parquet") is None


def test_no_number_is_given_twice_unsaid(exports, tmp_path):
    """A table of versions that cannot be read stops the archive; where it is gone, numbering from 1 again is a caution."""
    programme, folder = exports[:2]
    into, today = shutil.copytree(folder, tmp_path / "archive"), dt.date(2026, 1, 1)
    (into / "known.parquet").write_bytes(b"no parquet")
    before = every_byte(into)
    with pytest.raises(BadUsage, match=r"known\.parquet cannot be read.*Restore it"):
        make_archive(programme.root, into, today)
    assert every_byte(into) == before
    (into / "known.parquet").unlink()
    done = make_archive(programme.root, into, today)
    assert done.version == 1 and any("numbered from 1 again" in c for c in done.cautions)
    assert not any("numbered" in c for c in make_archive(programme.root, into, today).cautions)
