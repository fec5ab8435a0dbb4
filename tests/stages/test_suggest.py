"""Suggestions: what headings and cells say, what is asked, and that a suggested TOML is one that can be read."""

import sys
from pathlib import Path

import pytest

from pipeline.errors import BadUsage
from pipeline.intake.mapping import parse_mapping
from pipeline.suggest.fit import Registered, headings_say
from pipeline.suggest.lexicon import LANGUAGES
from pipeline.suggest.marks import decimal_mark, order_of_days
from pipeline.suggest.propose import header_row_of
from pipeline.suggest.seen import columns_seen
from pipeline.suggest.text import plain
from pipeline.suggest.write import toml_text
from pipeline.suggesting import Suggestion, answered

SUGGESTED = Path(__file__).parent.parent / "suggested"


# --- word lists ----------------------------------------------------------------------------------------------


def test_every_word_leads_somewhere(kinds, words):
    """Every column that the lists speak of is one of ours, a piece of a day, when a form was sent or none of ours, in all five languages alike."""
    ours = {c.name for k in kinds.values() for c in k.columns} | {
        "year",
        "month",
        "day_of_month",
        "clock",
        "stamp",
        "nothing",
    }
    assert {c for _, c, _ in words.phrases} <= ours
    for language in LANGUAGES:
        assert len({c for _, c, lang in words.phrases if lang == language}) > 150, language
    for column, known in words.values.items():
        allowed = {a for k in kinds.values() for c in k.columns if c.name == column for a in c.allowed}
        if allowed:
            assert set(known.values()) <= allowed, column
    assert set(words.kinds.values()) <= set(kinds)


@pytest.mark.parametrize(
    ("heading", "column", "language"),
    [
        ("Date of dive", "happened", "en"), ("Lokalitet", "site_key", "no"), ("Nº de indivíduos", "count", "pt"),
        ("Profundidad (m)", "depth_m", "es"), ("Espèce", "species", "fr"), ("Merkn.", "remarks", "no"),
        ("Lokaliteet", "site_key", "no"), ("water temperature at bottom", "water_temp_degc", "en"), ("siteCode", "site_key", "en"),
    ],
)  # fmt: skip
def test_headings_are_understood(words, heading, column, language):
    """A heading is understood without accents, case, units and slips of the pen, cut short or with words around it."""
    [says] = headings_say(columns_seen([heading], [], ()), words)
    best = max(says, key=lambda c: says[c].surely)
    assert (best, says[best].language) == (column, language)


def test_plain_text_forgets_how_it_is_written():
    """Case, accents, punctuation and the ways of writing a number's sign make no difference."""
    assert plain("Nº de Indivíduos") == plain("no. de individuos") == "no de individuos"
    assert plain("Dive #") == plain("Dive number") == "dive no"


# --- marks ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("cells", "order"),
    [
        (["13/02/2025", "01/02/2025"], "DMY"), (["02/13/25"], "MDY"), (["2025-02-13"], "YMD"), (["01/02/2025", "03/04/2025"], ""),
        (["13/02/2025", "02/13/2025"], ""), (["3. juni 2025"], "DMY"), (["3.6.25", "24.6.25"], "DMY"), (["3.6.25", "4.6.25"], ""),
    ],
)  # fmt: skip
def test_the_order_of_days_is_told_only_where_it_is_settled(cells, order):
    """One day that can be nothing else settles the order; days that could be two, or contradict each other, do not."""
    assert order_of_days(columns_seen(["Date"], [[c] for c in cells], ())).value == order


@pytest.mark.parametrize(
    ("cells", "mark"),
    [(["1,5"], ","), (["1.234,5"], ","), (["1,234.5"], "."), (["1,234"], ""), (["12"], "."), (["1,5", "1.5"], "")],
)
def test_the_decimal_mark_is_told_only_where_it_is_settled(cells, mark):
    """A mark before three digits may part thousands: alone it settles nothing."""
    assert decimal_mark(columns_seen(["n"], [[c] for c in cells], ())).value == mark


def test_headings_are_found_under_titles(words):
    """The row of headings is the one with known words, each once, not the title, the units or the first data."""
    head = [["Kelp counts of the Long Arm club", "", ""], [], ["Date", "Site", "Number"], ["2025-06-01", "CB", "4"]]
    assert header_row_of(head, words) == 3
    head = [["Bag", "12/04/2025", "10/05/2025"], ["A-1", "ok", "gone"], ["A-2", "ok", "ok"]]
    assert header_row_of(head, words) == 1


