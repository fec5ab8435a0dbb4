"""The three indicators as an analyst would write them over the partners' files: no checks, no ledger, plain means.

What a programme could have without Wrackline, and so a baseline of what its work costs: recruits per m2 by site and
plot at the last round, with a normal interval; the fraction of bags still attached at the last look before a day
(Wald); and cash per hectare. It trusts every row, takes no row back, knows no second partner and no order of arrival.
"""

import sys
from pathlib import Path

import polars as pl

DAY = 21


def main(inbox: Path) -> tuple[pl.DataFrame, pl.DataFrame, pl.DataFrame]:
    """Density, retention and cost from the files below an inbox."""
    surveys = pl.scan_csv(inbox / "*/survey.csv", try_parse_dates=True)
    checks = pl.scan_csv(inbox / "*/check.csv", try_parse_dates=True)
    down = pl.scan_csv(inbox / "*/deployment.csv", try_parse_dates=True)
    plots = pl.scan_csv(inbox / "programme/plot.csv")
    costs = pl.scan_csv(inbox / "*/cost.csv")

    frames = surveys.filter(pl.col("happened") == pl.col("happened").max().over("site_key")).with_columns(
        per_m2=pl.col("count") / pl.col("area_m2")
    )
    density = frames.group_by("site_key", "plot_key", "species", "stage").agg(
        pl.len(), pl.col("per_m2").mean(), half=1.96 * pl.col("per_m2").std() / pl.len().sqrt()
    )
    looks = checks.join(down.select("unit_key", "site_key", down="happened"), on=["unit_key", "site_key"]).with_columns(
        age=(pl.col("happened") - pl.col("down")).dt.total_days()
    )
    last = looks.filter(pl.col("age") <= DAY).sort("happened").group_by("site_key", "unit_key").last()
    retention = (
        last.group_by("site_key")
        .agg(n=pl.len(), kept=(pl.col("state") == "attached").mean())
        .with_columns(half=1.96 * (pl.col("kept") * (1 - pl.col("kept")) / pl.col("n")).sqrt())
    )
    areas = plots.filter(pl.col("plot_kind") == "treated").group_by("site_key").agg(pl.col("area_m2").sum())
    spent = costs.group_by(site_key="for_key").agg(pl.col("amount").sum())
    cost = spent.join(areas, on="site_key").with_columns(per_ha=pl.col("amount") / pl.col("area_m2") * 10_000)
    return tuple(pl.collect_all([density, retention, cost]))


if __name__ == "__main__":
    for table in main(Path(sys.argv[1])):
        print(table)
