"""Shape: every row x column x reason comes back with the row's own number, whatever else is wrong around it."""

# ruff: noqa: DTZ001 (times stand in tables without a zone: UTC, or as written)

import datetime as dt
import os
import subprocess
import sys
from decimal import Decimal

import pyarrow as pa
import pytest

from pipeline.check.shape import check_shape
from schemas.kinds import all_kinds

KINDS = all_kinds()
ARROW = {
    "text": pa.string(),
    "whole": pa.int64(),
    "day": pa.date32(),
    "instant": pa.timestamp("us"),
    "yesno": pa.bool_(),
}

# What each kind needs beyond its required columns.
ALSO = {"survey": {"species": "Laminaria hyperborea"}, "cost": {"currency": "EUR", "share_key": "units"}}
WRITTEN = {"country": "PT", "datum": "EPSG:4326", "currency": "EUR"}


def plain_value(column):
    """Some value that fits a column."""
    if column.allowed:
        return column.allowed[0]
    least = column.limits.get("minimum", column.limits.get("exclusiveMinimum", 0))
    return {
        "text": WRITTEN.get(column.name, "x"),
        "whole": max(1, int(least) if isinstance(least, int) else 1),
        "decimal": Decimal(1),
        "day": dt.date(2025, 4, 18),
        "instant": dt.datetime(2025, 4, 18, 9, 30),
        "yesno": True,
    }[column.type]


def good_row(kind):
    """A row of a kind with nothing but what it needs."""
    row = {c.name: plain_value(c) if c.required else None for c in kind.columns}
    return {**row, **ALSO.get(kind.name, {})}


def typed(kind, rows, raw=None):
    """Rows as the cast gives them. rows: (number, values); raw: texts beside them."""
    columns = {"row": pa.array([n for n, _ in rows], pa.int64())}
    for c in kind.columns:
        type_ = pa.decimal128(18, c.places) if c.type == "decimal" else ARROW[c.type]
        columns[c.name] = pa.array([r[c.name] for _, r in rows], type_)
    for name, texts in (raw or {}).items():
        columns[f"raw.{name}"] = pa.array(texts, pa.string())
    return pa.table(columns)


def told(kind, rows, raw=None, uncast=(), headings=None):
    """(row, column, code) of every fault."""
    headings = {c.name: c.name for c in kind.columns} if headings is None else headings
    faults = check_shape(typed(kind, rows, raw), kind, headings, "", 1, set(uncast))
    assert all(f.wanted and f.advice and f.kind == kind.name for f in faults)
    return sorted((f.row, f.column, f.code) for f in faults)


def beyond(column, check):
    """A value that breaks one check of a column and nothing else, with the code it is told under."""
    step = {"whole": 1, "decimal": Decimal(1), "day": dt.timedelta(days=1)}.get(column.type)
    limit = check.statistics.get("min_value", check.statistics.get("max_value"))
    limit = Decimal(limit) if column.type == "decimal" else limit
    if check.name == "greater_than_or_equal_to":
        return limit - step, "too small"
    if check.name == "greater_than":
        return limit, "too small"
    if check.name == "less_than_or_equal_to":
        return limit + step, "too large"
    if check.name == "isin":
        return "quite another word", "not a known word"
    assert check.name == "str_matches", check.name
    return "x" * 200, "not well written"


@pytest.mark.parametrize("kind", KINDS.values(), ids=KINDS)
def test_every_rule_of_a_column_is_hit(kind):
    """For each rule of each column, one row that breaks it alone comes back alone, under its own number."""
    rows, wanted = [], []
    for column in kind.columns:
        for check in kind.schema.columns[column.name].checks:
            value, code = beyond(column, check)
            row = {**good_row(kind), column.name: value}
            if column.name == "count":
                row["species"] = "Laminaria hyperborea"
            rows += [row, good_row(kind)]
            wanted.append((7 + 3 * (len(rows) - 2), column.name, code))
        if column.required and column.name != "visit_key":
            rows += [{**good_row(kind), column.name: None}, good_row(kind)]
            wanted.append((7 + 3 * (len(rows) - 2), column.name, "blank"))
    numbered = [(7 + 3 * i, row) for i, row in enumerate(rows)]
    found = [f for f in told(kind, numbered) if f[1]]
    assert found == sorted(wanted)


