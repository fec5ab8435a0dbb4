"""A person's answers to a suggestion: taken with all that hangs on them, or refused with a sentence and without a trace."""

from copy import deepcopy

import pytest

from pipeline.errors import BadUsage
from pipeline.intake.mapping import parse_mapping
from pipeline.intake.match import wide_groups
from pipeline.suggest.fit import Registered
from pipeline.suggest.lexicon import lexicon
from pipeline.suggest.propose import propose
from pipeline.suggest.write import Question
from pipeline.suggesting import Suggestion, answered

COVER = """
    Date | YEAR | MONTH | DAY | Site | Plot | Quadrat | Laminaria hyperborea | Alaria esculenta | Saccharina latissima | Obelia spp. | Rock, bare
    2025-06-01 | 2025 | 6 | 1 | Ness | T1 | 1 | 5 | 2.5 | | 10 | 4
    2025-06-02 | 2025 | 6 | 2 | Ness | T1 | 2 | 0 | 3 | 1 | 0 | 5
"""
STAGED = """
    Date | Site | Plot | Quadrat | Species | Size class | Number
    2025-06-01 | Ness | T1 | 1 | Alaria esculenta | odd | 3
    2025-06-01 | Ness | T1 | 2 | Alaria esculenta | big | 4
"""
CHECKS = """
    Date | Site | Tag | State | Quux
    2025-06-01 | Ness | T1 | ok | 3
    2025-06-01 | Ness | T2 | gone | 4
"""


@pytest.fixture(scope="module")
def proposed(kinds):
    """proposed(rows) gives the proposal for a drawn sheet: headings first."""
    words = lexicon(kinds)

    def proposing(table):
        rows = [[c.strip() for c in line.split("|")] for line in table.strip().splitlines()]
        return propose("", "sheet.csv", rows, 1, rows[1:], kinds, words, Registered(protocols=["quadrats"]))

    return proposing


@pytest.fixture(scope="module")
def read(kinds):
    """read(proposal) gives its sheet as the reader of all mappings reads it."""
    return lambda p: parse_mapping("reef", Suggestion("sheet.csv", [p], []).toml("reef").encode(), kinds).sheets[0]


def wide_headings(p, sheet):
    """The headings that a read sheet takes for wide columns."""
    [part] = [part for part in sheet.parts if part.wide]
    return [p.header[at] for at in wide_groups(sheet, part.wide, p.header)]


@pytest.mark.parametrize(
    "answer",
    ["happened = YEAR, MONTH, DAY", "happened = YEAR; happened = MONTH; happened = DAY", "survey.happened = year, month,day;"],
)  # fmt: skip
def test_several_headings_of_one_column_are_joined(proposed, read, answer):
    """Headings that are named for one column of ours, in one pair or in several, are a list in their order."""
    p = proposed(COVER)
    p.tree["columns"]["happened"] = "Date"
    answered(p, ("left",), answer)
    assert p.tree["columns"]["happened"] == ["YEAR", "MONTH", "DAY"]
    assert read(p).parts[0].joins["happened"] == ("YEAR", "MONTH", "DAY")


def test_several_headings_may_answer_what_a_column_is(proposed):
    """“Is this the day?” may be answered with three headings, or with none and what it is instead."""
    p = proposed(COVER)
    p.tree["columns"]["happened"] = "Date"
    p.questions.append(Question(("columns", "happened"), "Is “Date” the day?", "Date"))
    instead = deepcopy(p)
    answered(p, ("columns", "happened"), "YEAR, MONTH, DAY")
    assert p.tree["columns"]["happened"] == ["YEAR", "MONTH", "DAY"]
    answered(instead, ("columns", "happened"), "happened = YEAR, MONTH, DAY; remarks = Date")
    assert instead.tree["columns"]["happened"] == ["YEAR", "MONTH", "DAY"]
    assert instead.tree["columns"]["remarks"] == "Date"


def test_a_heading_may_hold_a_comma(proposed):
    """Where a comma is part of a heading, the heading is meant."""
    p = proposed(COVER)
    answered(p, ("left",), "remarks = Rock, bare, Date")
    assert p.tree["columns"]["remarks"] == ["Rock, bare", "Date"]


