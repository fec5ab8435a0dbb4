"""Mapping: a partner's TOML is read strictly, and a sheet is known by its headings wherever they stand."""

from dataclasses import replace

import pytest

from pipeline.errors import BadUsage
from pipeline.examine import why_refused
from pipeline.intake.mapping import parse_mapping
from pipeline.intake.match import Match, find_match, own_form
from pipeline.intake.sheet import Sheet
from pipeline.ledger.records import rows_of
from pipeline.programme import FRAMES, PLACEMENTS, STAGES, parse_rules
from schemas.kinds import all_kinds

CHECKS = """
[[sheet]]
files = ["checks*.csv"]
kind = "check"
[sheet.columns]
happened = "Date"
unit_key = "Bag"
state = "Found"
"""

WIDE = """
[[sheet]]
kind = "survey"
[sheet.columns]
happened = "D"
site_key = "S"
plot_key = "P"
frame_key = "F"
[sheet.fixed]
frame_type = "quadrat"
placement = "random"
protocol = "frames"
[sheet.wide]
heading = "species"
cell = "count"
"""

CODES_BESIDE = """
[[sheet]]
[sheet.columns]
happened = "Date"
[sheet.{}]
"bon" = "attached"
[[sheet.part]]
kind = "check"
columns = {{ unit_key = "Bag", state = "Found" }}
"""


@pytest.fixture(scope="module")
def mapping(kinds):
    """The mapping of a short text."""
    return lambda toml: parse_mapping("club", toml.encode(), kinds)


@pytest.fixture(scope="module")
def match(mapping, kinds):
    """match(toml, rows, file name) gives (header row, kinds of its parts), or None."""

    def matching(toml, head, name="checks 1.csv"):
        found = find_match(mapping(toml), name, head, kinds)
        return found and (found.header_row, [p.kind for p in found.sheet.parts])

    return matching


# --- every mistake in a TOML is told with its place and its cure ---------------------------------------------

