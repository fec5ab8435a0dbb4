"""No order of arrival, no second handing in and no rebuild changes a byte of what is published."""

import shutil
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import duckdb
import pytest
from hypothesis import given
from journeys import each_file_examined_once, outputs, play
from profiles import examples, seeds
from sayings import Dice, Row, on, rows_of, seeded
from worlds import File, Night, World, files_of, hand_in, lay_out, quarrel, rules_of, shared_out, worlds

from pipeline import run
from pipeline.indicators.remember import Memory
from pipeline.ledger.fates import with_parts
from pipeline.measure import measure
from pipeline.outputs.tables import write_tables
from pipeline.programme import open_programme
from pipeline.rule_tables import rule_tables
from schemas.kinds import all_kinds
from warehouse import current, database
from warehouse.sqlfiles import View, only_for, read_views

JOURNEYS = seeds(2)
# Worlds in which some register, deployment or rate comes after what names it, so that judging at arrival misleads.
LATE = (4, 5)


def at_once_and_in_turns(d: Dice) -> tuple[World, World]:
    """One world twice: every file on one night; and the files shuffled over several nights."""
    rules, files = rules_of(d), files_of(d, rows_of(d))
    return World(rules, (Night(tuple(files)),)), World(rules, shared_out(d, files, 4))


@contextmanager
def played(world: World) -> Iterator[tuple[Path, list[int]]]:
    """The world played to its end and published; with the number of each night's last entry."""
    with tempfile.TemporaryDirectory() as folder:
        root, heads = lay_out(Path(folder) / "programme", world), []
        for night in world.nights:
            play(root, night)
            run.project(root)
            heads.append(run.open_ledger(open_programme(root).places).last_number())
        run.refresh(root)
        yield root, heads


@given(worlds(at_once_and_in_turns))
@examples(4)
def test_any_order_of_arrival_gives_the_same_bytes(both):
    """Files handed in over several nights, in any order, publish the same bytes as all of them at once."""
    with each_file_examined_once(), played(both[0]) as (at_once, _), played(both[1]) as (in_turns, _):
        assert outputs(in_turns) == outputs(at_once)


def test_a_word_of_two_partners_taken_back_by_one():
    """A unit that two partners told of alike, and one took back, is treated alike in every order of the three files."""
    down = {"method": "spore bag", "happened": on(7), "site_key": "CB", "plot_key": "T1"}
    slip = {"withdraws_kind": "deployment", "withdraws_key": "U1", "reason": "a slip", "happened": on(90)}
    first, _, _ = quarrel().nights
    told = [("club", "deployment", {"unit_key": "U1", **down}), ("lab", "deployment", {"unit_key": "U1", **down}),
            ("lab", "withdrawal", slip)]  # fmt: skip
    files = [File(who, f"{kind}-0.csv", (Row(who, kind, tuple(cells.items())),)) for who, kind, cells in told]
    published = set()
    with each_file_examined_once():
        for order in ((0, 1, 2), (1, 0, 2)):
            nights = [Night(first.files[:2]), *(Night((files[n],)) for n in order)]
            with played(World(quarrel().rules, tuple(nights))) as (root, _):
                published.add(outputs(root)["indicators.csv"])
    assert len(published) == 1


def judged_at_arrival(root: Path, heads: Sequence[int]) -> dict[str, bytes]:
    """What would be published if an event waited for ever or never, as it looked on the night it arrived."""
    rules = run.rules_as_of(open_programme(root), run.LATEST)
    tables, kinds, waited = rule_tables(rules), all_kinds(), []
    few = only_for(f"waiting {database.days_happened(kinds)}", read_views(kinds))
    for before, head in zip([0, *heads], heads, strict=False):
        with database.reading(root / "warehouse", kinds, tables, None, head, few) as con:
            arrived = f"select identity from part where fate in ('entered', 'amends') and entry > {before} and entry <= {head}"
            waited += con.sql(f"select kind, identity from waiting where identity in ({arrived})").fetchall()
    rows = ", ".join(f"('{kind}', '{identity}')" for kind, identity in [("", ""), *waited])
    frozen = View("waiting", f"select kind, identity from (values {rows}) as w(kind, identity)", True, "")
    views = [frozen if v.name == "waiting" else v for v in read_views(kinds)]
    with database.reading(root / "warehouse", kinds, tables, None, None, views) as con:
        figures = measure(con, rules, Memory())
        [(day,)] = con.sql("select happened from as_of").fetchall()
    shutil.rmtree(root / "out")
    write_tables(figures, day, root / "out")
    return outputs(root)


@pytest.mark.parametrize("seed", LATE)
def test_order_would_matter_without_standing(seed):
    """Were standing judged once, on the night an event arrives, the order of arrival would change what is published."""
    once, turns = at_once_and_in_turns(seeded(seed))
    with each_file_examined_once(), played(once) as (at_once, one), played(turns) as (in_turns, several):
        assert outputs(in_turns) == outputs(at_once)
        assert judged_at_arrival(in_turns, several) != judged_at_arrival(at_once, one)


@pytest.mark.parametrize("seed", JOURNEYS)
def test_a_drop_handed_in_twice_changes_nothing(journeys, seed):
    """Every file handed in a second time under another name adds no entry and changes no byte of the output."""
    with journeys.copy(seed) as root:
        before, head = outputs(root), run.open_ledger(open_programme(root).places).head()
        for path in [p for p in (root / "inbox").rglob("*") if p.is_file()]:
            shutil.copyfile(path, path.with_name(f"{path.stem}-copy{path.suffix}"))
        run.run_all(root)
        assert run.open_ledger(open_programme(root).places).head() == head
        assert outputs(root) == before


@pytest.mark.parametrize("seed", seeds(1))
def test_a_drop_doubled_in_one_take_in_changes_nothing(journeys, tmp_path, seed):
    """Every file lying twice in an inbox, under two names, publishes the same bytes as lying there once."""
    once = journeys.of(seed)
    root = lay_out(tmp_path / "programme", once.world)
    for night in once.world.nights:
        hand_in(root, night.files, beside="-copy")
        play(root, night)
        run.refresh(root)
    assert outputs(root) == once.published[-1]


@pytest.mark.parametrize("seed", JOURNEYS)
def test_the_sums_of_every_receipt_hold(journeys, seed):
    """Lines are furniture, blanks and records; parts are entered, held and repeated; and the kept parts agree."""
    for entries in journeys.of(seed).taken:
        for e in entries:
            r, parts = e.receipt, with_parts(e)
            assert r.lines == r.furniture + r.blank + r.records
            assert r.parts == r.entered + r.held + r.repeated
            assert r.parts == sum(s.rows for s in parts)


@pytest.mark.parametrize("seed", JOURNEYS)
def test_a_rebuild_gives_what_grew_night_by_night(journeys, seed):
    """A projection made anew from the whole ledger has the same rows, and publishes the same bytes."""
    with journeys.copy(seed) as root:
        grown, before = base_rows(root), outputs(root)
        shutil.rmtree(root / "warehouse")
        shutil.rmtree(root / "out")
        run.project(root)
        run.publish(root)
        assert base_rows(root) == grown
        assert outputs(root) == before


def base_rows(root: Path) -> dict[str, list[tuple]]:
    """Every row of every base table of the projection."""
    at = current.pointer(root / "warehouse")
    with duckdb.connect(str(root / "warehouse" / at.file), read_only=True) as con:
        tables = [t for (t,) in con.sql("select table_name from duckdb_tables() order by 1").fetchall()]
        return {t: con.sql(f"select * from {t} order by all").fetchall() for t in tables}
