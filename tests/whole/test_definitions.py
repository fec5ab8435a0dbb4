"""The nightly run through Dagster is the main path and nothing else."""

import pytest

from pipeline import run
from pipeline.starter import start

SITE = "site_key,name,latitude,longitude,datum,uncertainty_m,radius_m,country\nA,Ay,39.1,-9.4,EPSG:4326,5,80,PT\n"

# Dagster warns of its own parts that are still in preview or beta.
pytestmark = [
    pytest.mark.filterwarnings("ignore::Warning:dagster"),
    pytest.mark.filterwarnings("ignore::DeprecationWarning"),
]


@pytest.fixture
def two_programmes(tmp_path):
    """The same small programme twice."""
    for name in ("by_dagster", "by_hand"):
        start(tmp_path / name)
        (tmp_path / name / "inbox/programme/site.csv").write_text(SITE)
    return tmp_path / "by_dagster", tmp_path / "by_hand"


def test_dagster_gives_the_same_tables(two_programmes):
    """A night through Dagster writes the same bytes as one without it, and its check of the ledger passes."""
    import dagster as dg

    from pipeline.definitions import ProgrammeFolder, figures_and_letters, ledger, ledger_is_whole, projection

    by_dagster, by_hand = two_programmes
    done = dg.materialize(
        [ledger, ledger_is_whole, projection, figures_and_letters],
        resources={"programme": ProgrammeFolder(folder=str(by_dagster))},
    )
    run.run_all(by_hand)
    assert done.success
    assert [e.passed for e in done.get_asset_check_evaluations()] == [True]
    for table in ("figures.parquet", "indicators.csv"):
        assert (by_dagster / "out" / table).read_bytes() == (by_hand / "out" / table).read_bytes()


def test_definitions_load(monkeypatch, tmp_path):
    """The definitions hold the job, its schedule and the in-process executor."""
    monkeypatch.setenv("WRACKLINE_PROGRAMME", str(tmp_path))
    from pipeline.definitions import defs

    loaded = defs()
    assert loaded.resolve_job_def("night")
    assert loaded.schedules is not None and len(list(loaded.schedules)) == 1
    assert loaded.executor is not None and "in_process" in loaded.executor.name