MISTAKES = {
    "no TOML": ("[[sheet]\n", ["partners/club.toml", "line 1", "Mend it there"]),
    "decimal": ('decimal = "x"', ["partners/club.toml", "`decimal`", "'x'", 'one of ".", ","']),
    "dates": ('dates = "dmy"', ["partners/club.toml", "`dates`", "'dmy'", '"DMY"']),
    "blanks": ("blanks = 3", ["partners/club.toml", "`blanks`", "3", 'a list of texts, such as ["a", "b"]']),
    "same marks": ('decimal = ","\nthousands = ","', ["partners/club.toml", "`thousands`", "`decimal`", "Change one"]),
    "zone": ('timezone = "Lisbon"', ["partners/club.toml", "`timezone`", "'Lisbon'", '"Europe/Lisbon"']),
    "zone of a sheet": (
        '[[sheet]]\ntimezone = "Nowhere"\nkind = "check"',
        ["partners/club.toml, [[sheet]] number 1", "`timezone`", "'Nowhere'", '"Europe/Lisbon"'],
    ),
    "unknown key": ('langauge = "pt"', ["partners/club.toml", "`langauge`", "Known are", "language"]),
    "unknown key of a sheet": (
        CHECKS.replace("files", "file"),
        ["partners/club.toml, [[sheet]] number 1", "`file`", "Known are", "files"],
    ),
    "unknown key beside parts": (
        '[[sheet]]\nkind = "check"\n[[sheet.part]]\nkind = "visit"\n[sheet.part.columns]\n'
        'happened = "D"\nsite_key = "S"\noutcome = "O"',
        ["partners/club.toml, [[sheet]] number 1", "`kind`", "Known are", "part"],
    ),
    "style inside a part": (
        '[[sheet]]\n[[sheet.part]]\nkind = "visit"\ndecimal = ","\n[sheet.part.columns]\n'
        'happened = "D"\nsite_key = "S"\noutcome = "O"',
        ["[[sheet]] number 1, [[part]] number 1", "`decimal`", "Known are"],
    ),
    "sheet is no table": ("sheet = 3", ["partners/club.toml", "`sheet`", "3", "[[sheet]]"]),
    "no kind": ("[[sheet]]\n", ["[[sheet]] number 1", "`kind` is missing", "Add it there"]),
    "kind": ('[[sheet]]\nkind = "dive"', ["[[sheet]] number 1", "`dive`", "Known are: site, plot"]),
    "second sheet": (CHECKS + '[[sheet]]\nkind = "dive"', ["[[sheet]] number 2", "`dive`"]),
    "column": (CHECKS + 'tag = "Tag"', ["[[sheet]] number 1", "`tag` is no column of check", "unit_key"]),
    "columns are texts": (
        '[[sheet]]\nkind = "check"\ncolumns = ["Bag"]',
        ["[[sheet]] number 1", "`columns`", "a table [columns] of texts"],
    ),
    "unit": (
        CHECKS + '[sheet.units]\narea_searched_m2 = "feet"',
        ["[[sheet]] number 1", "`area_searched_m2`", "'feet'", "known units for it: mm2, cm2, dm2, m2, ha, km2, in2, ft2"],
    ),
    "unit of a text": (CHECKS + '[sheet.units]\nstate = "m"', ["[[sheet]] number 1", "`state`", "'m'", "none"]),
    "unit of no column": (CHECKS + '[sheet.units]\narea = "m2"', ["[[sheet]] number 1", "`area` is no column of check"]),
    "fixed": (CHECKS + '[sheet.fixed]\nsite = "CB"', ["[[sheet]] number 1", "`site` is no column of check"]),
    "codes of a sheet": (CHECKS + '[sheet.codes.stat]\ngone = "absent"', ["[[sheet]] number 1", "`stat` is no column of check"]),
    "codes for every sheet": ('[codes.stat]\ngone = "absent"', ["partners/club.toml, [codes]", "`stat`", "wrackline columns"]),
    "codes are texts": (
        CHECKS + '[sheet.codes]\nstate = "gone"',
        ["[[sheet]] number 1, [codes]", "`state`", "'gone'", "a table [state] of texts"],
    ),
    "wide without a heading": (WIDE.replace('heading = "species"', ""), ["[[sheet]] number 1, [wide]", "`heading`", "`pattern`"]),
    "wide without a cell": (WIDE.replace('cell = "count"', ""), ["[wide]", "`cell`", "`cells`"]),
    "wide blank": (WIDE + 'blank = "none"', ["[wide]", "`blank`", "'none'", "zero beside others"]),
    "wide column": (WIDE.replace("species", "kelp"), ["[[sheet]] number 1", "`kelp` is no column of survey"]),
    "wide and elsewhere": (
        WIDE.replace('frame_key = "F"', 'frame_key = "F"\ncount = "N"'),
        ["[[sheet]] number 1", "`count` comes from the wide columns and from elsewhere", "Take one away"],
    ),
    "pattern": (WIDE.replace('heading = "species"', 'pattern = "("'), ["[wide]", "`pattern` is no regular expression", "Mend it"]),
    "pattern without a name": (CHECKS.replace("kind", "file_pattern = '.*'\nkind"), ["`file_pattern` names none of our columns"]),
    "pattern of no column": (
        CHECKS.replace("kind", "file_pattern = '(?P<reef>.*)'\nkind"), ["[[sheet]] number 1", "`reef` is no column of check"],
    ),
    "codes beside parts": (
        CODES_BESIDE.format("codes.state"),
        ["[[sheet]] number 1", "`codes` stands beside [[sheet.part]]", "[sheet.part.codes.state]", "top of the file, as [codes.state]"],
    ),
    "wide beside parts": (CODES_BESIDE.format("wide"), ["`wide` stands beside [[sheet.part]]", "as [sheet.part.wide]."]),
    "header rows": (CHECKS.replace("kind", "header_rows = 9\nkind"), ["`header_rows` is 9", "from 1 to 4"]),
    "joined day": (CHECKS.replace('"Date"', '["A", "B", "C", "D", "E"]'), ["`happened` joins 5 headings", "year, month and day"]),
    "only_if": (CHECKS.replace("kind", 'only_if = {A = ["x"], B = ["y"]}\nkind'), ["`only_if` names 2 headings"]),
    "confirmed": ('confirmed = "no"', ["`confirmed`", "'no'", "true or false"]),
    "required": (
        CHECKS.replace('unit_key = "Bag"\n', ""),
        ["[[sheet]] number 1", "`unit_key` of check must come from somewhere", "[columns]", "[fixed]"],
    ),
}  # fmt: skip