def test_a_column_may_be_one_more_of_the_wide_ones(proposed, read):
    """What wide cells fill, said of a column that was left out, makes it one more of them, as the reader sees it."""
    p = proposed(COVER)
    assert {"Obelia spp.", "Rock, bare"} <= set(p.left)
    answered(p, ("left",), "cover_pct = Obelia spp.; cover_pct = Rock, bare")
    assert wide_headings(p, read(p))[-2:] == ["Obelia spp.", "Rock, bare"]
    assert not {"Obelia spp.", "Rock, bare"} & {*p.left, *p.tree["wide"]["but_not"]}
    assert p.fed["Obelia spp."] == [("survey", "cover_pct")]


@pytest.mark.parametrize(
    ("wide", "taken"),
    [
        ({"headings": ["Alaria esculenta"], "pattern": r"%?\s*(?P<species>.+)"}, True),
        ({"pattern": r"(?P<species>Alaria\ esculenta)(?:\W+(?P<stage>juv)\b.*)?"}, True),
        ({"headings": ["Alaria esculenta"], "pattern": r"(?P<species>Ala.+)_cover|Alaria esculenta"}, False),
    ],
)
def test_a_wide_pattern_learns_the_name_or_says_no(proposed, read, wide, taken):
    """A list of headings or names gets the new one; a pattern that cannot have it is told of, and nothing changes."""
    p = proposed(COVER)
    p.tree["wide"] = {**wide, "cell": "cover_pct"}
    if taken:
        answered(p, ("left",), "cover_pct = Obelia spp.")
        assert "Obelia spp." in wide_headings(p, read(p))
    else:
        before = deepcopy(p)
        with pytest.raises(BadUsage, match=r"“Obelia spp\.” is not written like the headings of the wide columns"):
            answered(p, ("left",), "cover_pct = Obelia spp.")
        assert p == before


@pytest.mark.parametrize(
    ("path", "answer", "why"),
    [
        (("left",), "cover_pct = Obelia", "No heading is called “Obelia”; those that feed nothing yet are “Date”"),
        (("left",), "species = Obelia spp.", "`species` is told by the headings of the wide columns; cover_pct = Obelia spp."),
        (("left",), "cover_pct = Quadrat", "“Quadrat” feeds another column of ours already"),
        (("left",), "kelp = Date", "`kelp` is no column of survey"),
        (("left",), "Date", "“Date” is not written as column = heading"),
        (("left",), "happened = YEAR, MONTH, DAY, Date, Quadrat", "joins 5 headings"),
        (("fixed", "area_m2"), "small", "“small” is no number of m2, such as"),
        (("fixed", "placement"), "anywhere", "“anywhere” is none of these: random / "),
        (("fixed", "placement"), "none", "“none” is none of these"),
        (("likely",), "Zorb", "“Zorb” is none of them"),
    ],
)  # fmt: skip
def test_what_cannot_be_taken_changes_nothing(proposed, path, answer, why):
    """An answer that does not fit is refused in one sentence, and everything stands as it stood, the question too."""
    p = proposed(COVER)
    before = deepcopy(p)
    with pytest.raises(BadUsage) as told:
        answered(p, path, answer)
    assert why in str(told.value)
    assert "\n" not in str(told.value)
    assert p == before


def test_what_hangs_on_a_column_goes_with_it(proposed, read):
    """A column that is none of ours takes its words, units, notes and open questions along, and may be said to be something else."""
    p = proposed(STAGED)
    column = next(c for c in p.tree["columns"].items() if c[0] == "stage")
    p.questions.insert(0, Question(("columns", "stage"), "Is it the stage?", column[1]))
    assert any(q.path[:2] == ("codes", "stage") for q in p.questions)
    answered(p, ("columns", "stage"), "none")
    assert "stage" not in p.tree["columns"]
    assert "stage" not in p.tree.get("codes", {})
    assert not [q for q in p.questions if q.path[:2] == ("codes", "stage")]
    assert column[1] in p.left
    assert column[1] not in p.fed
    [left] = [q for q in p.questions if q.path == ("left",)]
    assert f"“{column[1]}”" in left.ask
    [stage] = [q for q in p.questions if q.path == ("fixed", "stage")]
    assert "canopy" in stage.choices
    answered(p, ("fixed", "stage"), "any")
    assert read(p).parts[0].fixed["stage"] == "any"


