"""Every kind by name, and what the rest of the project asks of a kind."""

import datetime as dt
from dataclasses import dataclass
from functools import cache
from typing import Any

import polars as pl

from schemas import looking, planting, registers, settling
from schemas.base import Register
from schemas.library import pa

MODELS: tuple[type[pa.DataFrameModel], ...] = (
    registers.Site, registers.Plot, registers.Bed, registers.Permit,
    planting.Collection, planting.Handling, planting.Deployment, planting.Treatment,
    looking.Visit, looking.Survey, looking.Check, looking.Loss, looking.Reading,
    settling.Cost, settling.Withdrawal, settling.Ruling,
)  # fmt: skip


@dataclass(frozen=True)
class Column:
    """One column as declared: `type` is one of text, whole, decimal, day, instant, yesno."""

    name: str
    type: str
    places: int
    title: str
    description: str
    required: bool
    unit: str
    term: str
    refers: str
    several: bool
    example: str
    allowed: tuple[str, ...]
    limits: dict[str, Any]


@dataclass(frozen=True)
class Kind:
    """A kind of event: its columns in order, its key, and the checks of its shape (a pandera schema).

    register: whether it is one of the things that other events name, not something that happened in the sea.
    """

    name: str
    doc: str
    version: int
    key: tuple[str, ...]
    shared: bool
    happened_from: str
    keyed_by_content: bool
    register: bool
    columns: tuple[Column, ...]
    schema: Any

    def column(self, name: str) -> Column:
        """The column of that name; KeyError if there is none."""
        return {c.name: c for c in self.columns}[name]


_TYPES: dict[Any, str] = {
    pl.String: "text",
    pl.Int64: "whole",
    pl.Date: "day",
    pl.Datetime: "instant",
    pl.Boolean: "yesno",
}


def _limits(field: Any) -> dict[str, Any]:
    """The column's limits in the words of a Frictionless Table Schema: minimum, maximum, pattern."""
    found: dict[str, Any] = {}
    for check in field.checks:
        told = check.statistics
        if check.name in ("greater_than_or_equal_to", "in_range"):
            found["minimum"] = told["min_value"]
        if check.name in ("less_than_or_equal_to", "in_range"):
            found["maximum"] = told["max_value"]
        if check.name == "greater_than":
            found["exclusiveMinimum"] = told["min_value"]
        if check.name == "str_matches":
            found["pattern"] = getattr(told["pattern"], "pattern", told["pattern"])
    return {k: v.isoformat() if isinstance(v, dt.date) else v for k, v in found.items()}


def _column(name: str, field: Any) -> Column:
    dtype, meta = field.dtype.type, field.metadata
    decimal = isinstance(dtype, pl.Decimal)
    allowed = next((tuple(c.statistics["allowed_values"]) for c in field.checks if c.name == "isin"), ())
    return Column(
        name=name,
        type="decimal" if decimal else _TYPES[dtype if isinstance(dtype, type) else type(dtype)],
        places=dtype.scale if decimal else 0,
        title=field.title,
        description=field.description,
        allowed=allowed,
        limits=_limits(field),
        **meta,
    )


def _kind(model: type[pa.DataFrameModel]) -> Kind:
    schema = model.to_schema()
    facts: dict[str, Any] = dict(model.Config.metadata or {})
    return Kind(
        name=str(schema.name),
        doc=(model.__doc__ or "").strip(),
        columns=tuple(_column(str(n), f) for n, f in schema.columns.items()),
        schema=schema,
        register=issubclass(model, Register),
        **facts,
    )


@cache
def all_kinds() -> dict[str, Kind]:
    """Every kind by its name, registers first."""
    return {k.name: k for k in map(_kind, MODELS)}