@pytest.mark.parametrize(("toml", "says"), MISTAKES.values(), ids=MISTAKES)
def test_mistakes_are_told(mapping, toml, says):
    """A mistake in a partner's TOML is told with file, table, key and cure."""
    with pytest.raises(BadUsage) as told:
        mapping(toml)
    message = str(told.value)
    assert [s for s in ["partners/club.toml", *says] if s not in message] == [], message


def test_bytes_that_are_no_text_are_told(kinds):
    """A TOML in another encoding is told by its name."""
    with pytest.raises(BadUsage, match=r"partners/club\.toml cannot be read.*Mend it there"):
        parse_mapping("club", 'language = "português"'.encode("cp1252"), kinds)


def test_mistakes_stop_before_anything_is_recorded(empty):
    """A mistake in one partner's TOML stops the take-in, and the ledger is as it was."""
    empty.partner("club", 'decimal = "x"')
    with pytest.raises(BadUsage, match=r"partners/club\.toml"):
        empty.take({"club/checks.csv": "unit_key   state\nCB-1   absent"})
    assert empty.ledger.last_number() == 0


def test_unknown_zone_of_the_programme_is_told(new_programme):
    """A programme's zone that does not exist is the programme's mistake, never the partner's file's."""
    rules = '[programme]\nkey = "k"\nname = "K"\ntimezone = "Portugal/Lisbon"\n'
    programme = new_programme(sea=False, rules=rules)
    with pytest.raises(BadUsage, match=r"programme\.toml, \[programme\]: `timezone` is 'Portugal/Lisbon'"):
        programme.take({"programme/site.csv": "site_key   name\nCB   Cove"})
    assert programme.ledger.last_number() == 0


# --- which rows are the headings -----------------------------------------------------------------------------

HEADINGS = ["Date", "Bag", "Found"]


@pytest.mark.parametrize(
    ("head", "row"),
    [
        ([HEADINGS], 1),
        ([["Dive club"], [], ["Spring 2025", ""], HEADINGS], 4),
        ([["Found", " Date ", "Remarks", "Bag"]], 1),
        ([["x"]] * 29 + [HEADINGS], 30),
    ],
)
def test_headings_are_found(match, head, row):
    """Headings are found under title lines, in any order, with columns beside them that nobody mapped."""
    assert match(CHECKS, head) == (row, ["check"])


@pytest.mark.parametrize(
    "head", [[], [[]], [["Date", "Bag"]], [["date", "bag", "found"]], [["x"]] * 30 + [HEADINGS]], ids=str
)
def test_headings_are_not_guessed(match, head):
    """Headings that lack one, are written otherwise, or stand below row 30 are not the mapped ones."""
    assert match(CHECKS, head) is None


def test_file_patterns(match):
    """A way of writing is for the files it names, whatever the case of their names; the first that fits is taken."""
    both = CHECKS + CHECKS.replace("checks*.csv", "*").replace('kind = "check"', 'kind = "check"\nthousands = "\'"')
    assert match(CHECKS, [HEADINGS], "CHECKS May.CSV") == (1, ["check"])
    assert match(CHECKS, [HEADINGS], "bags.csv") is None
    assert match(both, [HEADINGS], "bags.csv") == (1, ["check"])


