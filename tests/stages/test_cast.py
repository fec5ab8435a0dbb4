"""Casting: a cell's text becomes the one value that its writer meant, or a fault with that very text."""

# ruff: noqa: DTZ001 (times stand in tables without a zone: UTC, or as written)

import datetime as dt
import re
from decimal import ROUND_HALF_UP, Decimal
from unittest.mock import patch
from zoneinfo import ZoneInfo

import duckdb
import pyarrow as pa
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.intake import distinct
from pipeline.intake.cast import cast_faults, cast_sql
from pipeline.intake.distinct import FEW, Seen, asked, cast_rows, written_out
from pipeline.intake.mapping import parse_mapping
from pipeline.intake.read import trimmed
from pipeline.intake.reshape import Shape
from pipeline.intake.ways import PartMap

ZONE = "Europe/Lisbon"


@pytest.fixture(scope="module")
def cast(kinds):
    """cast(kind, {column: [texts]}, style) gives the typed columns and the faults as (row, column, code, found)."""
    con = duckdb.connect(config={"autoinstall_known_extensions": "false", "TimeZone": "UTC"})

    def casting(kind, columns, style="", units=None, codes=None, fixed=None, native=False, only_if="", zone=ZONE):
        kind, names = kinds[kind], list(columns)
        part = PartMap(
            kind.name, {n: n for n in names if n in kind.schema.columns}, units or {}, codes or {}, fixed or {}, only_if
        )
        needed = "\n".join(f'{c.name} = "x"' for c in kind.columns if c.required)
        toml = f'[[sheet]]\n{style}\nkind = "{kind.name}"\n[sheet.columns]\n{needed}\n'
        [sheet] = parse_mapping("club", toml.encode(), kinds).sheets
        rows = len(next(iter(columns.values())))
        cells = pa.table(
            {
                "row": pa.array(range(2, rows + 2), pa.int64()),
                **{f"c{i}": pa.array(columns[n], pa.string()) for i, n in enumerate(names)},
            }
        )
        typed = asked(con, trimmed(cells), "cells", cast_sql(kind, sheet, part, names, native, zone))
        many = pa.concat_tables([trimmed(cells)] * FEW)  # so that every cell is cast once for several rows
        shape = Shape(part, tuple(names), 1, frozenset(), {})
        seen = Seen()
        for some in (many.slice(0, (rows + 1) // 2), many, many):  # none, some and all of its cells were seen before
            quick = cast_rows(con, some, kind, sheet, shape, native, zone, seen, worth_it=0)
            told = [c.chunk(0).dictionary for c in quick.columns if pa.types.is_dictionary(c.type)]
            assert all(len(d.unique()) == len(d) for d in told)  # a dictionary is written as it is
            assert some is not many or written_out(quick).equals(pa.concat_tables([typed] * FEW))
        again = cast_rows(con, trimmed(cells), kind, sheet, shape, native, zone, seen, worth_it=0)
        assert written_out(again).equals(typed)
        faults = cast_faults(typed, kind, part, "", 1, sheet.decimal)
        return typed.to_pydict(), [(f.row, f.column, f.code, f.found) for f in faults]

    yield casting
    con.close()


def test_few_things_beside_many(cast):
    """A column of few texts beside one in which each is another, and texts beyond what is remembered, are cast as each row alone."""
    numbers = [str(n % 7) for n in range(40)]
    with patch.object(distinct, "MOST", 5):
        typed, faults = cast(
            "survey", {"count": numbers, "frame_key": [f"F{n}" for n in range(40)], "stage": ["Canopy"] * 40}
        )
    assert typed["count"] == list(map(int, numbers)) and typed["frame_key"][39] == "F39" and not faults


@pytest.fixture(scope="module")
def one(cast):
    """one(column, text, ...) gives the value of one cell of a survey or check, or "fault"."""
    kind_of = {
        "count": "survey", "area_m2": "survey", "length_cm": "survey", "depth_m": "survey", "alive": "survey",
        "visibility_m": "visit", "bottom_time_min": "visit", "water_temp_degc": "visit", "mass_kg": "deployment",
        "retrieve_by": "deployment", "down_at": "deployment", "amount": "cost", "latitude": "site", "cover_pct": "survey",
        "stage": "survey", "at": "reading", "time_offset_s": "reading",
    }  # fmt: skip

    def reading(column, text, style="", **more):
        typed, faults = cast(kind_of[column], {column: [text]}, style, **more)
        assert len(faults) == (typed[column][0] is None and typed[f"raw.{column}"][0] is not None)
        return "fault" if faults else typed[column][0]

    return reading


# --- numbers -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("3", 3), ("+3", 3), ("-3", -3), ("03", 3), ("3.0", 3), ("3.", 3), (" 3 ", 3), ("\u00a03", 3), ("0", 0), ("", None),
        ("3.5", "fault"), ("0x10", "fault"), ("1_000", "fault"), ("1e3", "fault"), ("1,000", "fault"), ("1 000", "fault"),
        ("inf", "fault"), ("NaN", "fault"), ("c. 20", "fault"), ("3 ?", "fault"), ("--3", "fault"), ("３", "fault"), ("٣", "fault"),
        ("123456789012345678", 123456789012345678), ("1234567890123456789", "fault"), ("true", "fault"), ("many", "fault"), ("-", "fault"), (".", "fault"), ("3..0", "fault"),
    ],
)  # fmt: skip
def test_whole_numbers(one, text, value):
    """A whole number is digits only: nothing is rounded, read as hexadecimal, or guessed."""
    assert one("count", text) == value


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("8.5", "8.5"), (".5", "0.5"), ("8.", "8"), ("-0.25", "-0.25"), ("+8.5", "8.5"), ("0.0000005", "0.000001"), ("0.0000004", "0"),
        ("0.30000000000000004", "0.3"), ("0.00000049999999999", "0"), ("999999999999.999999", "999999999999.999999"),
        ("inf", "fault"), ("-inf", "fault"), ("NaN", "fault"), ("1e3", "fault"), ("8,5", "fault"), ("8.5 m", "fault"),
        ("1.000.000", "fault"), ("0x1p3", "fault"), ("1_0.5", "fault"), ("9999999999999", "fault"), ("8.5.", "fault"), ("<8", "fault"),
    ],
)  # fmt: skip
def test_measures(one, text, value):
    """A measure is an exact decimal to the sixth place; infinity, not-a-number and notes beside it are faults."""
    assert one("depth_m", text) == (value if value == "fault" else Decimal(value))


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("8,5", "8.5"),
        ("8", "8"),
        ("-0,25", "-0.25"),
        (",5", "0.5"),
        ("8.5", "fault"),
        ("1.000,5", "fault"),
        ("8,5,1", "fault"),
    ],
)
def test_decimal_comma(one, text, value):
    """Where the mapping says decimal comma, a point in a number is a slip and never a decimal mark."""
    assert one("depth_m", text, 'decimal = ","') == (value if value == "fault" else Decimal(value))


