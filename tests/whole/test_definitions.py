"""Dagster's side of the nights: definitions that Dagster itself finds sound, the schedule, the sensor and the hooks."""

import datetime as dt
import warnings
from pathlib import Path

import pytest

from pipeline import alerts, inboxes, night
from pipeline.groups import GROUPS, LATER, name_of
from pipeline.recipes import recipe
from pipeline.starter import start

# Dagster warns of its own parts that are still in preview or beta.
pytestmark = [
    pytest.mark.filterwarnings("ignore::Warning:dagster"),
    pytest.mark.filterwarnings("ignore::DeprecationWarning"),
]
NIGHT = dt.datetime(2025, 7, 2, 3, 30, tzinfo=dt.UTC)


@pytest.fixture(scope="module")
def root(tmp_path_factory):
    """A programme in Lisbon whose nights begin at half past four."""
    folder = tmp_path_factory.mktemp("definitions") / "p"
    start(folder)
    rules = (folder / "programme.toml").read_text().replace('"UTC"', '"Europe/Lisbon"')
    (folder / "programme.toml").write_text(rules + '\n[night]\nat = "04:30"\nretries = 1\nretry_after_s = 0\n')
    return folder


@pytest.fixture(scope="module")
def loaded(root):
    """The definitions as Dagster loads them for that programme."""
    from pipeline.definitions import defs

    with pytest.MonkeyPatch.context() as patch, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        patch.setenv("WRACKLINE_PROGRAMME", str(root))
        return defs()


def test_dagster_finds_the_definitions_sound(loaded, monkeypatch):
    """Dagster's own validation passes, with a programme and without one, and every step and check of the night is there."""
    import dagster as dg

    from pipeline.definitions import defs

    dg.Definitions.validate_loadable(loaded)
    monkeypatch.delenv("WRACKLINE_PROGRAMME", raising=False)
    dg.Definitions.validate_loadable(defs())
    keys = {k.to_user_string() for k in loaded.resolve_asset_graph().get_all_asset_keys()}
    assert keys == {name for step in night.STEPS for name in step.assets}
    checks = {k.name for k in loaded.resolve_asset_graph().asset_check_keys}
    assert checks == {c.name for s in night.STEPS for c in s.checks} and len(checks) >= 4
    assert loaded.executor is not None and "in_process" in loaded.executor.name


def test_every_group_of_indicators_is_an_asset():
    """The names that a night gives to groups are those of their modules, in order."""
    assert tuple(name_of(g) for g in (*GROUPS, *LATER)) == night.GROUPS


def test_the_schedule_goes_by_the_programmes_clock(loaded):
    """A night begins at the programme's own time in its own zone, by itself, and is told whose night it is."""
    import dagster as dg

    [schedule] = loaded.schedules
    assert (schedule.cron_schedule, schedule.execution_timezone) == ("30 4 * * *", "Europe/Lisbon")
    assert schedule.default_status == dg.DefaultScheduleStatus.RUNNING
    with dg.DagsterInstance.ephemeral() as instance:
        told = schedule.evaluate_tick(dg.build_schedule_context(instance, scheduled_execution_time=NIGHT))
    assert [r.tags["wrackline/day"] for r in told.run_requests] == ["2025-07-02"]


def test_a_growing_file_waits_and_nothing_runs_twice(root):
    """The sensor waits while a file grows, asks for one run when it rests, and names the same news by the same key."""
    import dagster as dg

    from pipeline.definitions import ProgrammeFolder, new_drops

    path, memory = root / "inbox/programme/site.csv", ""

    def look() -> str:
        """One look of the sensor: the key of the run that it asks for, or why it asks for none."""
        nonlocal memory
        with dg.DagsterInstance.ephemeral() as instance:
            context = dg.build_sensor_context(
                instance, memory, resources={"programme": ProgrammeFolder(folder=str(root))}, sensor_name="new_drops"
            )
            told = new_drops.evaluate_tick(context)
        memory = told.cursor
        return told.run_requests[0].run_key if told.run_requests else told.skip_message

    assert look() == "nothing new"
    path.write_text("site_key,na")
    assert look() == "still growing: programme/site.csv"
    path.write_text("site_key,name\n")
    assert look() == "still growing: programme/site.csv"
    key = look()
    assert len(key) == 64 and look() == key
    path.rename(path.with_name("other.csv"))
    assert look() == "still growing: programme/other.csv" and look() == key
    assert inboxes.look(root, "no memory at all").growing == ("programme/other.csv",)
    (root / "inbox/programme/other.csv").unlink()