def test_own_forms_need_no_mapping(match):
    """A sheet with our own headings is known by its file's name, or by its headings where they fit one kind only."""
    assert match("", [["Drawn by hand"], ["unit_key", "state", "visit_key"]], "sheet.csv") == (2, ["check"])
    assert match("", [["site_key", "happened"]], "visit 3.csv") == (1, ["visit"])
    assert match("", [["site_key", "happened"]], "sheet.csv") is None
    assert match("", [["site_key", "happened", "weather here"]], "visit.csv") is None


def test_one_row_of_several_parts(programme):
    """A dive log's row yields a visit and, where a bag is named, a check; both keep the row's number and their part."""
    programme.partner(
        "club",
        """
        [[sheet]]
        [[sheet.part]]
        kind = "visit"
        columns = { visit_key = "Dive", happened = "Date", site_key = "Place" }
        fixed = { outcome = "found" }
        [[sheet.part]]
        kind = "check"
        only_if = "Bag"
        columns = { visit_key = "Dive", happened = "Date", unit_key = "Bag", state = "Found" }
        codes = { state = { there = "attached" } }
        """,
    )
    [entry] = programme.take({
        "club/log.csv": """
            Dive   Date         Place   Bag     Found
            D1     2025-03-20   CB      CB-1    There
            D2     2025-03-21   CB      .       .
        """
    })  # fmt: skip
    told = [(p["row"], p["part"], p["kind"], p["key"]) for p in programme.parts(entry)]
    assert sorted(told) == [(2, 1, "visit", "D1"), (2, 2, "check", "D1 | CB-1"), (3, 1, "visit", "D2")]
    assert (entry.receipt.records, entry.receipt.parts, entry.receipt.entered) == (2, 3, 3)
    assert programme.segment(entry, "check")[0]["state"] == "attached"


def test_codes_units_and_fixed(programme):
    """Words, units and fixed values become ours; a sheet's own words for a column stand instead of those for every sheet."""
    programme.partner(
        "club",
        """
        decimal = ","
        [codes.stage]
        pequena = "juvenile"
        [codes.placement]
        acaso = "random"
        [[sheet]]
        kind = "survey"
        [sheet.columns]
        visit_key = "Mergulho"
        happened = "Data"
        site_key = "Sítio"
        plot_key = "Parcela"
        frame_key = "Quadrado"
        placement = "Escolha"
        area_m2 = "Área"
        stage = "Tamanho"
        count = "Contagem"
        [sheet.codes.stage]
        pequena = "recruit"
        [sheet.units]
        area_m2 = "cm2"
        [sheet.fixed]
        species = "Laminaria hyperborea"
        frame_type = "quadrat"
        protocol = "frames"
        depth_m = 8.5
        """,
    )
    [entry] = programme.take({
        "club/contagens.csv": """
            Mergulho   Data         Sítio   Parcela   Quadrado   Escolha   Área     Tamanho   Contagem
            D1         2025-06-01   CB      T1        1          Acaso     2500,0   Pequena   3
        """
    })  # fmt: skip
    [row] = programme.segment(entry, "survey")
    assert (row["stage"], row["placement"], row["count"]) == ("recruit", "random", 3)
    assert (str(row["area_m2"]), str(row["depth_m"])) == ("0.250000", "8.500000")


# --- sheets that nobody can tell -----------------------------------------------------------------------------