@pytest.mark.parametrize(
    ("text", "value"),
    [("1e-05", "0.00001"), ("2.5e+3", "2500"), ("1e+17", "fault"), ("1E3", "fault"), ("1e3 m", "fault")],
)
def test_typed_floats(cast, text, value):
    """A float of a typed file is read however its library writes it; in text the same would be a slip of the pen."""
    typed, faults = cast("visit", {"max_depth_m": [text]}, native=True)
    assert (faults and "fault") or typed["max_depth_m"] == [Decimal(value)]
    assert bool(faults) == (value == "fault")
    assert cast("visit", {"max_depth_m": [text]})[1]


@pytest.mark.parametrize(
    ("decimal", "thousands", "text", "value"),
    [
        (".", ",", "1,234", "1234"), (".", ",", "1,234.5", "1234.5"), (".", ",", "12,345,678", "12345678"), (".", ",", "999", "999"),
        (",", ".", "1.234", "1234"), (",", ".", "1.234,5", "1234.5"), (",", ".", "-1.234", "-1234"),
        (".", " ", "1 234", "1234"), (".", "'", "1'234.5", "1234.5"), (",", "\u202f", "1\u202f234,5", "1234.5"),
        (".", ",", "1,5", "fault"), (".", ",", "12,34", "fault"), (".", ",", "1,2345", "fault"), (".", ",", "1.5,000", "fault"),
        (",", ".", "1.5", "fault"), (",", ".", "0.25", "fault"), (",", ".", "1,5.000", "fault"), (".", ",", ",123", "fault"),
    ],
)  # fmt: skip
def test_thousands(one, decimal, thousands, text, value):
    """A mark of thousands stands between groups of three only: 1,5 is never fifteen."""
    style = f'decimal = "{decimal}"\nthousands = "{thousands}"'
    assert one("visibility_m", text, style) == (value if value == "fault" else Decimal(value))


