"""A kind's columns, for people as a table and for programs as a Frictionless Table Schema."""

from typing import TYPE_CHECKING, Any

from pipeline.outputs.layout import WIDTH, table

if TYPE_CHECKING:  # the models load pandera; the caller has them already
    from schemas.kinds import Column, Kind

_FRICTIONLESS = {
    "text": "string",
    "whole": "integer",
    "decimal": "number",
    "day": "date",
    "instant": "datetime",
    "yesno": "boolean",
}


def columns_text(kind: "Kind", width: int = WIDTH) -> str:
    """The columns in order: name, whether needed, what is written, unit."""
    rows = [
        [c.name, "needed" if c.required else "", ", ".join(c.allowed) or c.type, c.unit, c.description]
        for c in kind.columns
    ]
    lines = [f"{kind.name}: {kind.doc}", "", f"Key: {' | '.join(kind.key)}", ""]
    return "\n".join([*lines, *table(["column", "", "written as", "unit", "meaning"], rows, width=width)]) + "\n"


def table_schema(kind: "Kind") -> dict[str, Any]:
    """The kind as a Frictionless Table Schema (version 1), with units and open-standard terms in each field."""
    schema: dict[str, Any] = {"name": kind.name, "title": kind.doc, "fields": [_field(c) for c in kind.columns]}
    keyed = all(kind.column(c).required for c in kind.key)
    if keyed:
        schema["primaryKey"] = list(kind.key)
    schema["missingValues"] = [""]
    return schema


def _field(c: "Column") -> dict[str, Any]:
    constraints: dict[str, Any] = {"required": True} if c.required else {}
    if c.allowed:
        constraints["enum"] = list(c.allowed)
    constraints |= c.limits
    field: dict[str, Any] = {
        "name": c.name,
        "type": _FRICTIONLESS[c.type],
        "title": c.title,
        "description": c.description,
    }
    if c.unit:
        field["unit"] = c.unit
    if c.term:
        field["rdfType"] = c.term
    if constraints:
        field["constraints"] = constraints
    return field
