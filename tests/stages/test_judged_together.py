"""Many big drops judged at once: read where they lie, within the little memory that a take-in allows itself."""

import pyarrow as pa
import pytest

from pipeline import record
from pipeline.ledger import judge, known
from pipeline.ledger.records import TEXTS
from pipeline.ledger.staging import SAID, Staged
from pipeline.ledger.store import Ledger
from schemas.kinds import all_kinds

DROPS, ROWS = 600, 250


def staged_drop(folder, n, told):
    """A drop of deployments: told is identity -> content, a row each."""
    folder.mkdir()
    drop = Staged(folder, f"club-{n:03}", f"{n:064x}", 1, "deployment.csv", "m", records=len(told))
    rows = len(told)
    same = {"sheet": "", "partner": drop.partner, "fate": "entered"}
    columns = {
        "row": pa.array(range(2, rows + 2), pa.int64()), "part": pa.array([1] * rows, pa.int32()),
        "identity": list(told), "key": list(told), "content": list(told.values()),
        **{name: pa.array([text] * rows).dictionary_encode().cast(TEXTS) for name, text in same.items()},
    }  # fmt: skip
    drop.kinds["deployment"] = 1
    drop.write("deployment", pa.table({name: columns[name] for name in SAID}))
    return drop.close()


def name(drop, thing):
    """32 hex digits that nothing else is called by."""
    return f"{drop + 1:08x}{thing:024x}"


@pytest.fixture
def drops(tmp_path):
    """Every drop tells of things of its own, and of one that the drop before told otherwise; every second has a row more."""
    of = [{name(n, i): name(n, 0) for i in range(ROWS + n % 2)} | {name(n - 1, 0): name(n, 1)} for n in range(DROPS)]
    return [staged_drop(tmp_path / f"{n}", n, told) for n, told in enumerate(of)]


def test_many_drops_are_judged_in_little_memory(drops, tmp_path, monkeypatch):
    """600 drops that lie in files of their own are judged in 32 MB: memory goes by what is met twice, not by how many drops there are."""
    monkeypatch.setattr(known, "BIG", 0)
    monkeypatch.setitem(record.LITTLE_MEMORY, "memory_limit", "32MB")
    monkeypatch.setitem(record.LITTLE_MEMORY, "threads", 2)
    with record.judged(Ledger(tmp_path / "ledger"), [], drops, all_kinds(), None, tmp_path) as (con, _, of_all):
        [(met,)] = con.execute("select count(*) from judged").fetchall()
    assert met == 2 * (DROPS - 1)
    assert of_all.otherwise == frozenset(range(DROPS))


def test_where_a_drop_lies_changes_no_judgement(drops, tmp_path, monkeypatch):
    """Parts loaded into a table, read where they lie, or every second drop's so: all are judged alike, and each drop's own can be asked for."""

    def judged(name, big):
        (folder := tmp_path / name).mkdir()
        monkeypatch.setattr(known, "BIG", big)
        with record.judged(Ledger(folder / "ledger"), [], drops[:5], all_kinds(), None, folder) as (con, _, of_all):
            own = [
                con.execute(f"select * from ({known.parts_of(n, d, [])}) order by all").fetchall()
                for n, d in enumerate(drops[:5])
            ]
            every = con.execute("select * from part_read order by all").fetchall()
            return con.execute("select * from judged order by all").fetchall(), of_all, own, every

    first = judged("loaded", 10**9)
    assert first == judged("lying", 0) == judged("mixed", ROWS + 2)
    assert len(first[0]) == 2 * 4
    assert [row for own in first[2] for row in own] == sorted(first[3])


def test_how_many_are_counted_at_once_changes_no_judgement(drops, tmp_path, monkeypatch):
    """Things looked through in 300 slices, more than identities begin otherwise, are judged as all at once."""
    told = []
    for at_once in (10**9, sum(d.parts for d in drops) // 300):
        monkeypatch.setattr(judge, "AT_ONCE", at_once)
        with record.judged(Ledger(tmp_path / "ledger"), [], drops, all_kinds(), None, tmp_path) as (con, *_):
            told.append(con.execute("select * from judged order by all").fetchall())
    assert told[0] == told[1]
    assert told[0]
