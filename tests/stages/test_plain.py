"""Odd hands: any day, time, count and measure comes back as it was meant, whoever wrote it and however."""

# ruff: noqa: DTZ001 (local times stand without a zone)

import datetime as dt
import subprocess
import sys
import tomllib
from fractions import Fraction
from zoneinfo import ZoneInfo

import pytest
from babel.dates import format_date
from hypothesis import given
from hypothesis import strategies as st

from pipeline.intake.amounts import amount, number, rounded
from pipeline.intake.clock import NEVER, TWICE, changes, clock, doubt, instant
from pipeline.intake.counts import Count, count_said
from pipeline.intake.days import beyond_its_month, readings, serial
from pipeline.intake.orders import order_of
from pipeline.intake.units import units_for
from pipeline.suggest.lexicon import FOLDER as LEXICONS

DAYS = st.dates(dt.date(1970, 1, 1), dt.date(2069, 12, 31))
LANGUAGES = ["en", "es", "pt", "fr", "nb", "de", "nl", "da", "sv", "it"]
MARKS = st.sampled_from(["/", "-", ".", " ", ", ", "/ ", "–"])

# --- days ---------------------------------------------------------------------------------------------------


def written(day, order, mark, pad, year):
    """A day as three numbers."""
    shown = {
        "Y": f"{day.year}" if year == 4 else f"{day.year % 100:02d}",
        "M": f"{day.month:0{pad}d}",
        "D": f"{day.day:0{pad}d}",
    }
    return mark.join(shown[piece] for piece in order)


@given(DAYS, st.sampled_from(["DMY", "MDY", "YMD", "YDM"]), MARKS, st.sampled_from([1, 2]), st.sampled_from([2, 4]))
def test_any_day_in_any_order(day, order, mark, pad, year):
    """A day written as three numbers is that day in the order it was written in."""
    assert readings(written(day, order, mark, pad, year))[order] == day


@given(
    DAYS,
    st.sampled_from(LANGUAGES),
    st.sampled_from(["full", "long", "d MMM yyyy", "d-MMM-yyyy", "MMMM d, yyyy", "EEE d MMM yyyy"]),
)
def test_any_day_in_any_language(day, language, form):
    """A day written with its month's name, as the CLDR of that language writes it, needs no order."""
    assert readings(format_date(day, form, locale=language)) == {"": day}


@given(DAYS, st.sampled_from(LANGUAGES))
def test_case_accents_and_dots_do_not_matter(day, language):
    """Capitals, and abbreviations without their dots, are the same day."""
    text = format_date(day, "d MMM yyyy", locale=language)
    assert readings(text.upper()) == readings(text.replace(".", "")) == {"": day}


@pytest.mark.parametrize(
    "text",
    ["", "spring", "2025", "April 2025", "18 April", "31/02/2025", "2025-04-18 or so", "18 April 2025 ?", "about 18 April 2025",
     "18 April or May 2025", "1.2.3.4", "18/04/20255", "١٨/٠٤/٢٠٢٥", "18²/04/2025", "18-19 April 2025", "45765", "0/0/0"],
)  # fmt: skip
def test_what_is_no_single_day(text):
    """Half a day, two days, a doubtful day and a day that never was are no days."""
    assert readings(text) == {}


@given(st.lists(DAYS, min_size=1, max_size=30), st.sampled_from(["DMY", "MDY"]))
def test_a_settled_order_is_the_one_it_was_written_in(days, order):
    """Whenever a column settles an order it is the writer's, by a cell that no other order reads, else it is asked or all the same."""
    texts = [written(d, order, "/", 2, 4) for d in days]
    found = order_of(texts)
    telling = [d for d in days if d.day > 12]
    assert found.order == (order if telling else "")
    assert found.asked == (not telling and any(d.day != d.month for d in days))
    if found.order:
        assert len(readings(found.cells[0])) == 1
    if found.asked:
        assert found.cells and 'dates = "DMY"' in found.question()


def test_contradicting_cells_are_shown():
    """Two cells that no one order reads are named in the question."""
    found = order_of(["03/04/2025", "18/04/2025", "04/18/2025", "05/06/2025"])
    assert (found.order, found.asked, found.against) == ("", True, True)
    assert set(found.cells) == {"18/04/2025", "04/18/2025"}