@pytest.mark.parametrize(
    ("column", "unit", "text", "ours"),
    [
        # NIST SP 811 (2008), appendix B.8, exact: 1 ft = 0.3048 m, 1 in = 2.54 cm, 1 lb = 0.45359237 kg,
        # 1 fathom = 1.8288 m (as six international feet), t/degC = (t/degF - 32)/1.8, 1 ft2 = 0.09290304 m2
        ("depth_m", "ft", "1", "0.3048"), ("depth_m", "ft", "100", "30.48"), ("depth_m", "fathom", "1", "1.8288"),
        ("length_cm", "in", "1", "2.54"), ("mass_kg", "lb", "1", "0.453592"), ("mass_kg", "lb", "100", "45.359237"),
        ("water_temp_degc", "degF", "32", "0"), ("water_temp_degc", "degF", "212", "100"),
        ("water_temp_degc", "degF", "50", "10"), ("water_temp_degc", "degF", "-40", "-40"), ("area_m2", "ft2", "100", "9.290304"),
        # BIPM, The International System of Units (9th ed. 2019), tables 7 and 8 and section 2.3.1: 1 ha = 10000 m2,
        # 1 h = 60 min = 3600 s, 1 t = 1000 kg, t/degC = T/K - 273.15
        ("area_m2", "ha", "1", "10000"), ("area_m2", "cm2", "2500", "0.25"), ("bottom_time_min", "h", "1.5", "90"),
        ("bottom_time_min", "s", "3600", "60"), ("bottom_time_min", "s", "86400", "1440"), ("mass_kg", "g", "250", "0.25"),
        ("mass_kg", "t", "1.5", "1500"), ("water_temp_degc", "K", "273.15", "0"), ("visibility_m", "cm", "150", "1.5"),
        ("visibility_m", "mm", "5", "0.005"), ("visibility_m", "km", "0.02", "20"), ("length_cm", "mm", "5", "0.5"),
        ("length_cm", "m", "1.25", "125"), ("cover_pct", "share", "0.35", "35"), ("time_offset_s", "min", "2", "120"),
    ],
)  # fmt: skip
def test_units(one, column, unit, text, ours):
    """A measure written in another unit is turned into ours by the published factor (NIST SP 811, BIPM)."""
    assert one(column, text, units={column: unit}) == Decimal(ours)


def test_units_with_a_decimal_comma(one):
    """Unit and decimal mark go together."""
    assert one("area_m2", "0,25", 'decimal = ","', units={"area_m2": "ha"}) == 2500


@pytest.mark.parametrize("unit", ["ft", "cm", "km", "fathom"])
def test_monstrous_numbers_are_faults(one, unit):
    """A number far beyond any measure is that cell's fault and spoils nothing else of the file."""
    assert one("depth_m", "999999999999999", units={"depth_m": unit}) == "fault"


# --- yes and no, words ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "value"),
    [("yes", True), ("Y", True), ("TRUE", True), ("1", True), ("x", True), ("no", False), ("N", False), ("false", False), ("0", False),
     ("", None), ("perhaps", "fault"), ("2", "fault"), ("sim", "fault")],
)  # fmt: skip
def test_yes_and_no(one, text, value):
    """Yes and no are a few plain words; a blank is neither."""
    assert one("alive", text) == value


def test_codes_turn_their_words_into_ours(cast):
    """A partner's words are looked up whatever their case, in any script, and our own words still work."""
    words = {"stage": {"groß": "canopy", "ΑΠΌΛΥΤΟΣ": "juvenile", "Küken": "recruit"}}
    typed, _ = cast("survey", {"stage": ["GROß", "groß", "απόλυτοσ", "küken", "Sub-Canopy", "odd"]}, codes=words)
    assert typed["stage"] == ["canopy", "canopy", "juvenile", "recruit", "sub-canopy", "odd"]


