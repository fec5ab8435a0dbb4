"""A stored ledger of every version is read for ever, to the same events and figures; older columns through upcasts."""

import difflib
import shutil
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from pipeline import look, run
from pipeline.errors import BadUsage
from pipeline.ledger.entry import NEWEST_FORMAT, read_entry
from pipeline.loading import load
from schemas.kinds import all_kinds
from schemas.upcasts import OTHER_SEGMENTS, UPCASTS, upcast_sql
from warehouse import appending, current, database

KEPT = Path(__file__).parent.parent / "kept_ledgers"
sys.path.insert(0, str(KEPT))
import make  # noqa: E402 - it stands beside what it made

LEDGERS = sorted(p for p in KEPT.iterdir() if (p / "programme.tar.xz").is_file())


@pytest.fixture(scope="module", params=LEDGERS, ids=lambda p: p.name)
def kept(request, tmp_path_factory):
    """A kept ledger laid out, and the folder that tells what it must give."""
    root = tmp_path_factory.mktemp("kept") / "p"
    make.unpack(request.param, root)
    return root, request.param


def unlike(told: str, wanted: str) -> str:
    """The lines that differ."""
    return "\n".join(difflib.unified_diff(wanted.splitlines(), told.splitlines(), "kept", "now", lineterm="", n=0))


def test_a_kept_ledger_is_whole(kept):
    """Nothing is wrong with a ledger that an older version wrote."""
    root, _ = kept
    verdict = look.verify(root)
    assert verdict.wrong == [] and verdict.entries >= 19


def test_entries_of_every_format_keep_their_bytes(kept):
    """An entry read and written again is the same bytes, whatever fields were added since."""
    root, _ = kept
    for path in (root / "ledger/entries").iterdir():
        data = path.read_bytes()
        assert read_entry(data, int(path.stem)).to_bytes() == data


def test_a_kept_ledger_gives_the_same_events(kept):
    """Every entry, part, fault and event is what it was when it was written, column by column."""
    root, told = kept
    wanted = (told / "tables.txt").read_text(encoding="utf-8")
    assert unlike(make.tables_of(root, make.columns_kept(told)), wanted) == ""


def test_a_kept_ledger_gives_the_same_figures(kept):
    """Every figure that was kept is given again: after a wanted change of an indicator, `make.py NAME --figures`."""
    root, told = kept
    wanted = (told / "figures.csv").read_text(encoding="utf-8").splitlines()
    now = make.figures_of(root).splitlines()
    assert [line for line in wanted if line not in now] == []


def test_a_kept_ledger_goes_on(kept, tmp_path):
    """A kept ledger takes new files in: what it knows is known, and what it held can be mended."""
    root = shutil.copytree(kept[0], tmp_path / "p")
    (root / "inbox/club").mkdir(parents=True)
    for name, text in make.NIGHTS[0].items():
        if name in ("club/deployment.csv", "club/survey.csv"):
            (root / "inbox" / name).write_text(text, encoding="utf-8")
    assert run.take(root).entries == []
    (root / "inbox/club/survey.csv").write_text(make.FRAMES.replace("T1,0", "T1,9"), encoding="utf-8")
    [entry] = run.take(root).entries
    assert (entry.receipt.repeated, entry.receipt.entered) == (7, 1)


def test_every_format_and_version_there_ever_was_is_kept():
    """The kept ledgers hold entries of every format, every kind of today, and every version of each."""
    assert LEDGERS
    formats, versions = set(), set()
    for told in LEDGERS:
        for e in make.entries_of(told):
            formats.add(e.format)
            versions |= {(s.kind, s.version) for s in e.segments}
    assert formats == set(range(1, NEWEST_FORMAT + 1))
    newest = {**OTHER_SEGMENTS, **{k.name: k.version for k in all_kinds().values()}}
    assert versions >= {(kind, v) for kind, version in newest.items() for v in range(1, version + 1)}


def test_every_step_between_versions_is_told():
    """Each version but the newest of what is projected has its upcast, and there is none besides."""
    others = {name: version for name, version in OTHER_SEGMENTS.items() if name in appending.TABLES}
    newest = {**others, **{k.name: k.version for k in all_kinds().values()}}
    assert set(UPCASTS) == {(kind, v) for kind, version in newest.items() for v in range(1, version)}


# --- a made-up version 2 ------------------------------------------------------------------------------------