def test_unmapped_sheet_is_held_whole(empty):
    """Every row of a sheet with unknown headings is held, under the numbers of its rows, and all its cells are kept."""
    [entry] = empty.take({"club/new.csv": b"Dive club\nDay,What,Who\n,kelp,mb\n\n2025-03-01,kelp,mb\n"})
    assert empty.faults(entry) == [(n, "", "no mapping", "") for n in (2, 3, 5)]
    assert list(rows_of(empty.ledger.segment_path(entry.segment("record")), "").values()) == [
        ["Day", "What", "Who"], ["", "kelp", "mb"], ["2025-03-01", "kelp", "mb"]
    ]  # fmt: skip
    assert (entry.receipt.lines, entry.receipt.furniture, entry.receipt.blank, entry.receipt.records) == (5, 1, 1, 3)


def test_heading_over_two_columns_is_held(empty):
    """Where a needed heading stands over two columns, nobody can tell which is meant: every row is held and told so."""
    table = b"site_key,name,name\nCB,Cove,Nose\n"
    [entry] = empty.take({"programme/site.csv": table})
    assert empty.faults(entry) == [(2, "", "heading twice", "Two columns have the heading “name”.")]


def test_unneeded_heading_may_stand_twice(empty):
    """Two columns that nobody mapped may well have one heading."""
    empty.partner("club", CHECKS)
    [entry] = empty.take({"club/checks.csv": b"Date,Bag,Found,Note,Note\n2025-03-01,A,absent,x,y\n"})
    assert [f for f in empty.faults(entry) if f[2] == "heading twice"] == []


def test_row_longer_than_the_headings_is_held(empty):
    """A row with more filled cells than headings moved sideways: it is held, also when it is filled only out there."""
    empty.partner("club", CHECKS + 'site_key = "Place"\n')
    [entry] = empty.take({
        "club/checks.csv": b"Date,Bag,Found,Place\n2025-03-01,A,absent,CB\n2025-03-01,A,B,absent,CB\n,,,,CB\n"
    })  # fmt: skip
    assert [f[:3] for f in empty.faults(entry) if f[2] == "row too long"] == [
        (3, "", "row too long"),
        (4, "", "row too long"),
    ]
    assert (entry.receipt.records, entry.receipt.entered, entry.receipt.held) == (3, 1, 2)


# --- the programme's own rules -------------------------------------------------------------------------------

NAMED = '[programme]\nkey = "k"\nname = "K"\n'
PROTOCOL = '[[protocol]]\nkey = "frames"\ndated = 2025-01-01\nframe = "quadrat"\nplacement = "random"\n'
SEARCH = '[[protocol.search]]\nspecies = "Laminaria hyperborea"\nstages = ["recruit"]\n'
STAGE = '[[stage]]\nspecies = "Laminaria hyperborea"\nstage = "recruit"\nfrom_cm = 0\n'
RATE = '[[rate]]\ncurrency = "NOK"\ndated = 2025-01-01\nper_unit = 11.5\nsource = "a bank"\n'

