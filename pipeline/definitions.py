"""Dagster over `night.py`: each step of its list an op with its assets and checks, a schedule, a sensor, and hooks.

The programme's folder is named by the environment variable WRACKLINE_PROGRAMME. One file is written by several
assets, so they run in one process, one after the other. The whole night is not parted by partner: drops of one take-in
are judged together, and every figure rests on all of them.
"""

import datetime as dt
import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import dagster as dg

from pipeline import inboxes, night, run
from pipeline.errors import Stop
from pipeline.programme import open_programme

DAY = "wrackline/day"  # the tag of a run that says whose night it is
LOOK_EVERY_S = 30


class ProgrammeFolder(dg.ConfigurableResource):  # type: ignore[type-arg]  # its own value is never asked for
    """Where the programme lies."""

    folder: str

    @property
    def root(self) -> Path:
        """The folder as a path."""
        return Path(self.folder)


@dataclass(frozen=True)
class Heard:
    """Where the programme lies, and who hears what is said, for a night that is played in this process."""

    root: Path
    say: run.Say


# --- assets and checks ----------------------------------------------------------------------------------------


def _assets(step: night.Step) -> dg.AssetsDefinition:
    """A step as one op that makes its assets and looks at them. What the world hinders is tried again."""

    @dg.multi_asset(
        name=f"do_{step.name}",
        specs=[
            dg.AssetSpec(name, deps=step.after, group_name="night", description=step.do.__doc__) for name in step.assets
        ],
        check_specs=[
            dg.AssetCheckSpec(c.name, asset=step.assets[0], blocking=c.blocking, description=c.do.__doc__)
            for c in step.checks
        ],
    )
    def made(
        context: dg.AssetExecutionContext, programme: ProgrammeFolder
    ) -> Iterator[dg.MaterializeResult[None] | dg.AssetCheckResult]:
        rules = open_programme(programme.root).rules.night
        say = getattr(programme, "say", context.log.info)
        tonight = night.Night(programme.root, _day(context.run.tags, programme.root), say)
        try:
            done = night.do(step, tonight)
        except Stop as e:
            if night.worth_another_try(e):
                say(f"{step.name}: {e}")
                raise dg.RetryRequested(rules.retries, rules.retry_after_s) from e
            raise
        for name in step.assets:
            yield dg.MaterializeResult(asset_key=name, metadata=_metadata(done.assets[name]))
        for check, verdict in night.verdicts(step, tonight, done):
            yield dg.AssetCheckResult(
                passed=not verdict.wrong,
                check_name=check.name,
                asset_key=step.assets[0],
                severity=dg.AssetCheckSeverity.WARN if check.warning else dg.AssetCheckSeverity.ERROR,
                description=" ".join(verdict.wrong[:20]) or None,
                metadata={"wrong": len(verdict.wrong), **verdict.counts},
            )
            if verdict.wrong and check.blocking:
                raise night.refusal(check, verdict)

    return made


def _day(tags: Mapping[str, str], root: Path) -> dt.date:
    return dt.date.fromisoformat(tags[DAY]) if DAY in tags else run.tonight(open_programme(root))


def _metadata(told: night.Told) -> dict[str, Any]:
    """Numbers as they are, the table as markdown, a link to each file."""
    made: dict[str, Any] = dict(told.counts)
    if told.table:
        head, *rows = ["| " + " | ".join(_cell(c) for c in row) + " |" for row in told.table[:51]]
        made["table"] = dg.MetadataValue.md("\n".join([head, "|" + " --- |" * len(told.table[0]), *rows]))
    return {**made, **{path.name: dg.MetadataValue.path(str(path)) for path in told.links}}


def _cell(text: str) -> str:
    """A partner's text as one cell: it can neither end the cell nor begin markup."""
    return "".join(f"\\{c}" if c in "\\|`*_[]<>!#&" else c if c.isprintable() else " " for c in text)


# --- when it runs ---------------------------------------------------------------------------------------------

JOB = dg.define_asset_job("night", selection=dg.AssetSelection.groups("night"))


def _schedule(root: Path | None) -> dg.ScheduleDefinition:
    """Every night, at the programme's own time of its own time zone; the run is told whose night it is."""
    rules = open_programme(root).rules if root else None
    zone, at = (str(rules.zone), rules.night.at) if rules else ("UTC", dt.time(3))

    def tags(context: dg.ScheduleEvaluationContext) -> Mapping[str, str]:
        return {DAY: context.scheduled_execution_time.date().isoformat()}

    return dg.ScheduleDefinition(
        name="every_night",
        job=JOB,
        cron_schedule=f"{at.minute} {at.hour} * * *",
        execution_timezone=zone,
        tags_fn=tags,
        default_status=dg.DefaultScheduleStatus.RUNNING,
    )