def test_a_column_that_rows_must_have_is_asked_for(proposed, read):
    """Where no column tells what every row must have, it is asked what holds for the whole file; a heading may answer too."""
    p = proposed(CHECKS)
    p.questions.append(Question(("columns", "unit_key"), "Is “Tag” the unit?", "Tag"))
    answered(p, ("columns", "unit_key"), "none")
    assert p.questions[0].path == ("fixed", "unit_key")
    assert read(p).parts[0].fixed["unit_key"] == "?"
    answered(p, ("fixed", "unit_key"), "unit_key = Quux")
    assert read(p).parts[0].headings["unit_key"] == "Quux"
    assert not [q for q in p.questions if q.path[-1] == "unit_key"]


def test_wrong_ones_of_many_go_with_what_hangs_on_them(proposed):
    """Of the likely columns those that are wrong go with their words; the others stay."""
    p = proposed(STAGED)
    answered(p, ("likely",), p.tree["columns"]["stage"])
    assert "stage" not in p.tree["columns"]
    assert not [q for q in p.questions if q.path[:2] == ("codes", "stage")]
    assert p.tree["columns"]["site_key"] == "Site"


@pytest.mark.parametrize(("answer", "words"), [("yes", ["-", "na"]), ("none", []), ("na, nd", ["na", "nd"])])
def test_blanks_are_words_not_yes(proposed, answer, words):
    """“Do these all mean that nothing was written?” may be answered yes, none, or with the words that do."""
    p = proposed(CHECKS)
    p.questions.append(Question(("blanks",), "Do these all mean that nothing was written?", "-, na"))
    answered(p, ("blanks",), answer)
    assert p.tree["blanks"] == words


def test_none_is_an_answer_where_nothing_need_be_said(proposed):
    """“None” closes a question that may stay unanswered, and takes a proposed line out."""
    p = proposed(COVER)
    answered(p, ("fixed", "area_m2"), "none")
    assert "area_m2" not in p.tree["fixed"]
    assert not [q for q in p.questions if q.path[-1] == "area_m2"]
    p.tree["units"] = {"depth_m": "ft"}
    answered(p, ("units", "depth_m"), "none")
    assert p.tree["units"] == {}


def test_marks_do_not_contradict_each_other(proposed):
    """A mark for thousands that was told from the other decimal mark goes with it."""
    p = proposed(COVER)
    p.tree["thousands"] = ","
    p.questions.append(Question(("decimal",), "Which is the decimal mark?", ".", (".", ",")))
    answered(p, ("decimal",), ",")
    assert (p.tree["decimal"], "thousands" in p.tree) == (",", False)


def test_what_cells_are_takes_its_unit_along(proposed):
    """The unit of cover goes when the wide cells are said to be counts."""
    p = proposed(COVER)
    p.tree["units"] = {"cover_pct": "%"}
    p.questions.append(Question(("units", "cover_pct"), "Shares or percent?", "%", ("share", "%")))
    answered(p, ("wide", "cell"), "count")
    assert p.tree["units"] == {}
    assert not [q for q in p.questions if q.path == ("units", "cover_pct")]


def test_an_area_is_written_with_either_mark(proposed):
    """A number that holds for the whole file may be written with a comma."""
    p = proposed(COVER)
    answered(p, ("fixed", "area_m2"), "0,25")
    assert p.tree["fixed"]["area_m2"] == 0.25


def test_without_a_terminal_it_is_told_where_an_answer_goes(proposed):
    """Beside the question about what is left over stands where its answer is written, also for one more wide column."""
    asks = [line for line in Suggestion("a.csv", [proposed(COVER)], []).toml("reef").splitlines() if "feed" in line]
    assert len(asks) == 1
    assert 'under [sheet.columns], as column = "heading" or a list' in asks[0]
    assert "`but_not`" in asks[0]
    plain = Suggestion("a.csv", [proposed(CHECKS)], []).toml("reef")
    assert "under [sheet.columns]" in plain
    assert "but_not" not in plain


def test_norwegian_is_written_as_mappings_call_it(proposed):
    """A Norwegian sheet's language is nb in its mapping."""
    p = proposed("Dato | Lokalitet | Felt | Rute | Art | Antall\n13.06.2025 | TH | T1 | 1 | sukkertare | 4")
    assert 'language = "nb"' in Suggestion("telling.csv", [p], []).toml("klubb")