def test_codes_hold_for_numbers_and_yes_or_no(cast):
    """Words may stand for numbers and for yes and no."""
    codes = {"count": {"none": "0"}, "alive": {"sim": "yes", "não": "no"}}
    typed, faults = cast("survey", {"count": ["none", "4"], "alive": ["Sim", "NÃO"]}, codes=codes)
    assert (typed["count"], typed["alive"], faults) == ([0, 4], [True, False], [])


def test_blank_words(cast):
    """Words that a partner writes for nothing are blanks, whatever their case; others are not."""
    typed, faults = cast("survey", {"count": ["n/a", "N/A", "–", "-", "4"]}, 'blanks = ["n/a", "–"]')
    assert typed["count"] == [None, None, None, None, 4]
    assert faults == [(5, "count", "not whole", "-")]


def test_only_if_leaves_out_blank_rows(cast):
    """A part that is only there if a column is filled is left out where it holds nothing or a word for nothing."""
    typed, _ = cast("survey", {"count": ["3", "", "-", "0"]}, 'blanks = ["-"]', only_if="count")
    assert (typed["row"], typed["count"]) == ([2, 5], [3, 0])


def test_fixed_values(cast):
    """A value for the whole file is cast like a cell; a number in TOML is a number whatever the sheet's decimal mark."""
    typed, faults = cast("survey", {"count": ["3"]}, fixed={"area_m2": "0.25", "placement": "Random", "alive": "True"})
    assert (typed["area_m2"], typed["placement"], typed["alive"], faults) == ([Decimal("0.25")], ["random"], [True], [])


# --- days ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("order", "text", "value"),
    [
        ("YMD", "2025-04-18", "2025-04-18"), ("YMD", "2025/4/8", "2025-04-08"), ("YMD", "2025.04.18", "2025-04-18"),
        ("DMY", "18/04/2025", "2025-04-18"), ("DMY", "8.4.2025", "2025-04-08"), ("DMY", "03-04-2025", "2025-04-03"),
        ("DMY", "18/04/25", "2025-04-18"), ("MDY", "04/18/2025", "2025-04-18"), ("MDY", "3/4/2025", "2025-03-04"),
        ("MDY", "04/18/25", "2025-04-18"), ("DMY", "2025-04-18", "2025-04-18"), ("MDY", "2025-04-03", "2025-04-03"),
        ("YMD", "2025-04-18 00:00:00", "2025-04-18"), ("YMD", "2025-04-18T00:00:00.000", "2025-04-18"),
        ("YMD", "2024-02-29", "2024-02-29"), ("YMD", "", None),
        ("YMD", "2025-02-29", "fault"), ("YMD", "2025-02-30", "fault"), ("YMD", "2025-13-01", "fault"), ("YMD", "2025-00-10", "fault"),
        ("YMD", "18/04/2025", "fault"), ("YMD", "25-04-18", "fault"), ("DMY", "31/04/2025", "fault"), ("DMY", "04/18/2025", "fault"),
        ("MDY", "18/04/2025", "fault"), ("YMD", "20250418", "fault"), ("YMD", "45765", "fault"), ("YMD", "2025-04", "fault"),
        ("YMD", "18 April 2025", "fault"), ("YMD", "2025-04-18 or so", "fault"), ("YMD", "2025-04-1a", "fault"), ("YMD", "soon", "fault"),
        ("YMD", "today", "fault"), ("YMD", "epoch", "fault"), ("YMD", "infinity", "fault"), ("YMD", "2025-4--18", "fault"),
    ],
)  # fmt: skip
def test_days(one, order, text, value):
    """A day is read in the order that the mapping states, ISO always; a day that never was is a fault."""
    found = one("retrieve_by", text, f'dates = "{order}"')
    assert found == (dt.date.fromisoformat(value) if value and value != "fault" else value)