# A row that breaks a rule of the whole row, and one that just keeps it.
ROW_RULES = {
    ("site", "depth_order"): [{"depth_min_m": Decimal(9), "depth_max_m": Decimal(8)}, {"depth_min_m": Decimal(8), "depth_max_m": Decimal(8)}],
    ("plot", "control_needs"): [{"plot_kind": "control", "assigned_by": "random"}, {"plot_kind": "control", "assigned_by": "random", "control_kind": "untouched"}],
    ("bed", "limit_needs_estimate"): [{"take_limit_pct": Decimal(10), "adults": 100}, {"take_limit_pct": Decimal(10), "adults": 100, "estimate_method": "belts"}],
    ("permit", "quota_unit_given"): [{"quota": Decimal(10)}, {"quota": Decimal(10), "quota_unit": "plants"}],
    ("collection", "cut_order"): [
        {"cut_from": dt.datetime(2025, 4, 18, 9), "cut_to": dt.datetime(2025, 4, 18, 8)}, {"cut_from": dt.datetime(2025, 4, 18, 9)},
    ],
    ("handling", "step_order"): [{"ended_at": dt.datetime(2025, 4, 18, 9, 29)}, {"ended_at": dt.datetime(2025, 4, 18, 9, 30)}],
    ("handling", "temp_order"): [{"temp_min_degc": Decimal(9), "temp_max_degc": Decimal(8)}, {"temp_min_degc": Decimal(9)}],
    ("handling", "parents_named"): [{"step": "merge"}, {"step": "merge", "parent_batches": "B1; B2"}],
    ("deployment", "whole_position"): [
        {"latitude": Decimal(39), "longitude": Decimal(-9)}, {"latitude": Decimal(39), "longitude": Decimal(-9), "uncertainty_m": Decimal(5)},
    ],
    **{
        (kind, "somewhere"): [{"latitude": Decimal(0), "longitude": Decimal(0), "uncertainty_m": Decimal(5)},
                              {"latitude": Decimal(0), "longitude": Decimal(1), "uncertainty_m": Decimal(5)}]
        for kind in ("site", "bed", "deployment", "loss")
    },
    ("visit", "why_given"): [{"outcome": "aborted"}, {"outcome": "aborted", "why": "swell"}],
    ("survey", "species_or_zero"): [{"species": None, "count": 3}, {"species": None, "count": 0}],
    ("survey", "fertile_within_count"): [{"count": 3, "fertile_count": 4}, {"count": 4, "fertile_count": 4}],
    ("cost", "currency_given"): [{"form": "hours"}, {"form": "hours", "currency": None}],
    ("cost", "one_target"): [{"for_kind": "site", "for_key": "CB"}, {"for_kind": "site", "for_key": "CB", "share_key": None}],
}  # fmt: skip


def test_every_rule_of_the_row_has_an_example():
    """The list above names every rule of the whole row that the models declare."""
    assert set(ROW_RULES) == {(k.name, c.name) for k in KINDS.values() for c in k.schema.checks}


@pytest.mark.parametrize(("kind", "name"), ROW_RULES, ids=map(".".join, ROW_RULES))
def test_every_rule_of_the_row_is_hit(kind, name):
    """A rule of the whole row fires under the row's number, keeps quiet for the row that just fits, and names its columns."""
    kind = KINDS[kind]
    breaks, keeps = ({**good_row(kind), **values} for values in ROW_RULES[kind.name, name])
    [check] = [c for c in kind.schema.checks if c.name == name]
    faults = check_shape(typed(kind, [(4, keeps), (9, breaks), (11, keeps)]), kind, {}, "", 1, set())
    assert [(f.row, f.column, f.wanted) for f in faults] == [(9, "", check.error)]
    assert all(
        kind.column(c).title.lower() in faults[0].advice
        for c in ROW_RULES[kind.name, name][0]
        if (name, c) != ("somewhere", "uncertainty_m")
    )