def test_names_and_iso_days_settle_nothing_for_others():
    """A spreadsheet shows 3-Apr-25 to Americans too, so only numbers tell the order of numbers."""
    assert order_of(["3 April 2025", "2025-04-18", "2025-13-01", "soon"]).asked is False
    assert order_of(["3 April 2025", "03/04/2025"]).asked is True


@given(DAYS, st.sampled_from(["serial", "serial 1904"]), st.integers(0, 86399))
def test_numbers_of_days(day, epoch, second):
    """A workbook's number of a day is that day, its fraction the time to the second, in both epochs."""
    start = dt.date(1899, 12, 30) if epoch == "serial" else dt.date(1904, 1, 1)
    found = serial(f"{(day - start).days}.{round(second / 86400 * 1e10):010d}", epoch)
    time = dt.timedelta(seconds=second)
    assert found == (
        day,
        "" if not second else str(dt.time(time.seconds // 3600, time.seconds // 60 % 60, second % 60)),
    )


# --- times --------------------------------------------------------------------------------------------------

CLOCKS = (
    "{h}:{m:02d}", "{h:02d}.{m:02d}", "{h:02d}{m:02d}", "{h}h{m:02d}", "{h}:{m:02d} Uhr", "kl. {h}.{m:02d}", "{h}:{m:02d} hrs",
    "{h}:{m:02d}:00", "{k}:{m:02d} {half}", "{k}.{m:02d}{half}", "{h} h {m:02d}", "às {h}h{m:02d}", "{h}:{m:02d}:00,5",
)  # fmt: skip


@given(st.times(), st.sampled_from(CLOCKS))
def test_any_clock(time, form):
    """A time of day is the same in every hand."""
    half = ("a.m." if "." in form else "AM") if time.hour < 12 else ("p.m." if "." in form else "pm")
    text = form.format(h=time.hour, m=time.minute, k=time.hour % 12 or 12, half=half)
    found = clock(text)
    assert found and (found.hour, found.minute, found.second, found.zone) == (time.hour, time.minute, 0, "")


@pytest.mark.parametrize(
    "text",
    ["", "9", "930", "24:00", "9:60", "13:00 am", "noon", "about 9:30", "9:30 or so", "9:30?", "12", "9:3", "0 am"],
)
def test_what_is_no_time(text):
    """A bare number and a doubtful time are no times."""
    assert clock(text) is None or instant(dt.date(2025, 4, 18), clock(text), "Europe/Lisbon").why == "zone"


PLACES = [
    "Europe/Lisbon",
    "America/St_Johns",
    "Australia/Lord_Howe",
    "Asia/Tokyo",
    "Pacific/Auckland",
    "America/Los_Angeles",
]


@given(st.datetimes(dt.datetime(1975, 1, 1), dt.datetime(2037, 1, 1)), st.sampled_from(PLACES))
def test_a_local_time_is_read_only_where_there_is_one(local, place):
    """A local time without zone is an instant exactly if one instant shows it on the clocks of that place."""
    local, there = local.replace(second=0, microsecond=0), ZoneInfo(place)
    seen = {  # by search, not by folds: which instants show this time there
        at for minutes in range(-14 * 60, 14 * 60 + 1, 15)
        for at in [local.replace(tzinfo=dt.UTC) + dt.timedelta(minutes=minutes)]
        if at.astimezone(there).replace(tzinfo=None) == local
    }  # fmt: skip
    assert doubt(local, place) == {0: NEVER, 1: "", 2: TWICE}[len(seen)]


@given(st.data(), st.sampled_from(PLACES[:3] + PLACES[4:]), st.integers(-90, 90))
def test_near_a_change_of_the_clocks(data, place, minutes):
    """The same within an hour and a half of a change, where it matters."""
    recent = [c for c in changes(place) if 1975 < c.year < 2037]
    at = data.draw(st.sampled_from(recent)).replace(tzinfo=dt.UTC).astimezone(ZoneInfo(place)).replace(tzinfo=None)
    test_a_local_time_is_read_only_where_there_is_one.hypothesis.inner_test(at + dt.timedelta(minutes=minutes), place)


def test_letters_of_a_zone_count_where_they_are_used():
    """BST is an offset to London's clocks and nothing to Lisbon's; letters tell the two times of an autumn night apart."""
    day = dt.date(2025, 10, 26)
    assert instant(dt.date(2025, 6, 1), clock("01:30 BST"), "Europe/London").text.endswith("+01:00")
    assert instant(dt.date(2025, 6, 1), clock("01:30 BST"), "Europe/Lisbon").why == "zone"
    assert [instant(day, clock(f"01:30 {z}"), "Europe/London").text[-6:] for z in ("BST", "GMT")] == [
        "+01:00",
        "+00:00",
    ]


# --- counts -------------------------------------------------------------------------------------------------

SAID = {
    "about": [
        "c. {}",
        "ca {}",
        "~{}",
        "approx. {}",
        "cerca de {}",
        "unos {}",
        "environ {}",
        "omtrent {}",
        "{} ?",
        "±{}",
    ],
    "at least": [
        ">{}",
        ">= {}",
        "{}+",
        "more than {}",
        "más de {}",
        "pelo menos {}",
        "plus de {}",
        "mer enn {}",
        "{} or more",
    ],
    "at most": ["<{}", "≤ {}", "less than {}", "menos de {}", "até {}", "moins de {}", "mindre enn {}", "{} or fewer"],
}


def whole(text):
    """A number as an English sheet writes it."""
    value = number(text, ".", ",")
    return int(value) if value is not None and value.denominator == 1 else None


# the suggester asks about them: Norwegian's zero is an empty cell of a database; none were there, or none was written; an error
ASKED = {"null", "none recorded", "#n/a"}


@pytest.mark.parametrize("lexicon", sorted(LEXICONS.glob("??.toml")), ids=lambda p: p.stem)
def test_what_the_suggester_takes_for_blank_is_no_count(lexicon):
    """A cell that says in any language that nobody looked, measured or wrote makes no number; “empty” is held, as it may say either."""
    told = tomllib.loads(lexicon.read_text())
    blank = [w for w in told["blanks"]["nothing"] if w not in ASKED]
    assert len(blank) > 10 and [w for w in blank if count_said(w, int) != Count(None)] == []
    empty = told["values"]["state"]["empty"]
    assert empty and [w for w in empty if count_said(w, int) is not None] == []


@given(st.data(), st.integers(0, 10**6), st.sampled_from(sorted(SAID)))
def test_any_rough_count(data, count, word):
    """A rough count keeps its number and what was said of it, in every language."""
    count = max(count, 1) if word in ("at least", "at most") else count  # of bounds of zero below
    said = count_said(data.draw(st.sampled_from(SAID[word])).format(count), whole)
    assert (said.count, said.word, said.most) == (count, word, None)


@given(
    st.integers(0, 1000),
    st.integers(1, 1000),
    st.sampled_from(["{}-{}", "{} – {}", "{} to {}", "entre {} y {}", "{} à {}", "{} til {}"]),
)
def test_between_two_numbers(low, more, form):
    """Two numbers are kept both; the wrong way round they are nothing."""
    said = count_said(form.format(low, low + more), whole)
    assert (said.count, said.word, said.most) == (low, "between", low + more)
    assert count_said(form.format(low + more, low), whole) is None


@pytest.mark.parametrize(
    "text", [">0", "> 0", "more than 0", "más de 0", "mais de 0", "plus de 0", "mer enn 0", "flere enn 0", "over 0"]
)
def test_more_than_no_plant_is_one_at_least(text):
    """More than zero plants are one or more."""
    assert count_said(text, whole) == Count(1, "at least")


@pytest.mark.parametrize(
    "text",
    [
        "<0",
        "< 0",
        "less than 0",
        "menos de 0",
        "moins de 0",
        "mindre enn 0",
        "færre enn 0",
        "≥0",
        ">= 0",
        "at least 0",
        "0+",
        "0 or more",
    ],
)
def test_a_bound_of_zero_that_says_nothing_is_no_count(text):
    """Fewer than no plants there cannot be, and at least none says nothing: neither is a counted zero."""
    assert count_said(text, whole) is None


@pytest.mark.parametrize(
    "text", ["1e2", "1E2", "1E+02", "1e+2", "1e-2", "1.2E+3", "1a2", "1y2", "1à2", "~1e2", ">1E2", "10e15"]
)
def test_a_letter_between_digits_joins_no_two_numbers(text):
    """A number with an exponent is neither two numbers nor, since a sheet shows it rounded, one; letters join numbers between blanks alone."""
    assert count_said(text, whole) is None


@pytest.mark.parametrize(
    "text", ["1 e 2", "1 y 2", "1 a 2", "1 à 2", "entre 1 e 2", "de 1 a 2", "1 et 2", "1to2", "1..2", "1 \u00a0e 2"]
)
def test_a_letter_between_blanks_joins_two_numbers(text):
    """The words of one letter join two numbers where blanks stand around them."""
    assert count_said(text, whole) == Count(1, "between", 2)


@pytest.mark.parametrize(
    "text",
    [
        "3.5",
        "~3.5",
        "many?",
        "see notes",
        "20²",
        "３",
        "-3",
        "< 3 or 4",
        "1,00",
        "3 3",
        "20 30",
        "c.",
        ">",
        "2025-04-18",
        "Vacía",
        "vazio",
        "tomt",
        "#N/A",
    ],
)
def test_what_is_no_count(text):
    """Free text, half plants, dates, two numbers side by side, empty cells by name and errors are no counts."""
    assert count_said(text, whole) is None


# --- measures -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("ours", ["m", "cm", "m2", "kg", "degC", "min", "s", "d", "%"])
def test_any_unit_in_the_cell(ours):
    """A number with any usual unit of a measure is that many of it; with a unit of another measure it is none."""
    from pipeline.intake.units import exact_conversion

    for unit in units_for(ours):
        if unit in ("share",):
            continue
        factor, added = exact_conversion(unit, ours)
        assert amount(f"12,5 {unit}", ours, ",", "").value == Fraction(25, 2) * factor + added, unit
    assert amount("12 kg" if ours != "kg" else "12 cm", ours, ".", "").value is None


@given(st.integers(0, 400), st.integers(0, 11))
def test_feet_and_inches(feet, inches):
    """Feet and inches in one cell are added, whichever marks they are written with."""
    for form in ("{} ft {} in", "{}'{}\"", "{} feet, {} inches", "{}ft{}in", "{}′ {}″"):
        assert amount(form.format(feet, inches).replace(",", ""), "cm", ".", "").value == Fraction(254, 100) * (
            12 * feet + inches
        )


@given(st.fractions(-(10**9), 10**9), st.integers(2, 7))
def test_rounding_is_half_away_from_zero(value, places):
    """A rounded number is the nearest of so many places, the greater where two are as near."""
    off = abs(Fraction(rounded(value, places))) - abs(value)
    assert -Fraction(1, 2 * 10**places) < off <= Fraction(1, 2 * 10**places)


def test_a_quiet_start_loads_no_library_of_units_or_names():
    """Mappings with usual units are read without pint and babel, which take their time."""
    code = (
        "import sys; from pipeline.intake.units import conversion; from pipeline.intake import mapping, plain\n"
        "assert conversion('ft', 'm') and conversion('degF', 'degC')\n"
        "print([m for m in ('pint', 'babel') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize(
    ("text", "last"),
    [("31.02.2025", "2025-02-28"), ("02/31/2025", "2025-02-28"), ("2024-02-30", "2024-02-29"), ("30 février 2025", "2025-02-28"),
     ("31.11.2025", "2025-11-30"), ("32/07/2025", "2025-07-31"), ("2025-07-45", "2025-07-31"), ("29.02.2024", None), ("31.12.2025", None), ("spring 2025", None), ("2025-04-18", None)],
)  # fmt: skip
def test_a_day_beyond_its_month_is_known_as_one(text, last):
    """Of a day that its month has not, in any way of writing, the month's last day is known; of every other text nothing."""
    found = beyond_its_month(text)
    assert (found and found.isoformat()) == last
