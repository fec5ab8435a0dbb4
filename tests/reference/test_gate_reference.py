"""What dates, outlines and precisions of an archive mean, against the published examples of the standards."""

import datetime as dt

import duckdb
import pytest

from pipeline.gate import dates
from pipeline.gate.dates import Span, span
from pipeline.gate.outlines import box_of
from pipeline.gate.rules.place import STEP_M


def read(text: str) -> Span:
    """What a text says, which can be read."""
    found = span(text)
    assert isinstance(found, Span), found
    return found


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("2023-01-13", (2023, 1, 13, 13, 13)),
        ("2023-01-13/2023-01-15", (2023, 1, None, 13, 15)),
        ("2023-01-13/2023-02-03", (2023, None, None, 13, 34)),
        ("2023-01-13/2024-03-09", (None, None, None, 13, 69)),
        ("2023-01", (2023, 1, None, None, None)),
        ("2023/2024", (None, None, None, None, None)),
    ],
)
def test_gbifs_table_of_parts(text, parts):
    """Year, month, day and days of the year come out as in the table of GBIF's temporal page (tech-docs, 2026-07-17)."""
    s = read(text)
    assert (s.year, s.month, s.day, s.start_day_of_year, s.end_day_of_year) == parts


@pytest.mark.parametrize(
    ("text", "first", "last"),
    [
        ("1809-02-12", dt.date(1809, 2, 12), dt.date(1809, 2, 12)),
        ("1906-06", dt.date(1906, 6, 1), dt.date(1906, 6, 30)),
        ("1971", dt.date(1971, 1, 1), dt.date(1971, 12, 31)),
        ("2009-02-20T08:40Z", dt.date(2009, 2, 20), dt.date(2009, 2, 20)),
        ("1963-03-08T14:07-06:00", dt.date(1963, 3, 8), dt.date(1963, 3, 8)),
        ("2018-08-29T15:19", dt.date(2018, 8, 29), dt.date(2018, 8, 29)),
        ("2007-11-13/15", dt.date(2007, 11, 13), dt.date(2007, 11, 15)),
        ("2007-03-01T13:00:00Z/2008-05-11T15:30:00Z", dt.date(2007, 3, 1), dt.date(2008, 5, 11)),
        ("1900/1909", dt.date(1900, 1, 1), dt.date(1909, 12, 31)),
    ],
)
def test_the_terms_own_examples(text, first, last):
    """The examples of dwc:eventDate (tdwg/dwc 2026-05-26) are read, ends included as GBIF does."""
    s = read(text)
    assert (s.first, s.last) == (first, last)


@pytest.mark.parametrize(
    "text", ["1993", "1993-01", "1993-01/02", "2008-04-25T09:53", "2005-08-31T12:11+1200", "2013-02-16T04:28Z",
             "1970-01-01T00:00:00/1971-01-01T00:00:00", "2010-01-01/2012-01-01", "2300-01-01T00:00:00", "1590-04-11"]
)  # fmt: skip
def test_forms_that_obis_accepts(text):
    """The forms of the OBIS manual (common_formatissues.md) and of obis-qc's test_time.py are read."""
    assert isinstance(span(text), Span)


def test_the_middle_of_obis_interval_is_its_year():
    """2010-01-01/2012-01-01 has its middle in 2011 (obis-qc test_time.py)."""
    s = read("2010-01-01/2012-01-01")
    assert (s.first + (s.last - s.first) / 2).year == 2011


@pytest.mark.parametrize("text", ["2025-193", "2025-W28", "2025-W28-6", "P1D", "2025-01-01/P1M"])
def test_forms_that_obis_does_not_support(text):
    """Days of the year, weeks and durations are ISO and not read (OBIS manual, common_formatissues.md)."""
    assert span(text) == dates.OTHER_FORM


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("2025-07-00", dates.ZEROS), ("2025-02-29", dates.NO_SUCH_DAY), ("2025-13-01", dates.NO_SUCH_DAY),
        ("2025-07-12T25:00", dates.NO_SUCH_DAY), ("2025-02-01/2025-01-01", dates.BACKWARDS), ("2025-07-12T10:00/09:00", dates.BACKWARDS),
        ("12/07/2025", dates.WRONG), ("July 2025", dates.WRONG), ("20250712", dates.WRONG), ("2025-7-1", dates.WRONG),
        ("2025-07-12 10:00", dates.WRONG), ("2025-07-12/", dates.WRONG), ("/2025", dates.WRONG), ("2025/2026/2027", dates.WRONG),
    ],
)  # fmt: skip
def test_what_is_no_date(text, wrong):
    """What ISO 8601-1's extended form does not have is named for what it is (OBIS manual; common practice, no source)."""
    assert span(text) == wrong


@pytest.mark.parametrize(
    ("step", "metres"),
    [(1, (156904, 146962, 124605, 112109)), (0.01, (1570, 1470, 1246, 1121)), (0.0001, (16, 15, 13, 12)),
     (1 / 60, (2615, 2450, 2077, 1869)), (1 / 3600, (44, 41, 35, 32))],
)  # fmt: skip
def test_the_rule_of_precision_meets_the_table(step, metres):
    """The gate's SQL gives the uncertainty from precision of Georeferencing Best Practices (Chapman & Wieczorek 2020)."""
    for latitude, published in zip((0, 30, 60, 85), metres, strict=True):
        told = duckdb.sql(f"select {STEP_M.format(lat=latitude, precision=step)}").fetchall()[0][0]
        assert told == pytest.approx(published, abs=1)


def test_the_terms_own_outline():
    """POLYGON ((10 20, 11 20, 11 21, 10 21, 10 20)) is the box from 10 to 11 east, 20 to 21 north (dwc:footprintWKT)."""
    assert box_of("POLYGON ((10 20, 11 20, 11 21, 10 21, 10 20))") == (10, 20, 11, 21)


@pytest.mark.parametrize(
    "wkt", ["POLYGON ((10 20, 11 20, 11 21, 10 21))", "POLYGON ((10 20, 11 20", "BOX (1 2)", "POINT (10 91)", "POINT (181 9)",
            "POINT EMPTY", "somewhere", "POINT (10; drop)"]
)  # fmt: skip
def test_what_is_no_outline(wkt):
    """An open ring, an open bracket, an unknown kind, a place beyond the globe and plain words are no outline."""
    assert box_of(wkt) is None
