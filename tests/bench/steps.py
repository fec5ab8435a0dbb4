"""The steps that `bench.py` times: each is made ready first, and gives the work that is then timed."""

import datetime as dt
import shutil
from collections.abc import Callable
from contextlib import nullcontext
from pathlib import Path

import by_hand
from many_sites import can_see, looked_at, opened, site_name

from pipeline import run
from seeds_demo.network import make_programme

Work = Callable[[], str]


def make(folder: Path) -> Work:
    """The programme's drops, as many events as the folder is called after."""

    def work() -> str:
        make_programme(folder / "p", int(folder.name), seed=1)
        return ""

    return work


def convert(folder: Path) -> Work:
    """The bare conversion of every CSV file."""
    import duckdb

    def work() -> str:
        for path in sorted((folder / "p/inbox").rglob("*.csv")):
            made = folder / "converted" / path.relative_to(folder / "p/inbox").with_suffix(".parquet")
            made.parent.mkdir(parents=True, exist_ok=True)
            duckdb.sql(f"copy (from read_csv('{path}')) to '{made}' (format parquet, compression zstd)")
        return ""

    return work


def take(folder: Path) -> Work:
    """The whole take-in: read, check, judge, record."""
    return _take(folder / "p")


def take_parquet(folder: Path) -> Work:
    """The same of the Parquet files that `convert` made."""
    root = folder / "of-parquet"
    shutil.copytree(folder / "p", root, ignore=lambda *_: ["ledger", "warehouse", "out", "inbox"])
    shutil.copytree(folder / "converted", root / "inbox")
    return _take(root)


def _take(root: Path) -> Work:
    import pipeline.record
    from schemas.kinds import all_kinds

    all_kinds()

    def work() -> str:
        entries = run.take(root).entries
        held = sum(e.receipt.held for e in entries)
        return f"{sum(e.receipt.entered for e in entries):,} events entered of {len(entries)} drops, {held} held"

    return work


def read(folder: Path) -> Work:
    """One read of every column of every segment that a rebuild reads."""
    import duckdb

    def work() -> str:
        rows = 0
        for kind in sorted(p for p in (folder / "p/ledger/segments").iterdir() if p.name not in ("record", "asked")):
            files = f"read_parquet('{kind}/*.parquet', union_by_name=true, hive_partitioning=false)"
            [(n, _)] = duckdb.sql(f"select count(*), bit_xor(hash(t)) from {files} t").fetchall()
            rows += n
        return f"{rows:,} rows"

    return work


def group(folder: Path) -> Work:
    """One scan and group of the rows that the three main indicators rest on."""
    import duckdb

    def work() -> str:
        def of(kind: str, what: str, by: str) -> int:
            files = f"read_parquet('{folder}/p/ledger/segments/{kind}/*.parquet', union_by_name=true)"
            return len(duckdb.sql(f"select {by}, {what} from {files} group by {by}").fetchall())

        groups = of("survey", 'sum("count"), sum(area_m2), count(*)', "site_key, plot_key, species, stage, happened")
        groups += of("check", "min(happened), max(happened), count(*)", "site_key, unit_key, state")
        groups += of("deployment", "count(*)", "site_key, method") + of("cost", "sum(amount)", "for_key, form")
        return f"{groups:,} groups"

    return work


def analyst(folder: Path) -> Work:
    """The three indicators by a short script over the partners' files."""

    def work() -> str:
        return " + ".join(str(len(t)) for t in by_hand.main(folder / "p/inbox")) + " rows"

    return work


def project(folder: Path) -> Work:
    """The projection from nothing."""
    import pipeline.loading
    from schemas.kinds import all_kinds

    all_kinds()
    shutil.rmtree(folder / "p/warehouse", ignore_errors=True)

    def work() -> str:
        run.project(folder / "p")
        return ""

    return work


def of_group(name: str) -> Callable[[Path], Work]:
    """The figures of one group of indicators, with the views that they need; nothing is remembered."""

    def ready(folder: Path) -> Work:
        from pipeline import groups
        from pipeline.indicators.remember import Memory

        made = getattr(groups, name)

        def work() -> str:
            with run.session(folder / "p") as (con, rules):
                return f"{len(made.figures(con, rules, Memory())):,} figures"

        return work

    return ready


def rebuild(folder: Path) -> Work:
    """Projection, figures and letters from the ledger alone."""
    night = _night(folder)
    for made in ("warehouse", "out"):
        shutil.rmtree(folder / "p" / made, ignore_errors=True)
    return night


def quiet(folder: Path) -> Work:
    """A night without news."""

    def work() -> str:
        assert run.run_all(folder / "p")[1].figures == 0
        return ""

    return work


def one_drop(folder: Path) -> Work:
    """A night with one new drop, the first six bags of one site looked at once more; what it opens and computes."""
    heading = "site_key,unit_key,happened,state,search_time_min\n"
    [club] = [
        p.parent for p in (folder / "p/inbox").glob("*/deployment.csv") if f"\n{site_name(7)}-0," in p.read_text()
    ]
    (club / "check-more.csv").write_text(heading + looked_at(7, "2015-08-01", gone=5))
    return _night(folder)


def _night(folder: Path) -> Work:
    import pipeline.measure
    import pipeline.record

    segments = folder / "p/ledger/segments"

    def work() -> str:
        with opened(segments) if can_see else nullcontext(set()) as seen:
            _, done = run.run_all(folder / "p")
        of = len(list(segments.rglob("*.parquet")))
        return f"{len(seen)} of {of} segments opened, {len(done.computed)} of {done.figures} figures computed"

    return work


def archive(folder: Path) -> Work:
    """The archive of everything, and its gate."""
    import pipeline.archiving

    def work() -> str:
        made = run.archive(folder / "p", today=dt.date(2030, 1, 1))
        return ", ".join(f"{n:,} {what}" for what, n in made.rows.items())

    return work


def pages(folder: Path) -> Work:
    """Every page of the programme."""
    import pipeline.paging

    def work() -> str:
        return f"{run.pages(folder / 'p').files:,} files"

    return work


GROUPS = ("recruitment", "retention", "cost", "donors", "gear", "temperature", "planning")
STEPS: dict[str, Callable[[Path], Work]] = {
    "make": make, "convert": convert, "take": take, "take parquet": take_parquet, "read": read, "group": group, "analyst": analyst,
    "project": project, **{name: of_group(name) for name in GROUPS},
    "rebuild": rebuild, "quiet": quiet, "one drop": one_drop, "archive": archive, "pages": pages,
}  # fmt: skip
BASELINE = {
    "take": "convert", "take parquet": "convert", "analyst": "group", "project": "group",
    **dict.fromkeys(GROUPS, "group"), "rebuild": "analyst", "quiet": "read", "one drop": "read", "archive": "read", "pages": "read",
}  # fmt: skip
