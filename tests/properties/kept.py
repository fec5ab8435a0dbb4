"""A ledger's files read with pyarrow into lists of dictionaries, with no help from the project's own reading."""

import json
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pyarrow.parquet as pq

Row = dict[str, Any]
KINDS = (
    "site", "plot", "bed", "permit", "collection", "handling", "deployment", "treatment", "visit", "survey", "check",
    "loss", "reading", "cost", "withdrawal", "ruling",
)  # fmt: skip
SHARED = {"site", "plot", "bed", "permit", "collection", "deployment"}


@dataclass
class Ledger:
    """What stands in a ledger's files: the parts in order of entry and row, what each said, and what was asked about."""

    entries: list[Row] = field(default_factory=list)
    parts: list[Row] = field(default_factory=list)
    asked: list[Row] = field(default_factory=list)


def read(root: Path) -> Ledger:
    """Every entry of the ledger in that folder, and every part with its columns where they were kept."""
    ledger = Ledger()
    for number, path in enumerate(sorted((root / "entries").glob("*.json")), 1):
        entry = {**json.loads(path.read_bytes())["entry"], "number": number}
        ledger.entries.append(entry)
        paths = {s["kind"]: root / "segments" / s["kind"] / f"{s['hash']}.parquet" for s in entry["segments"]}
        tables = {k: pq.read_table(path, use_threads=False, partitioning=None).to_pylist()
                  for k, path in paths.items() if k in ("part", "asked", *KINDS)}  # fmt: skip
        ledger.asked += [{**r, "entry": number} for r in tables.get("asked", ())]
        parts = [{**r, "kind": kind} for kind in KINDS for r in tables.get(kind, ())] + tables.get("part", [])
        for part in sorted(parts, key=lambda p: (p["sheet"], p["row"], p["part"])):
            ledger.parts.append({**part, "entry": number, "partner": entry["partner"]})
    return ledger