@pytest.mark.parametrize(
    ("text", "day", "instant", "zone"),
    [
        # Lisbon keeps UTC+1 from the last Sunday of March
        ("2025-04-18", "2025-04-18", None, None),
        ("2025-04-18 09:30", "2025-04-18", "2025-04-18 08:30", ZONE),
        ("2025-01-18 09:30", "2025-01-18", "2025-01-18 09:30", ZONE),
        ("2025-04-18T09:30:15", "2025-04-18", "2025-04-18 08:30:15", ZONE),
        ("2025-04-18T09:30:15.250", "2025-04-18", "2025-04-18 08:30:15.250", ZONE),
        ("2025-04-18T09:30Z", "2025-04-18", "2025-04-18 09:30", "Z"),
        ("2025-04-18T09:30+09:00", "2025-04-18", "2025-04-18 00:30", "+09:00"),
        ("2025-04-18T09:30+0900", "2025-04-18", "2025-04-18 00:30", "+0900"),
        ("2025-04-18T09:30+09", "2025-04-18", "2025-04-18 00:30", "+09"),
        ("2025-04-18 09:30 -03:30", "2025-04-18", "2025-04-18 13:00", "-03:30"),
        ("2025-04-18T23:30Z", "2025-04-19", "2025-04-18 23:30", "Z"),
        ("2025-04-18 23:30:00+00", "2025-04-19", "2025-04-18 23:30", "+00"),
        ("2025-04-18 23:30:00+00:00", "2025-04-19", "2025-04-18 23:30", "+00:00"),
        ("2025-01-18T23:30Z", "2025-01-18", "2025-01-18 23:30", "Z"),
        ("2025-04-18T00:30+09:00", "2025-04-18", "2025-04-17 15:30", "+09:00"),
        ("2025-04-18 00:00:00", "2025-04-18", None, None),
        ("2025-04-18 9:05", "2025-04-18", "2025-04-18 08:05", ZONE),
    ],
)
def test_happened(cast, text, day, instant, zone):
    """A date may hold a time: the local day stays as written, or follows from an instant written in UTC."""
    typed, faults = cast("survey", {"happened": [text]})
    assert faults == []
    assert typed["happened"] == [dt.date.fromisoformat(day)]
    assert typed["happened_at"] == [instant and dt.datetime.fromisoformat(instant)]
    assert typed["happened_zone"] == [zone]


@pytest.mark.parametrize(
    "text",
    ["2025-04-18 25:30", "2025-04-18 09:75", "2025-04-18 noon", "2025-04-18 09:30 approx", "2025-04-18T09:30+99:00", "2025-02-30 09:30",
     "2025-04-18 24:00", "18/04/2025 09:30", "2025-04-18 09h30", "2025-04-18 9", "about 2025-04-18"],
)  # fmt: skip
def test_what_is_no_time_is_a_fault(cast, text):
    """Whatever stands behind the day and is no time of day is a fault, never dropped in silence."""
    typed, faults = cast("survey", {"happened": [text]})
    assert typed["happened"] == [None]
    assert faults == [(2, "happened", "not day", text)]


def test_mapping_zone_outranks_the_programmes(cast):
    """A partner in another zone states it, and its times and days are read in it."""
    typed, _ = cast("survey", {"happened": ["2025-04-18 09:30", "2025-04-18T20:00Z"]}, 'timezone = "Asia/Tokyo"')
    assert typed["happened_at"] == [dt.datetime(2025, 4, 18, 0, 30), dt.datetime(2025, 4, 18, 20, 0)]
    assert typed["happened"] == [dt.date(2025, 4, 18), dt.date(2025, 4, 19)]


def test_day_follows_from_the_time_column(cast):
    """Where no date is written, the time column gives the local day; where the hour is unknown, a day there will do."""
    typed, faults = cast(
        "deployment",
        {
            "happened": ["", "", "", "2025-04-01", ""],
            "down_at": ["2025-04-18 09:30", "2025-04-18T23:30Z", "2025-04-18", "2025-04-18 09:30", ""],
        },
    )
    days = [None if d is None else d.isoformat() for d in typed["happened"]]
    assert days == ["2025-04-18", "2025-04-19", "2025-04-18", "2025-04-01", None]
    assert [t and t.isoformat() for t in typed["down_at"]] == [
        "2025-04-18T08:30:00", "2025-04-18T23:30:00", None, "2025-04-18T08:30:00", None,
    ]  # fmt: skip
    assert faults == []


