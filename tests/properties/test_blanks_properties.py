"""Blank sheets of every kind, filled in by anybody: what their own checks let through is read, and every word they offer is known."""

import csv
import datetime as dt
import io
import string
from decimal import Decimal

import blanks
import pytest
from hypothesis import given
from hypothesis import strategies as st
from profiles import examples

from pipeline.blanking import _lists, desk, sheet, way
from pipeline.blanks.columns import TITLES
from pipeline.trying import try_file

STYLE = {"DMY": "%d/%m/%Y", "YMD": "%Y-%m-%d", "MDY": "%m/%d/%Y"}
TAKEN = ("entered", "amends", "repeated")


@pytest.fixture(scope="module")
def club(new_programme):
    """A programme with a site, a plot and a bed, and a partner without a mapping."""
    programme = new_programme()
    programme.put("klubb", "x.csv", "a\n")
    programme.ask("select 1")
    return programme


def written(value, page):
    """A value as somebody types it into that sheet."""
    if isinstance(value, dt.datetime):
        return value.strftime(f"{STYLE[page.dates]} %H:%M")
    if isinstance(value, dt.date):
        return value.strftime(STYLE[page.dates])
    if isinstance(value, float | Decimal):
        return (
            f"{value:f}".replace(".", page.decimal)
            if isinstance(value, Decimal)
            else str(value).replace(".", page.decimal)
        )
    return str(value)


def good(page, kind):
    """A good row of a kind, by heading."""
    [part] = page.parts
    said = {c: {ours: theirs for theirs, ours in words.items()} for c, words in part.codes.items()}
    return {
        part.headings[c]: said.get(c, {}).get(v, written(v, page))
        for c, v in blanks.ROWS[kind].items()
        if c in part.headings
    }


def tried(club, at, kind, rows):
    """What would become of a blank sheet of that kind, made at that desk, filled in with these rows and saved as CSV."""
    made = sheet(at, way(at, kind))
    text = io.StringIO()
    headings = [b.heading for b in made.boxes]
    csv.writer(text, delimiter=";").writerows(
        [[made.mark], headings, *([r.get(h, "") for h in headings] for r in rows)]
    )
    return try_file(club.root, club.put("klubb", f"{kind}.csv", text.getvalue().encode()), "klubb")


@pytest.mark.parametrize("language", ["en", "nb", "fr"])
def test_every_word_of_every_list_is_known(club, language):
    """Each word that a box offers, in a row that is good else, is no word that the reader does not know."""
    at = desk(club.root, "klubb", language)
    lists = _lists(at).plain
    met = 0
    for kind in TITLES:
        w = way(at, kind)
        offered = [(b.heading, word) for b in sheet(at, w).boxes for word in (b.words or lists.get(b.offered, ()))]
        rows = [{**good(w.sheet, kind), heading: word} for heading, word in offered]
        told = tried(club, at, kind, rows)
        wrong = {(offered[f.row - 3], f.code) for f in told.faults if f.heading == offered[f.row - 3][0]}
        assert wrong == set(), (kind, wrong)
        met += len(offered)
    assert met > 100


def cell(box, page):
    """What the check of a box lets through, or a blank."""
    if box.words:
        typed = st.sampled_from(box.words)
    elif box.sort in ("day", "instant"):
        typed = st.dates(dt.date(1950, 1, 1), dt.date(2026, 1, 1)).map(lambda d: written(d, page))
    elif box.sort in ("whole", "decimal"):
        low = box.least if box.above is None else box.above + Decimal("0.5")
        low, high = Decimal(-1000) if low is None else low, Decimal(10_000) if box.most is None else box.most
        places = 0 if box.sort == "whole" else 2
        typed = st.decimals(low, max(low, high), places=places).map(lambda n: written(n, page))
    else:
        typed = st.text(string.ascii_letters + string.digits + " .,;:-_/\"'=+()«»åøé", max_size=30)
    return st.one_of(st.just(""), typed)


@examples(12)
@given(st.data())
def test_whatever_passes_the_checks_is_taken_or_held_with_a_reason(club, data):
    """Cells that the sheet's own checks let through make parts that are taken, or held with what is wanted and what to do; no row is lost."""
    kind, language = data.draw(st.sampled_from(sorted(TITLES))), data.draw(st.sampled_from(["en", "nb"]))
    at = desk(club.root, "klubb", language)
    w = way(at, kind)
    drawn = {b.heading: cell(b, w.sheet) for b in sheet(at, w).boxes if b.sort}
    rows = data.draw(st.lists(st.fixed_dictionaries(drawn), min_size=1, max_size=4))
    told = tried(club, at, kind, rows)
    r = told.entry.receipt
    assert told.entry.unreadable == "" and r.holds()
    filled = {n for n, row in enumerate(rows, 3) if any(v.strip() for v in row.values())}
    assert {f.row for f in told.fates} == filled
    reasons = {(f.row, f.part) for f in told.faults if f.wanted and f.advice}
    assert all(f.fate in TAKEN or (f.row, f.part) in reasons for f in told.fates)
