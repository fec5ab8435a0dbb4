"""The figures as one table, in measurement-or-fact terms (Darwin Core), as Parquet and as CSV."""

import csv
import datetime as dt
import io
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq

from pipeline import disk
from pipeline.indicators.catalogue import CATALOGUE
from pipeline.indicators.estimate import Estimate
from pipeline.indicators.figure import Figure, scope

# What a figure is of -> its column: Darwin Core's name where there is one.
SCOPED = {
    "site": "locationID", "plot_kind": "plotKind", "species": "scientificName", "stage": "lifeStage", "survey": "surveyFrom",
    "protocol": "samplingProtocol", "placed": "placed", "method": "plantingMethod", "day": "day", "against": "comparedWith",
    "cohort": "cohort", "since": "comparedSince", "fixing": "fixing", "substrate": "substrate", "depth": "depthBand",
    "partner": "partner", "category": "category", "key": "shareKey", "bed": "donorBed", "batch": "batch",
    "permit": "permit", "logger": "logger", "season": "season", "rule": "rule", "material": "material",
    "event": "eventFrom", "phase": "phase", "step": "handlingStep",
}  # fmt: skip
COLUMNS = pa.schema(
    [
        ("figureID", pa.string()),
        ("measurementType", pa.string()),
        ("measurementValue", pa.float64()),
        ("measurementUnit", pa.string()),
        ("measurementMethod", pa.string()),
        ("measurementRemarks", pa.string()),
        ("low", pa.float64()),
        ("high", pa.float64()),
        ("valueFrom", pa.float64()),
        ("valueTo", pa.float64()),
        ("n", pa.int64()),
        ("nOf", pa.string()),
        ("estimator", pa.string()),
        ("state", pa.string()),
        ("asOf", pa.date32()),
        ("cautions", pa.string()),
        *((n, pa.int64() if n == "day" else pa.string()) for n in SCOPED.values()),
    ]
)


def as_row(figure: Figure, as_of: dt.date) -> dict[str, Any]:
    """One figure as a row of the table; `measurementValue` is null unless the estimate has one value."""
    e = figure.estimate
    meaning = CATALOGUE[figure.indicator]
    return {
        "figureID": figure.id,
        "measurementType": figure.indicator,
        "measurementValue": e.value,
        "measurementUnit": e.unit,
        "measurementMethod": meaning.formula,
        "measurementRemarks": e.note or None,
        "low": e.low,
        "high": e.high,
        "valueFrom": e.value_from,
        "valueTo": e.value_to,
        "n": e.n,
        "nOf": e.n_of,
        "estimator": e.estimator,
        "state": e.state,
        "asOf": as_of,
        "cautions": " | ".join(e.cautions) or None,
        **{
            column: int(of) if (of := figure.of(name)) and name == "day" else of or None
            for name, column in SCOPED.items()
        },
    }


def write_tables(figures: Sequence[Figure], as_of: dt.date, out: Path) -> None:
    """out/figures.parquet and out/indicators.csv: the same rows in the same order, the same bytes for the same figures."""
    rows = [as_row(f, as_of) for f in figures]
    disk.make_folder(out)
    parquet = pa.BufferOutputStream()
    pq.write_table(pa.Table.from_pylist(rows, COLUMNS), parquet, compression="zstd")
    disk.replace(out / "figures.parquet", parquet.getvalue().to_pybytes())
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(COLUMNS.names)
    writer.writerows([plain_cell(r[name]) for name in COLUMNS.names] for r in rows)
    disk.replace(out / "indicators.csv", text.getvalue().encode())


def read_figures(out: Path, name: str = "figures.parquet") -> list[dict[str, Any]]:
    """The rows that `write_tables` wrote, or a copy of them of another name; an empty list when there are none."""
    path = out / name
    return pq.read_table(path).to_pylist() if path.is_file() else []


def figure_from(row: dict[str, Any]) -> Figure:
    """The figure that a row of the table tells of."""
    estimate = Estimate(
        state=row["state"], unit=row["measurementUnit"], n=row["n"], n_of=row["nOf"], estimator=row["estimator"],
        value=row["measurementValue"], low=row["low"], high=row["high"], value_from=row["valueFrom"],
        value_to=row["valueTo"], note=row["measurementRemarks"] or "",
        cautions=tuple((row["cautions"] or "").split(" | ")) if row["cautions"] else (),
    )  # fmt: skip
    # a table written before a column was added lacks it
    what = scope(**{name: row.get(column) for name, column in SCOPED.items()})
    return Figure(row["measurementType"], what, estimate)


def plain_cell(value: Any) -> str:
    """A cell that no spreadsheet program takes for a formula, whatever a partner called its site."""
    if value is None:
        return ""
    text = repr(value) if isinstance(value, float) else str(value)
    return "'" + text if isinstance(value, str) and text[:1] in ("=", "+", "-", "@", "\t", "\r") else text