def test_time_column_that_cannot_be_read_is_a_fault(cast):
    """A time column that holds neither a time nor a day is a fault, also when the date column is filled."""
    typed, faults = cast(
        "deployment",
        {"happened": ["2025-04-18", "", "2025-04-18"], "down_at": ["early", "2025-04-18 25:00", "2025-04-18 about 9"]},
    )
    assert [f[:3] for f in faults] == [
        (2, "down_at", "not instant"),
        (3, "down_at", "not instant"),
        (4, "down_at", "not instant"),
    ]
    assert typed["happened"] == [dt.date(2025, 4, 18), None, dt.date(2025, 4, 18)]


def test_bad_date_is_not_mended_by_the_time(cast):
    """A date that cannot be read is a fault, even when a time column would give a day."""
    _, faults = cast("deployment", {"happened": ["31.02.2025"], "down_at": ["2025-04-18 09:30"]}, 'dates = "DMY"')
    assert faults == [(2, "happened", "not day", "31.02.2025")]


def test_required_time_needs_its_hour(cast):
    """A reading needs the time of day: a day alone is a fault of its cell."""
    _, faults = cast("reading", {"at": ["2025-04-18"]})
    assert faults == [(2, "at", "not instant", "2025-04-18")]


def test_midnight_readings_stay(cast):
    """A logger's reading at midnight keeps its instant: only a Date column takes 00:00:00 for no time."""
    typed, _ = cast("reading", {"at": ["2025-01-18 00:00:00"]})
    assert (typed["at"], typed["happened"]) == ([dt.datetime(2025, 1, 18)], [dt.date(2025, 1, 18)])


def test_estimated_on_gives_the_day_of_a_bed(cast):
    """A bed without a date holds from the day of its estimate; an estimate's day that cannot be read is a fault."""
    typed, faults = cast("bed", {"happened": ["", "2025-01-01"], "estimated_on": ["2025-02-01", "spring"]})
    assert typed["happened"] == [dt.date(2025, 2, 1), dt.date(2025, 1, 1)]
    assert faults == [(3, "estimated_on", "not day", "spring")]


def test_dive_is_named_by_site_day_and_number(cast):
    """A dive without a code is named by site, day and dive number; one with a code keeps it."""
    columns = {
        "visit_key": ["", "D7", "", ""], "site_key": ["CB", "CB", "CB", ""], "happened": ["2025-04-18"] * 3 + ["2025-04-18"],
        "dive_number": ["", "2", "2", ""],
    }  # fmt: skip
    typed, _ = cast("visit", columns)
    assert typed["visit_key"] == ["CB 2025-04-18 1", "D7", "CB 2025-04-18 2", None]


def test_parquet_is_read_our_way(cast):
    """Typed cells keep their point and their ISO days whatever the partner's sheets look like."""
    style = 'decimal = ","\ndates = "DMY"\nthousands = "."'
    typed, faults = cast("survey", {"area_m2": ["0.25"], "happened": ["2025-04-18"]}, style, native=True)
    assert (typed["area_m2"], typed["happened"], faults) == ([Decimal("0.25")], [dt.date(2025, 4, 18)], [])


# --- slow obvious twins --------------------------------------------------------------------------------------

NUMBER = (
    st.lists(st.sampled_from([*"0123456789.,+- e", "12", "345"]), max_size=12)
    .map("".join)
    .filter(lambda t: len(t) < 16)
)


def plain_number(text, decimal):
    """What a number is, said in Python: optional sign, digits, one decimal mark."""
    text = text.strip()
    body = re.fullmatch(rf"[+-]?(\d*)(?:{re.escape(decimal)}(\d*))?", text, re.ASCII)
    if not body or not (body[1] or body[2]) or len(body[1]) > 15:  # no measure has more digits
        return None
    return Decimal(text.replace(decimal, "."))


LONG_LISTS = settings(max_examples=25)  # of which each costs its planning, not its cells


@LONG_LISTS
@given(texts=st.lists(NUMBER, min_size=1, max_size=120), decimal=st.sampled_from(".,"))
def test_numbers_agree_with_decimal(cast, texts, decimal):
    """Any text is the measure, or the whole number, that Python's exact decimals say, or a fault."""
    typed, _ = cast("survey", {"depth_m": texts, "count": texts}, f'decimal = "{decimal}"')
    for text, measure, whole in zip(texts, typed["depth_m"], typed["count"], strict=True):
        value = plain_number(text, decimal)
        rounded = None if value is None else value.quantize(Decimal("0.000001"), ROUND_HALF_UP)
        assert measure == (rounded if rounded is not None and abs(rounded) < 10**12 else None), text
        is_whole = value is not None and value == int(value) and re.search(r"\d", text.split(decimal)[0])
        assert whole == (int(value) if is_whole else None), text