def test_a_run_that_died_is_told_of_and_forgotten_when_the_next_ends_well(root):
    """The hook on failed runs lets an alert stand that says why, also for a killed process; a good night takes it away."""
    import dagster as dg

    from pipeline.definitions import JOB, ProgrammeFolder, tell_of_failure, tell_of_success

    @dg.op
    def stopped() -> None:
        raise dg.Failure("The disk is full.")

    @dg.job(name="night")
    def failing() -> None:
        stopped()

    programme = ProgrammeFolder(folder=str(root))
    with dg.DagsterInstance.ephemeral() as instance:
        done = failing.execute_in_process(
            instance=instance, raise_on_error=False, tags={"wrackline/day": "2025-07-02"},
            run_config={"loggers": {"console": {"config": {"log_level": "CRITICAL"}}}},
        )  # fmt: skip
        run = instance.get_run_by_id(done.run_id)
        event = next(e for e in done.all_events if e.is_run_failure)
        context = dg.build_run_status_sensor_context("tell_of_failure", event, instance, run)
        tell_of_failure(context.for_run_failure(), programme=programme)
        assert "night of 2025-07-02 did not come to its end: dagster" in alerts.standing(root)[night.FAILED]
        assert "The disk is full." in alerts.standing(root)[night.FAILED]
        tell_of_success(
            dg.build_run_status_sensor_context("tell_of_success", event, instance, run), programme=programme
        )
    assert night.FAILED not in alerts.standing(root) and JOB.name == "night"


def test_what_the_world_hinders_is_tried_again(root, monkeypatch):
    """A step that another run keeps waiting once is played again, by hand and through Dagster; what is wrong stays wrong."""
    from dataclasses import replace

    from pipeline import definitions
    from pipeline.errors import BadUsage, Busy

    tries = []

    def hindered(_: night.Night) -> night.Done:
        tries.append(1)
        if len(tries) == 1:
            raise Busy("another run is at work")
        raise BadUsage("this will not change")

    monkeypatch.setattr(night, "STEPS", (replace(night.STEPS[0], do=hindered),))
    for how in (
        lambda: night.play(root, NIGHT.date(), steps=night.STEPS),
        lambda: definitions.play(root, NIGHT.date()),
    ):
        tries.clear()
        with pytest.raises(BadUsage):
            how()
        assert len(tries) == 2


def test_operators_read_small_tables(tmp_path):
    """Metadata hold numbers, a markdown table that no partner's name can break out of, and paths to open."""
    from pipeline.definitions import _metadata

    told = night.Told({"new drops": 1}, (("drop", "held"), ("club/a|b<i>[x](y).csv", "2")), (Path("out/letters"),))
    made = _metadata(told)
    assert made["new drops"] == 1 and made["letters"].value == "out/letters"
    assert made["table"].value.splitlines()[2] == "| club/a\\|b\\<i\\>\\[x\\](y).csv | 2 |"


def test_our_own_dagster_yaml_is_dagsters(root, tmp_path, monkeypatch):
    """The settings that the recipe writes are accepted by Dagster, turn telemetry off and let one night run at a time."""
    from dagster._core.instance.config import dagster_instance_config

    (tmp_path / "dagster.yaml").write_text(recipe(root, "dagster")["dagster.yaml"])
    config, _ = dagster_instance_config(str(tmp_path))
    assert config["telemetry"] == config["nux"] == {"enabled": False}
    assert config["concurrency"]["runs"]["max_concurrent_runs"] == 1