RULE_MISTAKES = {
    "no TOML": ("[programme", ["programme.toml cannot be read", "Mend it there"]),
    "no programme": ("", ["programme.toml", "`programme` is missing", "Add it there"]),
    "no key": ('[programme]\nname = "K"', ["[programme]", "`key` is missing", "Add it there"]),
    "unknown key": (NAMED + "[rules]\nretention_day = 21", ["[rules]", "`retention_day`", "Known are", "retention_days"]),
    "unknown table": (NAMED + "[rule]\n", ["programme.toml", "`rule`", "Known are", "rules"]),
    "area rule": (NAMED + '[rules]\ntreated_area_rule = "halo"', ["[rules]", "`treated_area_rule`", "'halo'", '"plot area"']),
    "days": (NAMED + "[rules]\nretention_days = 21", ["[rules]", "`retention_days`", "21", "a list of whole numbers, such as [14, 28]"]),
    "number": (NAMED + '[limits]\nwarmest_degc = "cool"', ["[limits]", "`warmest_degc`", "'cool'", "a number"]),
    "not a number": (NAMED + "[limits]\nwarmest_degc = nan", ["[limits]", "`warmest_degc`", "a number"]),
    "negative": (NAMED + "[rules]\nsurvey_round_days = -1", ["[rules]", "`survey_round_days`", "-1", "a whole number"]),
    "cut": (NAMED + '[limits.lowest_cut_cm]\nx = "low"', ["[limits], [lowest_cut_cm]", "`x`", "'low'", "a number"]),
    "day": (NAMED + PROTOCOL.replace("2025-01-01", '"1 May"'), ["[[protocol]] number 1", "`dated`", "a day such as 2025-04-18"]),
    "frame": (NAMED + PROTOCOL.replace('"quadrat"', '"square"'), ["[[protocol]] number 1", "`frame`", "'square'", '"quadrat"']),
    "placement": (NAMED + PROTOCOL.replace('"random"', '"anywhere"'), ["[[protocol]] number 1", "`placement`", '"random"']),
    "stage searched": (
        NAMED + PROTOCOL + SEARCH.replace('"recruit"', '"recruits"'),
        ["[[protocol]] number 1, [[search]] number 1", "`stages`", "'recruits'", '"recruit"'],
    ),
    "key of a protocol": (NAMED + PROTOCOL + "smallest = 1", ["[[protocol]] number 1", "`smallest`", "Known are"]),
    "key of a search": (
        NAMED + PROTOCOL + SEARCH + "smalest_cm = 1",
        ["[[protocol]] number 1, [[search]] number 1", "`smalest_cm`", "smallest_cm"],
    ),
    "stage": (NAMED + STAGE.replace('"recruit"', '"baby"'), ["[[stage]] number 1", "`stage`", "'baby'", '"recruit"']),
    "key of a stage": (NAMED + STAGE + "up_to_cm = 5", ["[[stage]] number 1", "`up_to_cm`", "to_cm"]),
    "key of a rate": (NAMED + RATE + "date = 2025-01-01", ["[[rate]] number 1", "`date`", "dated"]),
    "second rate": (NAMED + RATE + RATE.replace("11.5", "0"), ["[[rate]] number 2", "`per_unit`", "a number above 0"]),
}  # fmt: skip


@pytest.mark.parametrize(("toml", "says"), RULE_MISTAKES.values(), ids=RULE_MISTAKES)
def test_mistakes_in_the_rules_are_told(toml, says):
    """A mistake in programme.toml is told with file, table, key and cure."""
    with pytest.raises(BadUsage) as told:
        parse_rules(toml.encode())
    message = str(told.value)
    assert [s for s in ["programme.toml", *says] if s not in message] == [], message


def test_good_rules_are_read():
    """Rules without a mistake are read, numbers exactly as written."""
    rules = parse_rules((NAMED + PROTOCOL + SEARCH + "smallest_cm = 0.5\n" + STAGE + RATE).encode())
    [target], [stage], [rate] = rules.protocols[0].targets, rules.stages, rules.rates
    assert (target.stage, str(target.smallest_cm), stage.stage, str(rate.per_unit)) == (
        "recruit",
        "0.5",
        "recruit",
        "11.5",
    )


def test_rules_and_models_share_their_words(kinds):
    """Stages, frames and placements that rules may name are those that a survey may hold."""
    survey = kinds["survey"]
    words = (STAGES, FRAMES, PLACEMENTS)
    assert words == tuple(survey.column(c).allowed for c in ("stage", "frame_type", "placement"))


SHARED = """
[[sheet]]
files = ["log*.csv"]
[sheet.columns]
happened = "Date"
site_key = "Site"
remarks = "Note"
[[sheet.part]]
kind = "visit"
fixed = { outcome = "found", remarks = "from the log" }
[[sheet.part]]
kind = "check"
only_if = "Tag"
columns = { unit_key = "Tag", state = "Found" }
"""