# --- row numbers ---------------------------------------------------------------------------------------------


def test_row_numbers_among_many():
    """Among two hundred thousand rows with gaps in their numbers, every fault has the number of its own row."""
    kind = KINDS["check"]
    n = 200_000
    bad = {7, 99_999, 100_000, 100_001, 199_999}
    rows = pa.table(
        {
            "row": pa.array(range(2, 2 * n + 2, 2), pa.int64()),
            **{
                c.name: pa.array([good_row(kind)[c.name]] * n, ARROW.get(c.type) or pa.decimal128(18, c.places))
                for c in kind.columns
                if c.name not in ("state", "count_found")
            },
            "state": pa.array(["gone" if i in bad else "absent" for i in range(n)]),
            "count_found": pa.array([-1 if i in bad else None for i in range(n)], pa.int64()),
        }
    )
    faults = check_shape(rows, kind, {}, "", 1, set())
    assert sorted((f.row, f.column) for f in faults) == sorted(
        (2 * i + 2, c) for i in bad for c in ("state", "count_found")
    )


def test_every_reason_of_one_row():
    """A row with several faults comes back with each of them, and its neighbours with none."""
    kind = KINDS["survey"]
    bad = {
        **good_row(kind),
        "count": -1,
        "area_m2": Decimal(0),
        "frame_type": None,
        "stage": "baby",
        "plot_key": "x" * 99,
    }
    assert told(kind, [(2, good_row(kind)), (3, bad), (4, good_row(kind))]) == [
        (3, "area_m2", "too small"), (3, "count", "too small"), (3, "frame_type", "blank"),
        (3, "plot_key", "not well written"), (3, "stage", "not a known word"),
    ]  # fmt: skip


def test_nulls_shift_no_number():
    """Blank cells above a fault do not shift its row."""
    kind = KINDS["survey"]
    rows = [(n, good_row(kind)) for n in range(2, 40)] + [(40, {**good_row(kind), "count": -1})]
    assert told(kind, rows) == [(40, "count", "too small")]


def test_narwhals_is_off():
    """pandera's other backend, which gives no row numbers, is switched off before pandera is loaded."""
    import pandera.config

    assert os.environ["PANDERA_USE_NARWHALS_BACKEND"] == "False"
    assert pandera.config.CONFIG.use_narwhals_backend is False


