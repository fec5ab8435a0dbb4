"""The ledger: what is written stays as it was written, in one order, and whatever is not is found."""

import datetime as dt
import hashlib
import io
import json
import shutil
import subprocess
import sys
from dataclasses import replace

import pyarrow.parquet as pq
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline import disk, look, run
from pipeline.errors import BadUsage, Busy, LedgerDamaged
from pipeline.intake.read import encoded
from pipeline.intake.text import table_of
from pipeline.ledger.entry import BEFORE_FIRST, Entry, Receipt, Segment, SheetRead, read_entry
from pipeline.ledger.lock import only_writer
from pipeline.ledger.staging import Staged
from pipeline.ledger.store import Head, Ledger
from pipeline.ledger.verify import Witness, verify

NOON = dt.datetime(2025, 6, 1, 12, tzinfo=dt.UTC)
MICRO = dt.timedelta(microseconds=1)


@pytest.fixture
def ledger(tmp_path):
    """An empty ledger."""
    made = Ledger(tmp_path / "ledger")
    made.prepare()
    return made


def entry(name="a.csv", **more):
    """An entry that says nothing but its name."""
    return Entry(previous="", recorded="", what="drop", rules="r" * 64, name=name, **more)


# --- an entry's bytes ----------------------------------------------------------------------------------------

TEXT = st.text(max_size=20)
COUNT = st.integers(0, 10**9)
ENTRIES = st.builds(
    Entry,
    previous=TEXT, recorded=TEXT, what=TEXT, rules=TEXT, partner=TEXT, drop=TEXT, size=COUNT, name=TEXT, mapping=TEXT,
    retaken=st.booleans(), unreadable=TEXT,
    sheets=st.lists(st.builds(SheetRead, TEXT, COUNT, st.lists(TEXT, max_size=3).map(tuple), TEXT, TEXT), max_size=2).map(tuple),
    receipt=st.builds(Receipt, *[COUNT] * 10),
    segments=st.lists(st.builds(Segment, TEXT, TEXT, COUNT, COUNT, COUNT), max_size=2).map(tuple),
    disputed_with=st.lists(TEXT, max_size=2).map(tuple),
)  # fmt: skip


@given(one=ENTRIES, number=COUNT)
def test_entries_come_back_as_written(one, number):
    """Whatever an entry says, its bytes give it back, and give the same bytes again."""
    back = read_entry(one.to_bytes(), number)
    assert (back, back.number) == (one, number)
    assert back.to_bytes() == one.to_bytes()


def test_entry_is_plain_json_with_its_seal():
    """An entry can be read without Wrackline: one line of JSON, its seal the SHA-256 of what it says."""
    data = entry("Praia do Açúcar.csv").to_bytes()
    plain = json.loads(data)
    body = data[len(b'{"entry":') : data.rindex(b',"seal":')]
    assert plain["entry"]["name"] == "Praia do Açúcar.csv"
    assert plain["seal"] == hashlib.sha256(body).hexdigest()
    assert data.count(b"\n") == 1


def test_every_byte_of_an_entry_counts():
    """An entry with any one of its bytes changed, or the last one cut off, is not read."""
    data = entry(
        sheets=(SheetRead("", 1, ("a",), "utf-8", ","),), segments=(Segment("visit", "h", 1, 2, 1),)
    ).to_bytes()
    for at in range(len(data)):
        for changed in {data[at] ^ 1, data[at] ^ 32, ord("0"), ord(" ")} - {data[at]}:
            with pytest.raises(LedgerDamaged, match="Entry 5"):
                read_entry(data[:at] + bytes([changed]) + data[at + 1 :], 5)
    for torn in (data[:-1], data + b" ", data[:40], b"", b"null", b"[]", b'{"entry":[]}'):
        with pytest.raises(LedgerDamaged, match="Entry 5"):
            read_entry(torn, 5)


# --- appending -----------------------------------------------------------------------------------------------