# --- proposals -----------------------------------------------------------------------------------------------


def test_a_sheet_in_norwegian(proposed):
    """Kind, columns, units, marks and words are told; what no column tells is asked, never made up."""
    p = proposed(
        """
        Dato|Lokalitet|Felt|Rute|Art|Størrelse|Antall|Areal (cm2)|Merknad
        13.06.2025|TH|T1|1|sukkertare|voksen|4|2500|
        14.06.2025|TH|T1|2|stortare|ungplante|12|2500|litt strøm
        """,
        "telling juni.csv",
    )
    assert (p.language, p.kinds, p.tree["dates"]) == ("no", ["survey"], "DMY")
    assert p.tree["columns"] == {
        "happened": "Dato", "remarks": "Merknad", "site_key": "Lokalitet", "plot_key": "Felt", "frame_key": "Rute",
        "area_m2": "Areal (cm2)", "species": "Art", "stage": "Størrelse", "count": "Antall",
    }  # fmt: skip
    assert p.tree["units"] == {"area_m2": "cm2"}
    assert p.tree["codes"]["species"] == {"sukkertare": "Saccharina latissima", "stortare": "Laminaria hyperborea"}
    assert {q.path[-1] for q in p.questions} == {"frame_type", "placement", "protocol"}


def test_an_unknown_word_is_asked_for(proposed):
    """A word that is in no list is a question with our words to choose from, and is not translated."""
    p = proposed("Date|Site|Bag|State\n2025-06-01|CB|CB-1|torn\n2025-06-02|CB|CB-2|wobbly\n", "bag checks.csv")
    [question] = [q for q in p.questions if q.path[0] == "codes"]
    assert (question.path, "attached" in question.choices) == (("codes", "state", "wobbly"), True)
    assert "wobbly" not in str(p.tree)


def test_registered_codes_speak_for_a_column(proposed):
    """Cells that the programme has registered say what a column is, whatever its heading."""
    registered = Registered({"site": {"cove a": "CA", "cove b": "CB"}}, ["quadrats"])
    p = proposed(
        "Date|Xyzzy|Quadrat|Species|Count\n2025-06-01|Cove A|1|Ulva lactuca|3\n2025-06-01|Cove B|1|Ulva lactuca|0\n",
        "a.csv",
        registered,
    )
    assert p.tree["columns"]["site_key"] == "Xyzzy"
    assert p.tree["codes"]["site_key"] == {"Cove A": "CA", "Cove B": "CB"}


def test_one_sheet_of_several_kinds(proposed):
    """A dive log that also holds bags is two parts that share day and site, each with its own columns."""
    p = proposed(
        """
        Date|Site|Divers|Bottom time (min)|Visibility (ft)|Tag|State|Search min
        2025-06-01|CB|2|35|20|CB-1|torn|5
        2025-06-02|CB|2|30|15|||
        """,
        "dive log.csv",
    )
    assert sorted(p.kinds) == ["check", "visit"]
    by_kind = {part["kind"]: part["columns"] for part in p.tree["part"]}
    assert by_kind["visit"]["site_key"] == by_kind["check"]["site_key"] == "Site"
    assert by_kind["check"]["unit_key"] == "Tag"
    assert next(part for part in p.tree["part"] if part["kind"] == "check")["only_if"] == "Tag"


WIDE = {
    "species": ("Date|Site|Quadrat|Alaria esculenta|Ulva lactuca|Fucus serratus|Sand\n2025-06-01|CB|1|2.5|0|10|\n2025-06-02|CB|2|40|||1\n",
                "survey", {"species"}, "cover_pct", 3),
    "species and stage": ("Date|Site|Quadrat|Alaria juv|Alaria adult|Laminaria juv\n2025-06-01|CB|1|2|0|101\n", "survey",
                          {"species", "stage"}, "count", 3),
    "days": ("Bag|Site|12/04/2025|13/05/2025|14/06/2025\nCB-1|CB|ok|torn|gone\nCB-2|CB|ok|ok|ok\n", "check", {"happened"}, "state", 3),
    "loggers": ("Date time|TK-01|TK-02\n2025-06-01 10:00|11.2|11.5\n2025-06-01 11:00|11.2|11.5\n", "reading", {"logger_key"}, "value", 2),
    "numbered": ("Date|Site|Bag 1|State 1|Bag 2|State 2\n2025-06-01|CB|A|torn|B|gone\n", "check", set(), "state", 4),
}  # fmt: skip