def test_pandera_comes_with_polars_alone():
    """The models load none of the other libraries that pandera would look for, which are there for whoever asks afterwards."""
    told = "import sys, schemas.kinds; print([m for m in ('pandas', 'pyspark', 'hypothesis') if m in sys.modules]); import pandas"
    done = subprocess.run([sys.executable, "-c", told], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"


# --- one fault, one blame ------------------------------------------------------------------------------------


def test_failed_cast_is_not_also_blank():
    """A cell that could not be cast is told once, as what it is, and not also as blank."""
    kind = KINDS["treatment"]
    row = {**good_row(kind), "area_m2": None}
    assert told(kind, [(5, row)], uncast={(5, "area_m2")}) == []
    assert told(kind, [(5, row)]) == [(5, "area_m2", "blank")]
    assert told(kind, [(5, row), (6, row)], uncast={(5, "area_m2")}) == [(6, "area_m2", "blank")]


def test_failed_cast_silences_rules_that_read_it():
    """A rule of the whole row waits for a cell that could not be cast, and only for that row and those cells."""
    kind = KINDS["deployment"]
    row = {**good_row(kind), "longitude": Decimal(-9), "uncertainty_m": Decimal(5)}
    rule = "latitude, longitude and position uncertainty together, or none"
    assert told(kind, [(5, row)], uncast={(5, "latitude")}) == []
    assert told(kind, [(5, row), (6, row)], uncast={(5, "latitude"), (6, "mass_kg")}) == [(6, "", rule)]


def test_day_made_from_a_time_is_blamed_on_the_time():
    """Where the day follows from a time column, a missing one is told of that column, once."""
    kind = KINDS["deployment"]
    row = {**good_row(kind), "happened": None}
    with_time = {"down_at": "Put down at"}
    assert told(kind, [(5, row)], headings=with_time) == [(5, "down_at", "blank")]
    assert told(kind, [(5, row)], headings=with_time, uncast={(5, "down_at")}) == []
    assert told(kind, [(5, row)], headings={"happened": "Date", **with_time}) == [(5, "happened", "blank")]
    kind = KINDS["reading"]
    assert told(kind, [(5, {**good_row(kind), "happened": None, "at": None})], headings={"at": "Time"}) == [
        (5, "at", "blank")
    ]


def test_dive_code_is_blamed_on_what_it_is_made_from():
    """A dive that cannot be named is told once: of its site or day where these are told, else of its own code."""
    kind = KINDS["visit"]
    nameless = {**good_row(kind), "visit_key": None}
    assert told(kind, [(5, {**nameless, "site_key": None})]) == [(5, "site_key", "blank")]
    assert told(kind, [(5, {**nameless, "happened": None})], uncast={(5, "happened")}) == []
    kind = KINDS["check"]  # whose site may be blank
    assert told(kind, [(5, {**good_row(kind), "visit_key": None})]) == [(5, "visit_key", "blank")]


def test_check_without_dive_and_site_is_held(programme):
    """A check that names neither dive nor site has no identity: it is held, and its sheet need not have the column."""
    [entry] = programme.take({"club/check.csv": "happened     unit_key   state\n2025-04-18   CB-1   absent"})
    assert programme.faults(entry) == [(2, "visit_key", "blank", "")]
    [fault] = programme.segment(entry, "fault")
    assert fault["advice"].startswith("Fill in dive, or the site")


# --- words ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "column", "value", "wanted"),
    [
        ("survey", "count", -1, "at least 0 individuals"),
        ("survey", "count", 2_000_000, "at most 1000000 individuals"),
        ("survey", "area_m2", Decimal(0), "more than 0 m2"),
        ("survey", "stage", "baby", "one of: recruit, juvenile, sub-canopy, canopy, any"),
        ("site", "country", "Portugal", "a two-letter country code (ISO 3166), such as PT"),
        ("cost", "currency", "euro", "a three-letter currency code (ISO 4217), such as EUR"),
        ("site", "datum", "WGS84", "an EPSG code of the datum, such as EPSG:4326"),
        ("survey", "plot_key", "x" * 81, "a code of at most 80 characters on one line"),
        ("survey", "happened", dt.date(1925, 4, 18), "at least 1950-01-01"),
        ("survey", "happened", None, "“date” filled in (the local day it happened)"),
        ("site", "latitude", Decimal(91), "at most 90 deg"),
    ],
)
def test_wanted_says_the_limit(kind, column, value, wanted):
    """What was wanted is said with the model's own limit and the unit."""
    kind = KINDS[kind]
    [fault] = check_shape(typed(kind, [(2, {**good_row(kind), column: value})]), kind, {}, "", 1, set())
    assert fault.wanted == wanted


def test_found_is_the_owners_text():
    """What was found is the cell as its owner wrote it, or our value where it came from the mapping."""
    kind = KINDS["survey"]
    rows = [(2, {**good_row(kind), "area_m2": Decimal("-0.250000")})]
    faults = check_shape(typed(kind, rows, {"area_m2": ["-0,25"]}), kind, {"area_m2": "Área"}, "", 1, set())
    assert [(f.found, f.heading) for f in faults] == [("-0,25", "Área")]
    assert [f.found for f in check_shape(typed(kind, rows), kind, {}, "", 1, set())] == ["-0.250000"]


def test_kinds_may_be_known_before_anything_is_checked():
    """In a process that looked at every kind before it checked a cell, each check still knows how to be asked."""
    asked = (
        "from schemas.kinds import all_kinds\n"
        "kinds = all_kinds()\n"
        "from pipeline.check.suspects import asked_by\n"
        "print(sum(len(asked_by(c, n).columns) for k in kinds.values() for n, col in k.schema.columns.items() for c in col.checks))"
    )
    done = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, timeout=300, check=False)
    assert int(done.stdout or 0) > 100, done.stderr
