"""Published places and figures for maps: GeoJSON (RFC 7946) and GeoParquet 1.1, in longitude and latitude of WGS 84."""

import json
import struct
from collections.abc import Sequence
from textwrap import indent
from typing import IO, Any, TextIO

import pyarrow as pa
import pyarrow.parquet as pq

BATCH = 5000  # rows in memory at once as a map's program wants them
Point = tuple[str, str]  # longitude, latitude, as published


def write_geojson(rows: pa.Table, points: Sequence[Point], file: TextIO) -> None:
    """A feature for each row, at its point."""
    between, placed = "", iter(points)
    file.write('{\n "type": "FeatureCollection",\n "features": [')
    for batch in rows.to_batches(BATCH):
        for row in batch.to_pylist():
            x, y = map(float, next(placed))
            told = {"type": "Feature", "geometry": {"type": "Point", "coordinates": [x, y]}, "properties": row}
            text = json.dumps(told, ensure_ascii=False, indent=1, default=str)
            file.write(f"{between}\n{indent(text, '  ')}")
            between = ","
    file.write("\n ]\n}\n" if between else "]\n}\n")


def write_geoparquet(rows: pa.Table, points: Sequence[Point], file: IO[bytes]) -> None:
    """The rows with a column `geometry` of points (WKB), and the metadata that makes them GeoParquet."""
    wkb = [struct.pack("<BIdd", 1, 1, float(x), float(y)) for x, y in points]
    column: dict[str, Any] = {"encoding": "WKB", "geometry_types": ["Point"]}
    if points:
        xs, ys = [float(x) for x, _ in points], [float(y) for _, y in points]
        column["bbox"] = [min(xs), min(ys), max(xs), max(ys)]
    told = {"version": "1.1.0", "primary_column": "geometry", "columns": {"geometry": column}}
    made = rows.append_column("geometry", pa.array(wkb, pa.binary()))
    made = made.replace_schema_metadata({"geo": json.dumps(told, sort_keys=True)})
    pq.write_table(made, file, compression="zstd")
