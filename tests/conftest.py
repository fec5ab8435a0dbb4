"""Tiny drawn programmes: tables as a person would draw them in, plain values out.

A drawn table parts its columns by two or more spaces; a lone full stop is a blank cell:

    unit_key   method      site_key   plot_key   happened
    CB-1       spore bag   CB         T1         2025-03-01
"""

import csv
import datetime as dt
import io
import re
import shutil
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import hypothesis
import pyarrow.parquet as pq
import pytest
from sea import RULES, SEA

from pipeline import run
from pipeline.groups.group import Group
from pipeline.indicators.remember import Memory
from pipeline.ledger.entry import Entry
from pipeline.ledger.fates import in_order, parts_in, with_parts
from pipeline.ledger.staging import PART_COLUMNS
from pipeline.ledger.store import Ledger
from pipeline.session import figures_in
from schemas.kinds import all_kinds

hypothesis.settings.register_profile("shared machine", deadline=None)
hypothesis.settings.load_profile("shared machine")

LONG_FIRST = ("spark", "whole", "properties", "stages")  # a long file begun last would keep one core waiting


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Folders of long files first, each in the order it has."""
    last = len(LONG_FIRST)
    items.sort(key=lambda i: LONG_FIRST.index(i.path.parent.name) if i.path.parent.name in LONG_FIRST else last)


def drawn_rows(table: str) -> list[list[str]]:
    """The cells of a drawn table, headings first."""
    lines = [re.split(r"\s{2,}", line.strip()) for line in table.strip().splitlines()]
    return [["" if cell == "." else cell for cell in line] for line in lines]


def drawn_csv(table: str) -> str:
    """A drawn table as CSV, with plain line ends."""
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(drawn_rows(table))
    return text.getvalue()


@dataclass(frozen=True)
class Drawn:
    """A programme's folder made from short texts."""

    root: Path

    @property
    def ledger(self) -> Ledger:
        """Its ledger."""
        return Ledger(self.root / "ledger")

    def rules(self, toml: str) -> None:
        """Write programme.toml."""
        (self.root / "programme.toml").write_text(toml, encoding="utf-8")

    def partner(self, name: str, toml: str) -> None:
        """Write how a partner writes."""
        (self.root / "partners" / f"{name}.toml").write_text(toml, encoding="utf-8")

    def put(self, partner: str, name: str, content: str | bytes) -> Path:
        """Lay a file into a partner's inbox: bytes as they are, text as a drawn table."""
        path = self.root / "inbox" / partner / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content if isinstance(content, bytes) else drawn_csv(content).encode())
        return path

    def take(self, files: dict[str, str | bytes] | None = None) -> list[Entry]:
        """Lay files ("partner/name": table) into the inboxes and take in; gives the entries of drops."""
        for name, content in (files or {}).items():
            self.put(*name.split("/", 1), content)
        return [e for e in run.take(self.root).entries if e.drop]

    def retake(self) -> list[Entry]:
        """Read kept drops again under mended mappings."""
        return run.retake(self.root).entries

    def segment(self, entry: Entry, name: str) -> list[dict]:
        """The rows of one of an entry's segments; none if it has none."""
        found = entry.segment(name)
        return pq.read_table(self.ledger.segment_path(found)).to_pylist() if found else []

    def parts(self, entry: Entry) -> list[dict]:
        """Every part of an entry, in order, events among them."""
        paths = {s.kind: self.ledger.segment_path(s) for s in with_parts(entry)}
        return in_order(parts_in(paths, [f.name for f in PART_COLUMNS]))

    def faults(self, entry: Entry) -> list[tuple]:
        """(row, column, code, found) of every fault of an entry."""
        return [(f["row"], f["column"], f["code"], f["found"]) for f in self.segment(entry, "fault")]

    def fates(self, entry: Entry) -> list[str]:
        """What became of every part, in order: "3 amends", or "3 question: older"."""
        why = {(f["sheet"], f["row"], f["part"]): f["code"] for f in self.segment(entry, "fault")}
        return [
            f"{p['row']} {p['fate']}"
            + (f": {why[p['sheet'], p['row'], p['part']]}" if p["fate"] in ("conflict", "question") else "")
            for p in self.parts(entry)
        ]

    def ask(self, query: str, asked: run.Asked = run.LATEST) -> list[tuple]:
        """Rows of a query over the projection, brought up to the ledger first."""
        run.project(self.root)
        with run.session(self.root, asked) as (con, _):
            return con.sql(query).fetchall()

    def standing(self, asked: run.Asked = run.LATEST) -> list[tuple]:
        """(kind, key, effect, rule) of every rule that speaks of an event."""
        return self.ask(
            "select distinct s.kind, p.key, s.effect, s.rule from standing s join part p on p.identity = s.identity "
            "order by all",
            asked,
        )

    def figures(self, happened: dt.date | None = None, *, groups: Sequence[Group] = ()) -> dict:
        """Every figure, or those of a few groups (which is quicker), by (indicator, its scope's values)."""
        run.project(self.root)
        with run.session(self.root, run.Asked(happened=happened)) as (con, rules):
            if groups:
                figures = [f for group in groups for f in group.figures(con, rules, Memory())]
            else:
                figures, _ = figures_in(con, rules, Memory())
        return {(f.indicator, *(v for _, v in f.scope if v)): f.estimate for f in figures}

    def held(self) -> list[tuple]:
        """(file, kind, column, code, parts) of what is still held."""
        return self.ask("select name, kind, column_named, code, parts from held_cause order by all")


@pytest.fixture(scope="session")
def kinds():
    """Every kind by name."""
    return all_kinds()


@pytest.fixture(scope="session")
def rules():
    """The drawn programme's rules, as text."""
    return RULES


@pytest.fixture(scope="session")
def draw():
    """A drawn table as the bytes of a CSV file."""
    return lambda table: drawn_csv(table).encode()


@pytest.fixture(scope="session")
def new_programme(tmp_path_factory):
    """Make another programme: new_programme() has the drawn sea's registers, new_programme(sea=False) has nothing."""

    def bare(rules: str) -> Drawn:
        made = Drawn(tmp_path_factory.mktemp("programme"))
        for folder in ("partners", "inbox/programme"):
            (made.root / folder).mkdir(parents=True)
        made.rules(rules)
        return made

    taken = bare(RULES)
    taken.take({f"programme/{name}": table for name, table in SEA.items()})

    def make(sea: bool = True, rules: str = RULES) -> Drawn:
        if not sea:
            return bare(rules)
        copy = Drawn(tmp_path_factory.mktemp("programme"))
        shutil.copytree(taken.root, copy.root, dirs_exist_ok=True)
        copy.rules(rules)
        return copy

    return make


@pytest.fixture(scope="session")
def copy_of(tmp_path_factory):
    """Copy a programme that a module's tests begin from, so that each may change its own."""

    def make(made: Drawn) -> Drawn:
        copy = Drawn(tmp_path_factory.mktemp("programme") / "p")
        shutil.copytree(made.root, copy.root, symlinks=True)
        return copy

    return make


@pytest.fixture
def programme(new_programme):
    """A programme with the drawn sea's registers."""
    return new_programme()


@pytest.fixture
def empty(new_programme):
    """A programme whose ledger is empty."""
    return new_programme(sea=False)