PIECE = st.integers(0, 40)


@LONG_LISTS
@given(
    days=st.lists(st.tuples(st.integers(1940, 2060), PIECE, PIECE, st.sampled_from("-./")), min_size=1, max_size=120),
    order=st.sampled_from(["YMD", "DMY", "MDY"]),
)
def test_days_agree_with_datetime(cast, days, order):
    """Any three numbers in the stated order are the day that Python's datetime says, or a fault."""
    texts, wanted = [], []
    for year, month, day, mark in days:
        shown = {"Y": f"{year}", "M": f"{month:02d}", "D": f"{day:02d}"}
        texts.append(mark.join(shown[piece] for piece in order))
        try:
            wanted.append(dt.date(year, month, day))
        except ValueError:
            wanted.append(None)
    typed, _ = cast("deployment", {"retrieve_by": texts, "happened": texts}, f'dates = "{order}"')
    assert typed["retrieve_by"] == typed["happened"] == wanted


ZONES = ["UTC", "Europe/Lisbon", "Asia/Tokyo", "America/St_Johns", "Pacific/Auckland"]


@LONG_LISTS
@given(
    moments=st.lists(st.datetimes(dt.datetime(1990, 1, 1), dt.datetime(2030, 1, 1)), min_size=1, max_size=80),
    zone=st.sampled_from(ZONES),
    offset=st.integers(-14 * 4, 14 * 4).map(lambda q: q * 15),
)
def test_instants_agree_with_datetime(cast, moments, zone, offset):
    """Any time with an offset is the instant that Python says, and a UTC instant falls on the zone's own day."""
    fixed = dt.timezone(dt.timedelta(minutes=offset))
    moments = [m.replace(microsecond=0) for m in moments]
    typed, faults = cast("handling", {"started_at": [m.replace(tzinfo=fixed).isoformat() for m in moments]}, zone=zone)
    assert faults == []
    assert typed["started_at"] == [m.replace(tzinfo=fixed).astimezone(dt.UTC).replace(tzinfo=None) for m in moments]
    typed, _ = cast("handling", {"started_at": [f"{m.isoformat()}Z" for m in moments]}, zone=zone)
    assert typed["happened"] == [m.replace(tzinfo=dt.UTC).astimezone(ZoneInfo(zone)).date() for m in moments]


@LONG_LISTS
@given(
    moments=st.lists(st.datetimes(dt.datetime(1990, 1, 1), dt.datetime(2030, 1, 1)), min_size=1, max_size=80),
    zone=st.sampled_from(ZONES),
)
def test_local_times_agree_with_datetime(cast, moments, zone):
    """A time without a zone is read in the programme's, wherever that zone has such a time exactly once."""
    there = ZoneInfo(zone)
    sure = [
        m.replace(microsecond=0) for m in moments
        if m.replace(tzinfo=there).utcoffset() == m.replace(tzinfo=there, fold=1).utcoffset()
    ]  # fmt: skip
    if sure:
        typed, _ = cast("handling", {"started_at": [m.isoformat(" ") for m in sure]}, zone=zone)
        assert typed["started_at"] == [m.replace(tzinfo=there).astimezone(dt.UTC).replace(tzinfo=None) for m in sure]
        assert typed["happened"] == [m.date() for m in sure]


def test_one_word_in_several_hands(cast):
    """Cells that mean the same word, in capitals or not, become that word."""
    typed, faults = cast("plot", {"plot_kind": ["treated", "Treated", " TREATED", "control"]})
    assert (typed["plot_kind"], faults) == (["treated"] * 3 + ["control"], [])


@pytest.mark.parametrize("day", ["0000-01-01", "0000-12-31"])
def test_a_day_of_the_year_nought_is_a_fault(empty, day):
    """A day of the year 0, which no calendar of ours has, is held like any other that is none, and stops nothing."""
    [entry] = empty.take(
        {"club/deployment.csv": f"unit_key,method,site_key,plot_key,happened\nU1,spore bag,A,T1,{day}\n".encode()}
    )
    assert entry.receipt.held == 1
