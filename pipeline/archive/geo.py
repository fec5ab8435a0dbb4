"""Published places and figures for maps: GeoJSON (RFC 7946) and GeoParquet 1.1, in longitude and latitude of WGS 84."""

import json
import struct
from collections.abc import Mapping, Sequence
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq

Point = tuple[str, str]  # longitude, latitude, as published


def geojson(rows: Sequence[Mapping[str, Any]], points: Sequence[Point]) -> bytes:
    """A feature for each row, at its point."""
    features = [
        {"type": "Feature", "geometry": {"type": "Point", "coordinates": [float(x), float(y)]}, "properties": dict(row)}
        for row, (x, y) in zip(rows, points, strict=True)
    ]
    told = {"type": "FeatureCollection", "features": features}
    return (json.dumps(told, ensure_ascii=False, indent=1, default=str) + "\n").encode()


def geoparquet(rows: pa.Table, points: Sequence[Point]) -> bytes:
    """The rows with a column `geometry` of points (WKB), and the metadata that makes them GeoParquet."""
    wkb = [struct.pack("<BIdd", 1, 1, float(x), float(y)) for x, y in points]
    column: dict[str, Any] = {"encoding": "WKB", "geometry_types": ["Point"]}
    if points:
        xs, ys = [float(x) for x, _ in points], [float(y) for _, y in points]
        column["bbox"] = [min(xs), min(ys), max(xs), max(ys)]
    told = {"version": "1.1.0", "primary_column": "geometry", "columns": {"geometry": column}}
    made = rows.append_column("geometry", pa.array(wkb, pa.binary()))
    made = made.replace_schema_metadata({"geo": json.dumps(told, sort_keys=True)})
    out = pa.BufferOutputStream()
    pq.write_table(made, out, compression="zstd")
    data: bytes = out.getvalue().to_pybytes()
    return data
