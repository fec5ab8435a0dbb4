"""Cost follows the news: on a ledger of 200 sites one drop opens its own segments and computes its own figures."""

import shutil
from pathlib import Path

import pytest
from many_sites import CONTROL, ROUND, SURVEY, can_see, first_night, looked_at, opened, recruits, site_name, surveyed

from pipeline import publishing, run
from pipeline.indicators.remember import Computed, in_short
from pipeline.ledger.store import Ledger

SITES, ONE = 200, 7


@pytest.fixture(scope="module")
def sites(tmp_path_factory):
    """200 sites after their first night: to be copied, never changed."""
    root = tmp_path_factory.mktemp("sites") / "p"
    first_night(root, SITES)
    return root


@pytest.fixture
def programme(sites, tmp_path):
    """A copy of them."""
    return shutil.copytree(sites, tmp_path / "p")


def tables(root: Path) -> list[bytes]:
    """What is published, byte for byte."""
    return [(root / "out" / name).read_bytes() for name in publishing.TABLES]


def test_one_drop_opens_only_its_own_segments(programme):
    """A night with one drop for one site opens no segment and no drop of any other, as the system itself counts."""
    if not can_see:
        pytest.skip("only Linux tells who opens what")
    (programme / "inbox/club/check-2.csv").write_text(
        "site_key,unit_key,happened,state,search_time_min\n" + looked_at(ONE, "2025-05-01", gone=5)
    )
    ledger = Ledger(programme / "ledger")
    before = {p.name for p in (ledger.root / "segments").rglob("*.parquet")}
    with opened(ledger.segments) as segments, opened(ledger.drops) as drops:
        [entry] = run.run_all(programme)[0].entries
    own = {f"{s.hash}.parquet" for s in entry.segments}
    assert segments and segments & before == set() and segments <= own
    assert drops <= {entry.drop, entry.rules, entry.mapping}
    with opened(ledger.segments) as segments:
        run.project(programme, rebuild=True)
    assert len(segments) >= len(before)  # the counter can count


def test_one_site_looked_at_again_computes_its_retention_alone(programme):
    """Bags of one site looked at again: what tells of its retention, of that over all sites and the plans that start from it are computed, nothing else."""
    (programme / "inbox/club/check-2.csv").write_text(
        "site_key,unit_key,happened,state,search_time_min\n" + looked_at(ONE, "2025-05-01", gone=5)
    )
    said = []
    _, done = run.run_all(programme, said.append)
    assert {(c.name, c.of, c.why) for c in done.computed} == {
        ("unit retention", f"{site_name(ONE)} spore bag 21", "inputs changed"),
        ("day half are gone", f"{site_name(ONE)} spore bag", "inputs changed"),
        ("day half are gone", "all spore bag", "inputs changed"),
        *((over, "all spore bag 21", "inputs changed") for over in (
            "unit retention over sites", "unit retention, Weibull", "unit retention if last absences were misses",
        )),
        *((plan, "spore bag 21", "inputs changed") for plan in (
            "units to know retention", "units to tell fixings apart", "losses to tell fixings apart", "power of the planned checks",
        )),
    }  # fmt: skip
    assert "10 figures computed: 10 inputs changed" in said
    assert f"  unit retention of {site_name(ONE)} spore bag 21: inputs changed" in said


def test_one_frame_counted_otherwise_computes_its_cell_alone(programme):
    """One corrected count in a treated plot: the density there, its comparisons and what is over all sites, nothing else."""
    (programme / "inbox/club/survey-2.csv").write_text(SURVEY + surveyed(ONE, "T1", 2, 99))
    _, done = run.run_all(programme)
    of = f"{site_name(ONE)} %sSaccharina latissima recruit {ROUND} quadrats"
    season = "all %sSaccharina latissima recruit quadrats 2025-09"
    assert {(c.name, c.of, c.why) for c in done.computed} == {
        ("density", of % "treated " + " plot", "inputs changed"),
        ("treated over control", of % "", "inputs changed"),
        ("treated minus control", of % "", "inputs changed"),
        ("recruits beyond control", of % "" + " spore bag", "inputs changed"),
        ("recruits beyond control by method", "all Saccharina latissima recruit quadrats spore bag", "inputs changed"),
        ("density over sites", season % "treated ", "inputs changed"),
        ("geometric density over sites", season % "treated ", "inputs changed"),
        ("treated minus control over sites", season % "", "inputs changed"),
        *(("handling and recruits", f"all Saccharina latissima quadrats {what}", "inputs changed") for what in (
            "hours from cut to opening", "warmest tissue",
        )),
    }  # fmt: skip


def test_what_sites_share_is_computed_wherever_it_is_used(programme):
    """One corrected count among the few frames of a control plot changes the shared spread, and so every site's figures."""
    frame = CONTROL - 1
    (programme / "inbox/club/survey-2.csv").write_text(
        SURVEY + surveyed(ONE, "C1", frame, 9 + recruits(ONE, "C1", frame))
    )
    _, done = run.run_all(programme)
    means = {"density over sites", "geometric density over sites", "treated minus control over sites"}
    methods = {"recruits beyond control", "recruits beyond control by method"}
    plans = {"frames for a doubling", "frames for a doubling over sites"}
    assert {c.name for c in done.computed} == {
        "density",
        "treated over control",
        "treated minus control",
    } | means | methods | plans
    assert all(" recruit " in c.of and c.why == "inputs changed" for c in done.computed)
    assert all(" control " in c.of for c in done.computed if c.name == "density")
    assert [c.of.split()[0] for c in done.computed if c.name == "treated over control"] == [site_name(ONE)]
    assert len([c for c in done.computed if c.name == "treated minus control"]) == SITES


def test_a_new_round_is_new(programme):
    """Figures of a round that nobody saw before are told apart from those whose inputs changed."""
    row = surveyed(ONE, "T1", 0, 3).replace(ROUND, "2026-01-10").replace("V-", "W-")
    (programme / "inbox/club/survey-2.csv").write_text(SURVEY + row)
    (programme / "inbox/club/visit-2.csv").write_text(
        f"visit_key,site_key,happened,outcome\nW-{site_name(ONE)},{site_name(ONE)},2026-01-10,found\n"
    )
    _, done = run.run_all(programme)
    assert done.computed and {c.why for c in done.computed} == {"new"}
    here = [c.of for c in done.computed if not c.name.endswith("over sites")]
    assert here and all(of.startswith(site_name(ONE)) and "2026-01-10" in of for of in here)
    assert all(c.of.endswith(" 2025-12") for c in done.computed if c.name.endswith("over sites"))


def test_a_rebuild_gives_the_same_bytes(programme):
    """After nights of news, everything made anew from the ledger alone is the same, byte for byte."""
    (programme / "inbox/club/survey-2.csv").write_text(SURVEY + surveyed(ONE, "C1", 1, 77))
    run.run_all(programme)
    (programme / "inbox/club/check-2.csv").write_text(
        "site_key,unit_key,happened,state,search_time_min\n" + looked_at(ONE, "2025-05-01", gone=5)
    )
    run.run_all(programme)
    step_by_step = tables(programme)
    shutil.rmtree(programme / "warehouse")
    shutil.rmtree(programme / "out")
    assert run.refresh(programme).computed and tables(programme) == step_by_step


def test_counts_are_grouped_alike_in_one_answer():
    """How many figures were computed, and how many of them for which reason, are written in the same way."""
    many = [Computed("density", str(n), "new") for n in range(1082)]
    assert in_short(many) == "1,082 figures computed: 1,082 new"