HOURS = {
    ("treatment", 1): "* exclude (effort_person_min, amount_unit), effort_person_min / 60 as effort_person_h, "
    "'per ' || amount_unit as amount_unit",
}


@pytest.fixture
def second(monkeypatch):
    """Kinds as a later Wrackline might have them: minutes became hours, a column was added, a unit is told otherwise."""
    kinds = dict(all_kinds())
    old = kinds["treatment"]
    columns = [c for c in old.columns if c.name != "effort_person_min"]
    minutes = old.column("effort_person_min")
    columns += [replace(minutes, name="effort_person_h", places=6), replace(minutes, name="divers", type="whole")]
    kinds["treatment"] = replace(old, version=2, columns=tuple(columns))
    monkeypatch.setattr(appending, "UPCASTS", HOURS)
    return kinds


ROWS = (
    "site_key   plot_key   action         area_m2   happened     effort_person_min   amount   amount_unit\n"
    + "\n".join(
        f"CB         T1         {action}   50        2025-03-0{n}   {minutes}                  3        kg"
        for n, (action, minutes) in enumerate([("turf removed", 90), ("weed removed", 45)], 1)
    )
)


def test_version_1_is_read_as_version_2(programme, second, tmp_path):
    """A stored segment of version 1 gives version 2's columns: computed, renamed, filled with nothing; identity stays."""
    [entry] = programme.take({"club/treatment.csv": ROWS})
    before = programme.ledger.segment_path(entry.segment("treatment")).read_bytes()
    made = tmp_path / "made.duckdb"
    database.append(
        made, [load(programme.ledger, e, second, {}) for e in programme.ledger.entries()], second, fresh=True
    )
    import duckdb

    with duckdb.connect(str(made), read_only=True) as con:
        told = con.sql(
            "select effort_person_h::double, divers, amount_unit, identity, content from treatment_said order by row"
        ).fetchall()
    stored = [(r["identity"], r["content"]) for r in programme.segment(entry, "treatment")]
    assert told == [(1.5, None, "per kg", *stored[0]), (0.75, None, "per kg", *stored[1])]
    assert programme.ledger.segment_path(entry.segment("treatment")).read_bytes() == before


def test_a_missing_step_stops(programme, second, monkeypatch, tmp_path):
    """A kind raised to a new version without its upcast is noticed, never read as if nothing had changed."""
    monkeypatch.setattr(appending, "UPCASTS", {})
    programme.take({"club/treatment.csv": ROWS})
    with pytest.raises(KeyError):
        database.append(
            tmp_path / "made",
            [load(programme.ledger, e, second, {}) for e in programme.ledger.entries()],
            second,
            fresh=True,
        )


def test_steps_follow_each_other():
    """From version 1 to 3 both steps are taken, in order; from 3 none."""
    steps = {("k", 1): "a as b", ("k", 2): "b as c"}
    assert upcast_sql("k", 1, 3, "t", steps) == "(select b as c from (select a as b from t))"
    assert upcast_sql("k", 2, 3, "t", steps) == "(select b as c from t)"
    assert upcast_sql("k", 3, 3, "t", steps) == "t"


@pytest.mark.parametrize("strange", ["kind", "version"])
def test_what_a_newer_wrackline_wrote_is_not_passed_over(programme, strange):
    """A kind or version that is not known stops with what to do: events left out would make figures untrue."""
    [entry] = programme.take({"club/treatment.csv": ROWS})
    kinds = {k: v for k, v in all_kinds().items() if strange != "kind" or k != "treatment"}
    if strange == "version":
        entry = replace(entry, segments=tuple(replace(s, version=9) for s in entry.segments))
    with pytest.raises(BadUsage, match=r"of version \d, which this Wrackline does not know. Nothing is wrong"):
        load(programme.ledger, entry, kinds, {})


def test_other_models_make_the_projection_anew(programme, monkeypatch):
    """A projection made under other models or upcasts is not used, and the next run makes it anew by itself."""
    run.refresh(programme.root)
    assert not run.project(programme.root)
    folder = programme.root / "warehouse"
    assert current.pointer(folder).shape == current.shape() > 0
    monkeypatch.setattr(current, "shape", lambda: 7)
    assert current.pointer(folder) is None and run.project(programme.root)
    assert current.pointer(folder).shape == 7
