"""Dagster over the main path: the functions of `run.py` as assets, the ledger's wholeness as a blocking check.

The programme's folder is named by the environment variable WRACKLINE_PROGRAMME. One file is written by several
assets, so they run in one process, one after the other.
"""

from pathlib import Path

import dagster as dg

from pipeline import look, run
from pipeline.indicators.remember import in_short


class ProgrammeFolder(dg.ConfigurableResource):  # type: ignore[type-arg]  # its own value is never asked for
    """Where the programme lies."""

    folder: str

    @property
    def root(self) -> Path:
        """The folder as a path."""
        return Path(self.folder)


@dg.asset(group_name="night")
def ledger(context: dg.AssetExecutionContext, programme: ProgrammeFolder) -> dg.MaterializeResult[None]:
    """Take in every file of the inboxes that is not known yet."""
    took = run.take(programme.root, context.log.info)
    return dg.MaterializeResult(
        metadata={
            "files looked at": took.looked_at,
            "new drops": len([e for e in took.entries if e.drop]),
            "entered": sum(e.receipt.entered for e in took.entries),
            "held": took.held,
            "left for the next run": took.left,
        }
    )


@dg.asset_check(asset=ledger, blocking=True)
def ledger_is_whole(programme: ProgrammeFolder) -> dg.AssetCheckResult:
    """Entries follow from one another, and every file they name is there with its size."""
    verdict = look.verify(programme.root, light=True)
    return dg.AssetCheckResult(passed=not verdict.wrong, metadata={"wrong": verdict.wrong, "entries": verdict.entries})


@dg.asset(group_name="night", deps=[ledger])
def projection(context: dg.AssetExecutionContext, programme: ProgrammeFolder) -> dg.MaterializeResult[None]:
    """Bring the DuckDB projection up to the ledger's head."""
    return dg.MaterializeResult(metadata={"changed": run.project(programme.root, context.log.info)})


@dg.asset(group_name="night", deps=[projection])
def figures_and_letters(context: dg.AssetExecutionContext, programme: ProgrammeFolder) -> dg.MaterializeResult[None]:
    """Measure, write the tables, and answer every drop with a letter."""
    done = run.publish(programme.root, context.log.info)
    return dg.MaterializeResult(
        metadata={"figures": done.figures, "computed anew": in_short(done.computed), "letters": done.letters}
    )


night = dg.define_asset_job("night", selection=dg.AssetSelection.groups("night"))


@dg.definitions
def defs() -> dg.Definitions:
    """Everything Dagster needs to know."""
    return dg.Definitions(
        assets=[ledger, projection, figures_and_letters],
        asset_checks=[ledger_is_whole],
        jobs=[night],
        schedules=[dg.ScheduleDefinition(job=night, cron_schedule="0 3 * * *")],
        resources={"programme": ProgrammeFolder(folder=dg.EnvVar("WRACKLINE_PROGRAMME"))},
        executor=dg.in_process_executor,
    )