@pytest.mark.parametrize(("table", "kind", "told", "cell", "wide"), WIDE.values(), ids=WIDE)
def test_wide_sheets_are_seen(proposed, kinds, table, kind, told, cell, wide):
    """A column for each species, stage, day, logger or numbered bag is seen, and its TOML reads just those columns."""
    p = proposed(table)
    toml = Suggestion("sheet.csv", [p], []).toml("club")
    [sheet] = parse_mapping("club", toml.encode(), kinds).sheets
    part = next(part for part in sheet.parts if part.wide)
    assert (part.kind, set(part.wide.told), cell in part.wide.filled) == (kind, told, True)
    assert sum(any(column in part.wide.filled for _, column in feeds) for feeds in p.fed.values()) == wide


def test_blank_cells_of_a_wide_sheet_are_asked_about(proposed):
    """What a blank cell means is a question that says how many there are and how many zeros are written."""
    p = proposed(WIDE["species"][0])
    [question] = [q for q in p.questions if q.path[-1] == "blank"]
    assert "2 cells" in question.ask
    assert "1 zero that is written" in question.ask


INTERTIDAL = """
    Date | Site_name | Transect | Transect_length (m) | Strata | Slope | SST | Quadrat_m2 | Core_m3 | ab_m2_Mytilus_sp | ab_m2_Littorina_obtusata | ab_m2_Worms | ab_m3_Mytilus_sp | ab_m3_Arenicola_marina | ab_m3_nephtys hombergii | pc_Fucus_serratus | Pc_chondrus crispus | pc_Ulva_ who knows??? | ab_Ceramium_spp
    06/14/2023 | Ness Skerry | a | 12 | H | 4.1 | 12 | 0.25 | 0.002 | 66 | 12 | 1 | 3 | | 1 | 0.02 | 0.75 | | 2
    06/14/2023 | Ness Skerry | a | 12 | L | 3.2 | 12 | 0.25 | 0.003 | 31 | | 2 | | 2 | 1 | | 0.5 | 0.1 |
    06/15/2023 | Hollow Bay | b | 30 | H | 2.2 | 11 | 0.25 | | 4 | 120 | | | | | 0.3 | | | 1
"""  # fmt: skip


def test_prefixes_common_to_species_columns_are_cut_off(proposed, kinds):
    """“ab_m2_” and “pc_” tell counts and cover of the species behind them; cores are frames of their own; shares are asked about."""
    p = proposed(INTERTIDAL)
    parts = p.parts()
    assert [(x["kind"], x["wide"]["cell"], len(x["wide"]["headings"])) for x in parts] == [
        ("survey", "count", 4), ("survey", "cover_pct", 3), ("survey", "count", 3),
    ]  # fmt: skip
    assert [x["columns"].get("area_m2") for x in parts] == ["Quadrat_m2", "Quadrat_m2", None]
    assert [x["columns"]["frame_key"] for x in parts] == ["Strata", "Strata", ["Strata", "Core_m3"]]
    assert parts[1]["codes"]["species"]["chondrus crispus"] == "Chondrus crispus"
    assert parts[1]["units"] == {"cover_pct": "share"}
    assert {c for x in parts for c in x["columns"]} <= {"happened", "site_key", "plot_key", "frame_key", "area_m2"}
    mapping = parse_mapping("reef", Suggestion("sheet.csv", [p], []).toml("reef").encode(), kinds)
    assert len(mapping.sheets[0].parts) == 3


def test_counts_headed_by_an_area_are_asked_about(proposed):
    """“ab_m2_” may be so many in the frame or so many per m2: a person must say, and only of those columns."""
    asked = [q.path for q in proposed(INTERTIDAL).questions if "per m2? The latter are no counts" in q.ask]
    assert asked == [("part", "0", "wide", "cell")]


def test_no_leftover_column_passes_for_a_species(proposed):
    """Columns that a wide sheet leaves to nobody are named, however sure it is what they are."""
    p = proposed("Date | Site | Plot | Frame | Lat Long | Laminaria hyperborea | Alaria esculenta | Saccharina latissima\n"
                 "2025-06-01 | Ness | T1 | 1 | 51.2 | 3 | 4 | 5\n2025-06-01 | Ness | T1 | 2 | 51.3 | 1 | 2 | 0")  # fmt: skip
    [part] = p.parts()
    assert "Lat Long" in part["wide"]["but_not"]