@dg.sensor(
    name="new_drops",
    job=JOB,
    minimum_interval_seconds=LOOK_EVERY_S,
    default_status=dg.DefaultSensorStatus.RUNNING,
)
def new_drops(context: dg.SensorEvaluationContext, programme: ProgrammeFolder) -> dg.RunRequest | dg.SkipReason:
    """A run when the inboxes hold news at rest; what still grows waits, and the same news never runs twice."""
    seen = inboxes.look(programme.root, context.cursor or "")
    context.update_cursor(seen.memory)
    if not seen.news:
        return dg.SkipReason(f"still growing: {', '.join(seen.growing)}" if seen.growing else "nothing new")
    return dg.RunRequest(run_key=seen.key)


@dg.run_failure_sensor(name="tell_of_failure", monitored_jobs=[JOB], default_status=dg.DefaultSensorStatus.RUNNING)
def tell_of_failure(context: dg.RunFailureSensorContext, programme: ProgrammeFolder) -> None:
    """An alert when a night failed, also one whose process was killed."""
    night.failed(programme.root, _day(context.dagster_run.tags, programme.root), _why(context), context.log.info)


@dg.run_status_sensor(
    name="tell_of_success",
    run_status=dg.DagsterRunStatus.SUCCESS,
    monitored_jobs=[JOB],
    default_status=dg.DefaultSensorStatus.RUNNING,
)
def tell_of_success(context: dg.RunStatusSensorContext, programme: ProgrammeFolder) -> None:
    """The alert falls when a night came to its end."""
    night.came_to_its_end(programme.root, context.log.info)


def _why(context: dg.RunFailureSensorContext) -> str:
    """What stopped the run: the fault of its first step that failed, without the trace."""
    for event in context.get_step_failure_events():
        error = getattr(event.event_specific_data, "error", None)
        while error is not None and error.cause is not None:
            error = error.cause
        if error is not None:
            return str(error.message).strip()
    return context.failure_event.message or "its process ended"


# --- played in this process -----------------------------------------------------------------------------------


def play(root: Path, day: dt.date | None = None, say: run.Say = run.silent) -> int:
    """The whole night through Dagster, in this process and kept nowhere else; the exit code of `night.play`."""
    day = day or run.tonight(open_programme(root))
    with dg.DagsterInstance.ephemeral() as instance:
        try:
            done = (
                _definitions(root)
                .resolve_job_def("night")
                .execute_in_process(
                    instance=instance,
                    tags={DAY: day.isoformat()},
                    resources={"programme": Heard(root, say)},
                    run_config={"loggers": {"console": {"config": {"log_level": "CRITICAL"}}}},
                )
            )
        except Exception as e:
            stop = _stop_in(e)
            if stop is None:
                night.failed(root, day, f"{type(e).__name__}: {e}", say)
                raise
            night.failed(root, day, str(stop), say)
            raise stop from e
    night.came_to_its_end(root, say)
    wrong = {
        c.check_name
        for c in done.get_asset_check_evaluations()
        if not c.passed and c.severity == dg.AssetCheckSeverity.ERROR
    }
    codes = [c.code for step in night.STEPS for c in step.checks if c.name in wrong]
    [told] = done.asset_materializations_for_node("do_changed")
    held = told.metadata["held tonight"].value
    return next(iter(codes), night.HELD if held else night.FINE)


def _stop_in(e: BaseException | None) -> Stop | None:
    """The Stop that a failure of Dagster's was made of."""
    seen = set[int]()
    while e is not None and not isinstance(e, Stop) and id(e) not in seen:  # causes may go in a circle
        seen.add(id(e))
        e = e.__cause__ or e.__context__
    return e if isinstance(e, Stop) else None


def _definitions(root: Path | None) -> dg.Definitions:
    folder = str(root) if root else dg.EnvVar("WRACKLINE_PROGRAMME")
    return dg.Definitions(
        assets=[_assets(step) for step in night.STEPS],
        jobs=[JOB],
        schedules=[_schedule(root)],
        sensors=[new_drops, tell_of_failure, tell_of_success],
        resources={"programme": ProgrammeFolder(folder=folder)},
        executor=dg.in_process_executor,
    )


@dg.definitions
def defs() -> dg.Definitions:
    """Everything Dagster needs to know."""
    told = os.environ.get("WRACKLINE_PROGRAMME", "")
    return _definitions(Path(told) if told else None)
