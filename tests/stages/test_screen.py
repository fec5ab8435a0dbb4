"""What the terminal shows: tables no wider than the screen, numbers never cut, each note read once."""

import datetime as dt
import itertools
import re

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from pipeline.indicators.estimate import Estimate
from pipeline.indicators.figure import Figure, scope
from pipeline.lineage import Home
from pipeline.outputs.layout import paragraph, ranges, table
from pipeline.outputs.screen import rows_home
from pipeline.outputs.side_by_side import waiting
from pipeline.outputs.summary import summary
from pipeline.unsettled import Saying

WORD = st.text(st.sampled_from("abcdefgh,.|é"), min_size=1, max_size=70)
CELL = st.lists(WORD, max_size=6).map(" ".join)
NUMBER = st.builds("{:,} to {:,}".format, st.integers(0, 10**6), st.integers(0, 10**6))


@given(st.lists(st.tuples(CELL, NUMBER, CELL, NUMBER), min_size=1, max_size=6), st.integers(80, 160))
@example([("a" * 70, "1 to 2", "b" * 70, "3 to 4")], 80)
@example([("a " * 35, "1 to 2", "b" * 70, "3 to 4")], 80)
def test_a_table_is_no_wider_than_the_screen(rows, width):
    """No line of a table is wider than asked, and every letter and digit of every cell stands in it."""
    lines = table(["key", "low to high", "what it says", "of all"], rows, (1, 3), width)
    assert max(map(len, lines)) <= width
    body = lines[next(i for i, line in enumerate(lines) if line and not line.strip("- ")) + 1 :]
    given_, shown = ("".join("".join(texts).split()) for texts in (itertools.chain.from_iterable(rows), body))
    assert sorted(shown) == sorted(given_)


@example([("123,456 to 234,567", "a b", "123,456 to 234,567", "123,456 to 234,567")], 40)
@given(st.lists(st.tuples(NUMBER, CELL, NUMBER, NUMBER), min_size=1, max_size=4), st.integers(30, 80))
def test_numbers_are_never_cut(rows, width):
    """However narrow the screen, each number stands whole on one line."""
    lines = table(["in all", "text", "from to", "of"], rows, (0, 2, 3), width)
    words = {w for line in lines for w in line.split()}
    assert {w for a, _, b, c in rows for n in (a, b, c) for w in n.split()} <= words


def test_a_table_that_fits_is_left_as_it_is():
    """Cells keep their blanks, and columns are as wide as their widest cell, where there is room."""
    assert table(["a", "n"], [["x  y", "10"], ["z", "7"]], (1,)) == ["a      n", "----  --", "x  y  10", "z      7"]


def test_long_text_goes_on_below_in_its_own_column():
    """What does not fit is told on further lines, under its own heading, beside blanks."""
    lines = table(["k", "says"], [["A", "one two three four"], ["B", "five"]], width=16)
    assert lines == ["k  says", "-  -------------", "A  one two three", "   four", "B  five"]


@pytest.mark.parametrize("hostile", ["x\ny", "x\ry", "x\x1b[2Jy", "x\u2028y", "x\u202ey"])
def test_a_cell_cannot_write_on_the_terminal(hostile):
    """Line breaks, escapes and marks of direction in a partner's text are blanks on the screen."""
    for line in [*table(["k"], [[hostile]]), *paragraph("note", hostile, 6)]:
        assert line.isprintable()
    assert len(table(["k"], [[hostile]])) == 3


def test_ranges_of_numbers():
    """Numbers are told in order, three and more in a row as a range."""
    assert ranges([17, 3, 4, 9, 10, 11, 3]) == "3,4,9-11,17"
    assert ranges([]) == ""


# --- the summary ---------------------------------------------------------------------------------------------


def estimate(value, unit="per m2", note="", *cautions, low=None, high=None, n=4):
    """An estimate in few words."""
    return Estimate("estimated", unit, n, "frames", "m", value, low, high, note=note, cautions=cautions)


def density(site, kind, value, *cautions, species="Laminaria digitata", survey="2025-06-01"):
    """A density of recruits."""
    what = scope(
        site=site, plot_kind=kind, species=species, stage="recruit", survey=survey, protocol="p", placed="plot"
    )
    return Figure("density", what, estimate(value, "per m2", "", *cautions))


def cost(site, value, amount, m2, *cautions):
    """Cash a hectare, with the note that the estimator writes."""
    note = f"{amount:.2f} EUR on {m2} m2; one site: no interval"
    return Figure("cash per hectare", scope(site=site), estimate(value, "EUR per ha", note, *cautions))


FIGURES = [
    density("A", "treated", 3.0, "the datum was not told", "rough"),
    density("A", "control", 1.0, "rough"),
    density("B", "treated", 2.0, "the datum was not told"),
    Figure("treated area", scope(site="A"), estimate(60.0, "m2")),
    Figure("treated area", scope(site="B"), estimate(50.0, "m2")),
    cost("A", 140000.0, 840.0, 60, "trial", "rough"),
    cost("B", 20000.0, 100.0, 50, "trial"),
]
SITES = {"A": "Ardent Rock", "B": "Bell Reef", "C": "Cold Hole"}