def test_entries_are_linked(ledger):
    """Every entry names the hash of the bytes of the one before it; the first names zeros."""
    made = [ledger.append(entry(f"{i}.csv"), NOON + i * MICRO) for i in range(3)]
    assert [e.number for e in made] == [1, 2, 3]
    assert made[0].previous == BEFORE_FIRST
    assert [e.previous for e in made[1:]] == [ledger.hash_of(1), ledger.hash_of(2)]
    assert ledger.entries() == made
    assert ledger.entries(after=2) == made[2:]
    assert ledger.head() == Head(3, hashlib.sha256(ledger.entry_path(3).read_bytes()).hexdigest())


def test_recorded_times_rise_though_the_clock_goes_back(ledger):
    """An entry is recorded now, or, when the clock went back or stood still, a step after the one before: a small one within a take-in."""
    asked = [
        (NOON, False),
        (NOON - dt.timedelta(days=1), True),
        (NOON - MICRO, False),
        (NOON, True),
        (NOON + 9000 * MICRO, True),
    ]
    recorded = [ledger.append(entry(), at, goes_on).recorded for at, goes_on in asked]
    steps = [(dt.datetime.fromisoformat(r) - NOON) // MICRO for r in recorded]
    assert steps == [0, 1, 1001, 1002, 9000]
    assert recorded == sorted(recorded)


def test_an_entry_never_replaces_another(ledger, monkeypatch):
    """A number that is taken is not given again: the one who comes second is told, and the first one stays."""
    first = ledger.append(entry("first.csv"), NOON)
    monkeypatch.setattr(Ledger, "head", lambda self: Head())
    with pytest.raises(LedgerDamaged, match="Entry 1 appeared while this run held the lock"):
        ledger.append(entry("second.csv"), NOON)
    monkeypatch.undo()
    assert ledger.entries() == [first]


def test_sums_that_do_not_hold_are_not_recorded(ledger):
    """A receipt that loses a line or a part is a bug, and stops before anything is written."""
    for receipt in (Receipt(lines=3, furniture=1, blank=0, records=1), Receipt(parts=2, entered=1)):
        with pytest.raises(AssertionError, match="sums"):
            ledger.append(entry(receipt=receipt), NOON)
    assert ledger.head() == Head()


def test_link_if_absent(tmp_path):
    """A finished file gets a name once; whoever comes later is told, and what stands there stays."""
    for name in ("one", "two"):
        (tmp_path / name).write_text(name)
    assert disk.link_if_absent(tmp_path / "one", tmp_path / "final")
    assert not disk.link_if_absent(tmp_path / "two", tmp_path / "final")
    assert (tmp_path / "final").read_text() == "one"


def test_gaps_and_broken_links_are_refused(ledger):
    """A ledger with an entry gone, exchanged or out of its place is not read at all."""
    for i in range(3):
        ledger.append(entry(f"{i}.csv"), NOON)
    kept = ledger.entry_path(2).read_bytes()
    ledger.entry_path(2).unlink()
    with pytest.raises(LedgerDamaged, match="Entry 2 is gone"):
        ledger.entries()
    ledger.entry_path(2).write_bytes(replace(read_entry(kept, 2), name="other.csv").to_bytes())
    with pytest.raises(LedgerDamaged, match="Entry 3 does not follow from entry 2"):
        ledger.entries()
    ledger.entry_path(2).write_bytes(ledger.entry_path(1).read_bytes())
    with pytest.raises(LedgerDamaged, match="Entry 2 does not follow from entry 1"):
        ledger.entries()


def test_a_disk_without_hard_links_is_refused(tmp_path, monkeypatch):
    """A ledger is not begun on a disk that cannot make hard links, and the message says where it can be."""

    def refusing(*_):
        raise OSError(1, "Operation not permitted")

    monkeypatch.setattr("os.link", refusing)
    with pytest.raises(BadUsage, match=r"cannot make hard links.*local disk"):
        Ledger(tmp_path / "ledger").prepare()


# --- keeping bytes -------------------------------------------------------------------------------------------


def test_kept_bytes_go_by_their_hash(ledger, tmp_path):
    """What is kept is named by its SHA-256, byte for byte, and kept once however often it comes."""
    (tmp_path / "file").write_bytes(b"\0\xffkelp\r\n")
    digest, size = ledger.keep_file(tmp_path / "file")
    assert (digest, size) == (hashlib.sha256(b"\0\xffkelp\r\n").hexdigest(), 8)
    assert ledger.keep_bytes(b"\0\xffkelp\r\n") == ledger.keep_file(tmp_path / "file")[0] == digest
    assert [p.name for p in ledger.drops.iterdir()] == [digest]
    assert ledger.drop_path(digest).read_bytes() == b"\0\xffkelp\r\n"
    assert list(ledger.scratch.iterdir()) == []


def test_a_growing_file_is_kept_under_what_was_read(ledger, monkeypatch):
    """A file that grows while it is copied is kept under the hash of exactly the bytes that were kept."""
    monkeypatch.setattr(disk, "CHUNK", 4)

    class Growing:
        """A file to which another program writes between any two reads, for a while."""

        def open(self, _, buffering):
            reader = io.BytesIO(b"site")
            writes = iter([b",na", b"me\n", b"CB,"])
            plain = reader.readinto

            def readinto(held):
                told, at = plain(held), reader.tell()
                reader.seek(0, io.SEEK_END)
                reader.write(next(writes, b""))
                reader.seek(at)
                return told

            reader.readinto = readinto
            return reader

    digest, size = ledger.keep_file(Growing())
    kept = ledger.drop_path(digest).read_bytes()
    assert kept == b"site,name\nCB,"
    assert (digest, size) == (hashlib.sha256(kept).hexdigest(), len(kept))


def test_a_file_that_grew_is_news_again(programme, draw):
    """A file taken in half-written is taken in again when it is whole, and what was known is recognised."""
    table = draw(
        "site_key   name   latitude   longitude   uncertainty_m   radius_m   country\nA1   A   39   -9   10   100   PT\nA2   B   39   -9   10   100   PT"
    )
    cut = table.index(b"A2")
    [half] = programme.take({"programme/site late.csv": table[:cut]})
    [whole] = programme.take({"programme/site late.csv": table})
    assert (half.receipt.entered, whole.receipt.entered, whole.receipt.repeated) == (1, 1, 1)


def test_any_folder_name_will_do(new_programme, tmp_path):
    """A programme may live in a folder with any name: spaces, quotes, brackets, stars, and what looks like a partition."""
    for name in ("kelp's [2025] {a,b}", "year=2025", "kelp *"):
        root = tmp_path / name / "programme"
        shutil.copytree(new_programme().root, root)
        (root / "inbox/club").mkdir()
        (root / "inbox/club/visit.csv").write_text("visit_key,site_key,happened,outcome\nD1,CB,2025-03-01,found\n")
        [made] = run.take(root).entries
        assert made.receipt.entered == 1, name
        run.project(root)
        with run.session(root) as (con, _):
            assert con.sql("select visit_key from visit_stands").fetchall() == [("D1",)], name


# --- verify --------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def told(new_programme):
    """A small ledger with drops, rules, a mapping, held and good rows: to be copied, never changed."""
    made = new_programme()
    made.partner("club", 'language = "pt"\n')
    made.take(
        {
            "club/visit.csv": "visit_key   site_key   happened   outcome\nD1   CB   2025-03-01   found\nD2   CB   2025-03-02   lost"
        }
    )
    made.take(
        {
            "club/visit.csv": "visit_key   site_key   happened   outcome\nD1   CB   2025-03-01   found\nD2   CB   2025-03-02   found"
        }
    )
    made.ask("select 1")
    return made


@pytest.fixture
def copy(told, tmp_path):
    """A copy of the small ledger."""
    shutil.copytree(told.ledger.root, tmp_path / "copy")
    return Ledger(tmp_path / "copy")


@pytest.fixture
def witness(told):
    """Someone outside who saw the small ledger's head."""
    return Witness("the warehouse", told.ledger.head())


def flip(path, at):
    """Change one byte of a file."""
    data = bytearray(path.read_bytes())
    data[at] ^= 1
    path.write_bytes(data)


def test_a_whole_ledger_is_whole(copy, witness):
    """Of an unharmed ledger nothing is wrong, and everything was looked at."""
    verdict = verify(copy, [witness])
    files = sum(1 for f in ("drops", "segments") for p in (copy.root / f).rglob("*") if p.is_file())
    assert (verdict.wrong, verdict.notes) == ([], [])
    assert verdict.entries == copy.last_number() == 5
    assert verdict.drops + verdict.segments == files


def test_a_changed_byte_of_an_entry_is_found(copy, witness):
    """A byte changed anywhere in any entry is found, and the entry is named."""
    for number in range(1, copy.last_number() + 1):
        path = copy.entry_path(number)
        data = path.read_bytes()
        for at in {0, 1, 11, len(data) // 3, len(data) // 2, len(data) - 30, len(data) - 2, len(data) - 1}:
            flip(path, at)
            assert any(f"Entry {number} " in w for w in verify(copy, [witness], light=True).wrong), (number, at)
            path.write_bytes(data)
    assert verify(copy, [witness]).wrong == []


def test_a_changed_byte_of_a_kept_file_is_found(copy, witness):
    """A byte changed, cut off or added in any drop or segment is found, and the file is named with what it was."""
    paths = sorted(p for f in ("drops", "segments") for p in (copy.root / f).rglob("*") if p.is_file())
    assert len(paths) > 10
    for n, path in enumerate(paths):
        data = path.read_bytes()
        name = str(path.relative_to(copy.root))
        for harmed in ([data[:-1]] if data else []) + [data + b"\0"]:
            path.write_bytes(harmed)
            [wrong] = verify(copy, [witness]).wrong
            assert name in wrong
        for at in {0, len(data) // 2, len(data) - 1, (n * 37) % max(len(data), 1)} if data else ():
            path.write_bytes(data)
            flip(path, at)
            [wrong] = verify(copy, [witness]).wrong
            assert "was changed" in wrong and name in wrong
        path.write_bytes(data)
    assert verify(copy, [witness]).wrong == []


def test_a_file_that_is_gone_is_found(copy, witness):
    """A drop, a mapping, the rules or a segment that is gone is found even when bytes are not looked at."""
    for path in sorted(p for f in ("drops", "segments") for p in (copy.root / f).rglob("*") if p.is_file()):
        data = path.read_bytes()
        path.unlink()
        [wrong] = verify(copy, [witness], light=True).wrong
        assert "is gone" in wrong and path.name in wrong
        path.write_bytes(data)


def test_light_sees_sizes_only(copy, witness):
    """Looking lightly finds a file of another size, and not a byte changed in place."""
    segment = next(iter((copy.segments / "visit").iterdir()))
    data = segment.read_bytes()
    flip(segment, len(data) // 2)
    assert verify(copy, [witness], light=True).wrong == []
    segment.write_bytes(data + b"x")
    [wrong] = verify(copy, [witness], light=True).wrong
    assert f"has {len(data) + 1} bytes, not {len(data)}" in wrong


def test_an_entry_gone_from_the_middle_is_found(copy, witness):
    """An entry that is gone while later ones stand is found."""
    copy.entry_path(2).unlink()
    assert any("Entry 2 is gone" in w for w in verify(copy, [witness]).wrong)


def test_the_end_cut_off_is_found_by_a_witness(copy, witness):
    """The last entry gone leaves a whole chain: only who wrote the head down elsewhere can tell, and does."""
    copy.entry_path(copy.last_number()).unlink()
    alone = verify(copy, [])
    assert alone.wrong == []
    assert any("End not provable" in n for n in alone.notes)
    assert any("the end was cut off" in w for w in verify(copy, [witness]).wrong)


def test_an_exchanged_entry_is_found(copy, witness):
    """An entry written anew with its own good seal is found by its neighbour, the last one by a witness."""
    for number in (2, copy.last_number()):
        path = copy.entry_path(number)
        data = path.read_bytes()
        path.write_bytes(replace(read_entry(data, number), recorded="2031-01-01T00:00:00.000000+00:00").to_bytes())
        assert any("exchanged" in w for w in verify(copy, [witness]).wrong), number
        path.write_bytes(data)


def test_two_entries_changing_places_are_found(copy, witness):
    """Two entries that changed places are found."""
    one, two = (copy.entry_path(n).read_bytes() for n in (2, 3))
    copy.entry_path(2).write_bytes(two)
    copy.entry_path(3).write_bytes(one)
    assert len(verify(copy, [witness]).wrong) >= 2


def test_a_strange_file_among_the_entries_is_found(copy, witness):
    """A file that is no entry does not belong among the entries."""
    (copy.entries_folder / "notes.txt").write_text("x")
    assert verify(copy, [witness]).wrong == ["A file that is no entry stands among the entries: entries/notes.txt"]


def test_orphans_are_only_noted(copy, witness):
    """A file that no entry names was left by a run that was stopped: noted, not wrong."""
    (copy.drops / ("0" * 64)).write_bytes(b"left over")
    verdict = verify(copy, [witness])
    assert verdict.wrong == []
    [note] = verdict.notes
    assert note.startswith("1 file belongs to no entry; a run was stopped before it was finished")


def test_an_empty_ledger_is_whole(ledger):
    """A ledger without entries has no end to prove."""
    verdict = verify(ledger, [])
    assert (verdict.wrong, verdict.notes, verdict.entries) == ([], [], 0)


def test_witnesses_of_a_programme(programme):
    """The warehouse, about.json and the letters each notice that the ledger's end was cut off."""
    run.refresh(programme.root)
    assert look.verify(programme.root).wrong == []
    last = programme.ledger.entry_path(programme.ledger.last_number())
    last.unlink()
    told = look.verify(programme.root).wrong
    assert [next(w for w in ("warehouse", "about.json", "letters") if w in t) for t in told] == [
        "warehouse",
        "about.json",
        "letters",
    ]


# --- one writer at a time ------------------------------------------------------------------------------------


HOLD = """
import sys
from pathlib import Path
from pipeline.ledger.lock import only_writer
with only_writer(Path(sys.argv[1])):
    print("holding", flush=True)
    sys.stdin.readline()
"""


@pytest.fixture
def holder(tmp_path):
    """Another process that holds the lock until a line is written to it; gives (path of the lock, the process)."""
    path = tmp_path / "lock"
    command = [sys.executable, "-c", HOLD, str(path)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout.readline() == "holding\n"
        yield path, process
        process.kill()


def test_a_second_writer_waits_or_gives_up_then_gets_in(holder):
    """While another process writes, a second is told Busy when its patience ends, waits otherwise, and gets in after it."""
    path, process = holder
    told = r"Another run has been working on this ledger for 0 s\. .*nothing was changed"
    with pytest.raises(Busy, match=told), only_writer(path, 0.2):
        raise AssertionError("two writers at once")
    process.stdin.write("let go\n")
    process.stdin.flush()
    with only_writer(path, 30):
        assert process.wait(30) == 0


def test_a_dead_writer_holds_nothing(holder):
    """The lock of a process that was killed is let go by the system."""
    path, process = holder
    process.kill()
    with only_writer(path, 30):
        pass


def test_records_are_kept_cell_by_cell(tmp_path):
    """A row's cells are kept in the order of its columns, blanks and repeated texts among them, batch after batch."""
    cells = [["a", "b", ""], ["b", "b", "a "], ["", "", "ä"], ["a", "", "b"]]
    staged = Staged(tmp_path, "club", "d" * 64, 1, "a.csv", "m" * 64, width=3)
    for some, first in ((cells[:3], 2), (cells[3:], 5)):
        staged.write_records("s", encoded(table_of(list(range(first, first + len(some))), some, 3)), 3)
    staged.close()
    kept = pq.read_table(staged.path("records")).to_pylist()
    assert kept == [
        {"sheet": "s", "row": n, "c0": row[0], "c1": row[1], "c2": row[2]} for n, row in enumerate(cells, 2)
    ]
    packed = [c.encodings for c in columns_of(staged.path("records")) if c.path_in_schema.startswith("c")]
    assert [("RLE_DICTIONARY" in p) for p in packed] == [True] * 3  # a text that comes again is not written again


def columns_of(path):
    """Parquet's own words on the columns of a file's first row group."""
    group = pq.ParquetFile(path).metadata.row_group(0)
    return [group.column(n) for n in range(group.num_columns)]