def test_parts_share_what_their_sheet_says(kinds):
    """What a sheet says holds for each of its parts that has such a column and does not say otherwise."""
    visit, check = parse_mapping("club", SHARED.encode(), kinds).sheets[0].parts
    assert visit.headings == {"happened": "Date", "site_key": "Site"}
    assert visit.fixed == {"outcome": "found", "remarks": "from the log"}
    assert check.headings == {
        "happened": "Date",
        "site_key": "Site",
        "remarks": "Note",
        "unit_key": "Tag",
        "state": "Found",
    }
    assert check.fixed == {}


def test_a_shared_column_of_no_part_is_refused(kinds):
    """A column that a sheet names for its parts, and that none of them has, is a slip of the pen."""
    with pytest.raises(BadUsage, match="`bed_name` is a column of none of its parts"):
        parse_mapping("club", SHARED.replace('remarks = "Note"', 'bed_name = "Note"').encode(), kinds)


# --- headings merged downwards -------------------------------------------------------------------------------

MERGED_TOP = [["Date", "Bag", "Seen", "", "Kept"], ["Date", "Bag", "Found", "Temp", ""]]


@pytest.mark.parametrize(
    ("named", "header", "merged", "unmerged"),
    [
        (("Date", "Bag / Bag"), ("Date", "Bag / Bag"), ["Date / Date", "Bag"], ""),
        (("Date / Date", "Bag"), ("Date / Date", "Bag"), ["Date", "Bag / Bag"], ""),
        (("Date", "Bag"), ("Date", "Bag"), ["Date", "Bag", "Dates"], "Dates"),
    ],
)
def test_a_heading_merged_downwards_is_known_in_either_form(mapping, kinds, named, header, merged, unmerged):
    """A heading that stands in both rows may be told once or twice, each by itself, and a name that none has is noticed."""
    toml = CHECKS.replace("kind", f"header_rows = 2\nmerged = {merged}\nkind").replace('"Found"', '"Seen / Found"')
    toml = toml.replace('"Date"', f'"{named[0]}"').replace('"Bag"', f'"{named[1]}"')
    found = find_match(mapping(toml), "checks.csv", MERGED_TOP, kinds)
    assert found is not None
    assert found.header == (*header, "Seen / Found", "Seen / Temp", "Kept")
    assert (found.merged, found.unmerged) == ((0, 1), unmerged)


def test_a_heading_of_its_own_goes_before_one_merged_downwards(mapping, kinds):
    """Where one column is headed “Date” outright, “Date” is that one, not another that has it in both rows."""
    toml = CHECKS.replace("kind", "header_rows = 2\nkind")
    found = find_match(
        mapping(toml), "checks.csv", [["Date", "Bag", "Found", "Date"], ["Date", "Bag", "Found", ""]], kinds
    )
    assert found is not None
    assert found.header == ("Date / Date", "Bag", "Found", "Date")


def test_a_wide_sheet_leaves_out_a_heading_merged_downwards(mapping, kinds):
    """What `but_not` names once is left out of the wide columns though it stands in both rows."""
    toml = WIDE.replace("kind", "header_rows = 2\nkind") + 'but_not = ["Kept"]\n'
    top = [["D", "S", "P", "F", "Kept", "Alaria esculenta"]] * 2
    found = find_match(mapping(toml), "w.csv", top, kinds)
    assert found is not None
    assert found.header == ("D", "S", "P", "F", "Kept", "Alaria esculenta / Alaria esculenta")


def test_a_wrong_merged_heading_is_told_with_what_is_there(tmp_path):
    """Where merged cells wait for a name that no column has, the sheet is refused with the names that are there."""
    sheet = Sheet("Log", tmp_path, [], merged=((2, 1, 3, 1),))
    match = Match(own_form(all_kinds()["check"]), 1, ("Date", "Bag, 1"), {}, unmerged="Dates")
    code, found, wanted, _ = why_refused(match, sheet)
    assert code == "merged heading not there"
    assert "“Dates”" in found
    assert wanted == "a heading of this sheet: “Date”, “Bag, 1”"
    assert why_refused(replace(match, merged=(1,)), sheet)[0] == ""
