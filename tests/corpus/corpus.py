"""Small nasty files and what must come out of each. A case is a [[case]] table in one of the .toml files beside this one:

name     one word or several with dashes
says     one sentence: what must come out
file     what the file is called when handed in
text     its content, with `encoding` (utf-8 unless said) and `ends` ("\\r\\n" ...) if they matter
hex      or its bytes
maker    or the name of a function in makers.py that gives its bytes
mapping  the partner's TOML, "" for none; "@name" is one of the file's [mappings], where {keys} gives way to `keys`
zone     the programme's time zone, Europe/Lisbon unless said

lines    [lines, furniture, blank, records]
entered  {kind = {columns = [...], rows = [[row, value ...] ...]}}: every good part, as text, blank for null;
         a row is a number, or "Sheet!5" where sheets have names
faults   [[row, "column", "code", "found"] ...]: every fault, in order; `found` may be left out
unreadable, notes   texts that must stand in the sentence, in the notes
"""

import tempfile
import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import makers
import pyarrow.parquet as pq

from pipeline.examine import examine
from pipeline.intake.mapping import parse_mapping
from pipeline.ledger.staging import Staged

HERE = Path(__file__).parent


@dataclass(frozen=True)
class Case:
    """One file of the corpus."""

    theme: str
    told: dict[str, Any] = field(hash=False)
    mappings: dict[str, str] = field(hash=False)

    @property
    def name(self) -> str:
        """Theme and name."""
        return f"{self.theme}/{self.told['name']}"

    @property
    def file(self) -> str:
        """What it is called when handed in."""
        return self.told["file"]

    @property
    def mapping(self) -> str:
        """The partner's TOML."""
        said = self.told.get("mapping", "")
        if said.startswith("@"):
            return self.mappings[said[1:]].replace("{keys}", self.told.get("keys", ""))
        return said

    def content(self) -> bytes:
        """Its bytes."""
        if "maker" in self.told:
            return getattr(makers, self.told["maker"])()
        if "bytes" in self.told:
            return (HERE / self.told["bytes"]).read_bytes()
        if "hex" in self.told:
            return bytes.fromhex(self.told["hex"])
        text = self.told["text"].replace("\n", self.told.get("ends", "\n"))
        return text.encode(self.told.get("encoding", "utf-8"))


def all_cases() -> list[Case]:
    """Every case of every theme, in order."""
    found = []
    for path in sorted(HERE.glob("*.toml")):
        theme = tomllib.loads(path.read_text(encoding="utf-8"))
        found += [Case(path.stem, told, theme.get("mappings", {})) for told in theme["case"]]
    return found


def examined(data: bytes, file: str, mapping: str, kinds: Any, folder: Path, zone: str = "Europe/Lisbon") -> Staged:
    """A file as the take-in examines it."""
    here = Path(tempfile.mkdtemp(dir=folder))
    (here / "drop").write_bytes(data)
    blank = Staged(here, "club", "0" * 64, len(data), file, "")
    return examine(here / "drop", blank, parse_mapping("club", mapping.encode(), kinds), kinds, zone)


def outcome(staged: Staged, expected: dict[str, Any]) -> dict[str, Any]:
    """What came out, in the words in which it was expected."""
    got: dict[str, Any] = {}
    if "lines" in expected:
        got["lines"] = [staged.lines, staged.furniture, staged.blank, staged.records]
    if "entered" in expected:
        got["entered"] = {}
        for kind in staged.kinds:
            columns = expected["entered"].get(kind, {}).get("columns", [])
            rows = [[place(r), *(_shown(r[c]) for c in columns)] for r in table(staged, kind)]
            got["entered"][kind] = {"columns": columns, "rows": rows}
    if "faults" in expected:
        found = [[place(f), f["column"], f["code"], f["found"]] for f in table(staged, "faults")]
        widths = [len(f) for f in expected["faults"]] + [4] * len(found)
        got["faults"] = [f[:w] for f, w in zip(found, widths, strict=False)]
    return got


def table(staged: Staged, name: str) -> list[dict[str, Any]]:
    """The rows of one of the files that were staged, in order."""
    rows = pq.read_table(staged.path(name)).to_pylist() if staged.has(name) else []
    return sorted(rows, key=lambda r: (r["sheet"], r["row"], r["part"] or 0)) if rows and "part" in rows[0] else rows


def place(row: dict[str, Any]) -> "int | str":
    """Where a row is."""
    return f"{row['sheet']}!{row['row']}" if row["sheet"] else row["row"]


def _shown(value: Any) -> str:
    return "" if value is None else (f"{value.normalize():f}" if hasattr(value, "normalize") else str(value))