def test_each_note_is_read_once_in_the_order_it_is_met():
    """Notes are numbered as they are met and told in full once, below the first table that needs them."""
    text = summary(FIGURES, "2025-06-01", "Drawn", SITES)
    told = re.findall(r"^ +(\d+)  (.+)$", text, re.MULTILINE)
    assert told == [("1", "the datum was not told"), ("2", "rough"), ("3", "one site: no interval"), ("4", "trial")]
    blocks = re.split(r"^Notes$", text, flags=re.MULTILINE)
    assert "rough" in blocks[1] and "WHAT DID A HECTARE COST?" in blocks[1] and "trial" in blocks[2]
    [dear] = [line for line in text.splitlines() if line.startswith("A ") and "cash" in line]
    assert dear.endswith("2-4")


def test_what_stands_beside_the_sites_is_not_told_again_beside_all():
    """A figure over all sites has its own notes only, and one that points to those of its sites."""

    def held(site, *cautions):
        what = scope(site=site, method="spore bag", day=20)
        return Figure("unit retention", what, estimate(0.9, "fraction", "", *cautions))

    figures = [
        held("A", "2 times at A missed", "waits: 1"),
        held("B"),
        held("all", "2 times at A missed", "A: waits: 1", "own"),
    ]
    text = summary(figures, "2025-06-01", "Drawn")
    told = re.findall(r"^ +\d+  (.+)$", text, re.MULTILINE)
    pointer = "what stands beside each site's own figures speaks of these too"
    assert told == ["2 times at A missed", "waits: 1", "own", pointer]
    [every] = [line for line in text.splitlines() if line.startswith("all ")]
    assert every.endswith(" 3,4")


def test_money_and_area_stand_in_the_row():
    """What was paid and planted stands beside the price, and is not told again as a note."""
    text = summary(FIGURES, "2025-06-01", "Drawn")
    assert re.search(r"^A +60 +cash +840\.00 +EUR +140,000 ", text, re.MULTILINE)
    assert "on 60 m2" not in text


def test_sites_are_named_once():
    """Each site of the figures stands with its name at the top; sites without figures do not."""
    text = summary(FIGURES, "2025-06-01", "Drawn", SITES)
    assert re.search(r"^A     Ardent Rock\nB     Bell Reef\n\n", text, re.MULTILINE)
    assert "Cold Hole" not in text and text.count("Ardent Rock") == 1


def test_every_species_has_its_table():
    """Recruits of two species stand in two tables, each under the species' name."""
    both = [*FIGURES, density("A", "treated", 5.0, species="Alaria esculenta")]
    text = summary(both, "2025-06-01", "Drawn")
    assert re.findall(r"^(Alaria esculenta|Laminaria digitata)\nsite, round", text, re.MULTILINE) == [
        "Alaria esculenta", "Laminaria digitata"
    ]  # fmt: skip


def test_an_empty_answer_says_so():
    """Where nothing was measured yet, each question says that nothing can be said."""
    assert summary([], "1950-01-01", "Drawn").count("Nothing can be said yet.") == 3


@pytest.mark.parametrize("width", [80, 100, 120])
def test_the_summary_fits_the_screen(width):
    """The summary keeps to the screen, also with refusals, long notes and wide intervals."""
    refused = Estimate("not estimable", "per m2", 12, "frames", "none", note="too few frames " * 9)
    wide = estimate(-12345.6, low=-123456.0, high=98765.4, n=123456)
    what = dict(FIGURES[0].scope)
    more = [
        Figure("treated minus control", scope(**{k: v for k, v in what.items() if k != "plot_kind"}), e)
        for e in (refused, wide)
    ]
    text = summary([*FIGURES, *more], "2025-06-01", "Drawn " * 20, SITES, width)
    assert max(map(len, text.splitlines())) <= width


def sayings(receipt, things):
    """Two sayings of each thing: taken in by receipt 1, asked about by `receipt`."""
    return [
        Saying("deployment", f"U{n}", f"{n:032d}", f"c{as_}{n}", as_, "club", "bags.csv", "", n, entry, "", dt.date(2025, 4, 1), "", f"fixing {as_}")
        for n in range(things) for as_, entry in (("taken in", 1), ("question", receipt))
    ]  # fmt: skip


def test_questions_that_one_file_left_are_told_once():
    """Of many questions of one file the first three are shown with how many more there are; asked for, all of them."""
    many = waiting(sayings(54, 34))
    assert many.count("to choose") == 3
    assert "... and 31 more questions of receipt 54 (club, bags.csv): --rows lists them" in many
    assert waiting(sayings(54, 34), every=True).count("fixing question") == 34
    assert "more questions" not in waiting(sayings(54, 4))


def test_home_tells_counted_and_left_out_rows_in_full():
    """Rows that stand beside a figure are told by a few and a count; --beside tells all."""
    homes = [Home(role, "survey", f"K{n}", f"{role}{n}", 1, "club", "f.csv", "ab" * 32, "", n, 1, "count 1")
             for role in ("counted", "beside", "left out") for n in range(20)]  # fmt: skip
    text = rows_home(homes)
    assert (text.count("\ncounted "), text.count("\nbeside "), text.count("\nleft out ")) == (20, 6, 20)
    assert "... and 14 more rows that stand beside it: --beside shows them" in text
    assert rows_home(homes, beside=True).count("\nbeside ") == 20
