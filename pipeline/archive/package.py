"""The same tables as a Frictionless data package (version 1), and a data dictionary of the indicators."""

import json
from collections.abc import Mapping, Sequence
from typing import Any

import pyarrow as pa

from pipeline.archive.columns import EVENT, FACT, HUMBOLDT, OCCURRENCE, TABLES, Table

Text = tuple[int, str]  # bytes of a table's text, and their SHA-256
SPDX = "https://spdx.org/licenses/"
_TO_EVENT = {"fields": "eventID", "reference": {"resource": "event", "fields": "eventID"}}
_KEYS = {
    EVENT.name: [{"fields": "parentEventID", "reference": {"resource": "", "fields": "eventID"}}],
    OCCURRENCE.name: [_TO_EVENT],
    FACT.name: [_TO_EVENT, {"fields": "occurrenceID", "reference": {"resource": "occurrence", "fields": "occurrenceID"}}],
    HUMBOLDT.name: [_TO_EVENT],
}  # fmt: skip
_ARROW = {pa.string(): "string", pa.float64(): "number", pa.int64(): "integer", pa.date32(): "date"}


def datapackage(
    name: str, title: str, licence: str, version: int, texts: Mapping[str, Text], more: Mapping[str, pa.Schema]
) -> bytes:
    """datapackage.json: every table with its schema. texts: of every table; more: tables beside those of the archive, by name."""
    resources = [_resource(t.name, texts[t.name], _schema(t)) for t in TABLES]
    resources += [_resource(n, texts[n], {"fields": _fields(s), "missingValues": [""]}) for n, s in more.items()]
    told = {
        "profile": "tabular-data-package",
        "name": name,
        "title": title,
        "version": str(version),
        "licenses": [{"name": licence, "path": f"{SPDX}{licence}.html"}],
        "resources": resources,
    }
    return (json.dumps(told, indent=1, ensure_ascii=False) + "\n").encode()


def _resource(name: str, text: Text, schema: dict[str, Any]) -> dict[str, Any]:
    return {
        "name": name,
        "path": f"{name}.csv",
        "profile": "tabular-data-resource",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "bytes": text[0],
        "hash": f"sha256:{text[1]}",
        "schema": schema,
    }


def _schema(table: Table) -> dict[str, Any]:
    fields = [{"name": c.name, "type": c.type, **({"rdfType": c.term} if c.term else {})} for c in table.columns]
    return {"fields": fields, "primaryKey": table.key, "foreignKeys": _KEYS[table.name], "missingValues": [""]}


def _fields(schema: pa.Schema) -> list[dict[str, Any]]:
    return [{"name": f.name, "type": _ARROW[f.type]} for f in schema]


def dictionary(entries: Sequence[tuple[str, str, str, str, str, str, str]]) -> pa.Table:
    """What each indicator means: name, title, unit, formula, estimator, source, limits."""
    names = ("indicator", "title", "unit", "formula", "estimator", "source", "limits")
    columns = [list(c) for c in zip(*entries, strict=True)] or [[] for _ in names]
    return pa.table(dict(zip(names, columns, strict=True)), schema=pa.schema([(n, pa.string()) for n in names]))