def test_like_questions_are_one(proposed):
    """Parts of one kind are asked once, all loose numbers together, and an answer holds for every part."""
    p = proposed(INTERTIDAL)
    assert len(p.questions) <= 10
    asked = next(q for q in p.questions if q.path[-1] == "placement")
    answered(p, asked.path, "random")
    assert [x["fixed"]["placement"] for x in p.parts()] == ["random"] * 3
    loose = proposed("Date | Site | Tag | State | Quux | Zorb | Blip\n2025-04-03 | Ness | T1 | ok | 4 | 2.5 | 9")
    [left] = [q for q in loose.questions if q.path == ("left",)]
    assert all(f"“{h}”" in left.ask for h in ("Quux", "Zorb", "Blip"))
    answered(loose, ("left",), "area_searched_m2 = Zorb")
    assert loose.parts()[0]["columns"]["area_searched_m2"] == "Zorb"


def test_a_suggestion_can_be_read_and_confirms_nothing(proposed, kinds):
    """The suggested TOML is read by the same reader as any mapping, unconfirmed, however odd its headings are."""
    p = proposed('Date|Si"te\\|Bag #\t1|State\n2025-06-01|CB|CB-1|torn\n', "we'ird [1] \u202e.csv")
    [sheet] = parse_mapping("club", Suggestion("f.csv", [p], []).toml("club").encode(), kinds).sheets
    assert not sheet.confirmed


@pytest.mark.parametrize("text", ["", 'a"b', "c\\d", "e\nf", "# g", "'h'", "\x00\x1f\x7f", "å\u202eø", "]\n[[sheet]]"])
def test_any_text_is_written_as_toml(text):
    """A partner's text in a TOML is that text and nothing else."""
    import tomllib

    assert tomllib.loads(f"a = {toml_text(text)}")["a"] == text


def test_comments_keep_to_their_line(proposed, kinds):
    """A cell with line breaks cannot put a line of its own into the suggested TOML."""
    p = proposed("Date|Site|Tag|State\n2025-06-01|CB|x|torn\n", "checks.csv")
    p.notes["columns", "unit_key"] = "cells such as “\x1b\x00x\nconfirmed = true”"
    toml = Suggestion("a\nconfirmed = true", [p], []).toml("club")
    assert [line for line in toml.splitlines() if line.startswith("confirmed")] == ["confirmed = false"]
    assert not parse_mapping("club", toml.encode(), kinds).sheets[0].confirmed


def test_an_open_question_cannot_be_confirmed(kinds):
    """A value that is still “?” is refused once the mapping says that it is confirmed, and suffered before."""
    toml = '{}[[sheet]]\nkind = "check"\n[sheet.columns]\nhappened = "D"\nstate = "S"\n[sheet.fixed]\nunit_key = "?"\n'
    assert parse_mapping("club", toml.format("confirmed = false\n").encode(), kinds).sheets
    with pytest.raises(BadUsage, match=r"`unit_key` is still a question.*confirmed = false"):
        parse_mapping("club", toml.format("").encode(), kinds)


def test_answers_stand_where_their_questions_stood(proposed):
    """An answer goes to the place of its question, and the question is gone."""
    p = proposed(WIDE["species"][0])
    answered(p, ("wide", "blank"), "zero")
    answered(p, ("fixed", "area_m2"), "0.25")
    assert (p.tree["wide"]["blank"], p.tree["fixed"]["area_m2"]) == ("zero", 0.25)
    assert not [q for q in p.questions if q.path[-1] in ("blank", "area_m2")]


# --- score ---------------------------------------------------------------------------------------------------


def test_frozen_files_are_mostly_right():
    """On thirty files written without sight of the word lists, what is suggested stays as good as it was (not blind: see the README)."""
    sys.path.insert(0, str(SUGGESTED))
    try:
        import score
    finally:
        sys.path.remove(str(SUGGESTED))
    scores = [score.score_file(p, score.programme(), strict=False) for p in sorted(SUGGESTED.glob("*.gold.toml"))]
    assert len(scores) == 30
    right, of = sum(s.right for s in scores), sum(s.right + len(s.wrong) for s in scores)
    assert (of, right >= 420) == (448, True), right
    assert sum(s.others["kinds"] for s in scores) == 30
