"""Shapes: wide sheets turned long, days in three columns, values from names and titles, blanks filled down."""

import pytest

from pipeline import run

STYLE = """
[[sheet]]
files = ["cover*"]
kind = "survey"
[sheet.columns]
happened = ["Year", "Month", "Day"]
site_key = "Site"
plot_key = "Plot"
frame_key = "Quadrat"
[sheet.fixed]
frame_type = "quadrat"
placement = "random"
area_m2 = 0.25
protocol = "frames"
"""
WIDE = STYLE + '[sheet.wide]\nheading = "species"\ncell = "cover_pct"\n'
COVER = """
    Year   Month   Day   Site   Plot   Quadrat   Laminaria hyperborea   Saccharina latissima
    2025   6       1     CB     T1     1         40                     .
    2025   6       1     CB     T1     2         .                      5.5
    2025   6       1     CB     C1     3         many                   200
"""


@pytest.fixture
def read(programme):
    """read(toml, table) gives the parts (row, part, then the columns asked for) and faults of one file."""

    def reading(toml, table, columns, name="cover.csv", kind="survey"):
        programme.partner("club", toml)
        [entry] = programme.take({f"club/{name}": table})
        assert entry.receipt.holds()
        rows = [(r["row"], r["part"], *(str(r[c]) for c in columns)) for r in programme.segment(entry, kind)]
        faults = [(f["row"], f["part"], f["heading"], f["column"], f["code"], f["found"])
                  for f in programme.segment(entry, "fault")]  # fmt: skip
        return rows, faults

    return reading


def test_a_wide_cell_is_a_part(read):
    """Each filled wide cell is a part of its row, numbered by its column; a fault names that column's own heading."""
    rows, faults = read(WIDE, COVER, ["happened", "species", "cover_pct"])
    assert rows == [
        (2, 7, "2025-06-01", "Laminaria hyperborea", "40.000000"),
        (3, 8, "2025-06-01", "Saccharina latissima", "5.500000"),
    ]
    assert faults == [
        (4, 7, "Laminaria hyperborea", "cover_pct", "not decimal", "many"),
        (4, 8, "Saccharina latissima", "cover_pct", "too large", "200"),
    ]


def test_words_stand_for_numbers_and_days(read):
    """Words of a class of cover, and of a day that everybody knows, are read as what the mapping says they mean."""
    toml = WIDE.replace('["Year", "Month", "Day"]', '"When"')
    toml += '[sheet.codes.happened]\n"first dive" = "2025-06-01"\n[sheet.codes.cover_pct]\nt = "0.1"\n"+" = "0.5"\n"<1" = "0.5"\n'
    table = """
        When         Site   Plot   Quadrat   Laminaria   Saccharina
        first dive   CB     T1     1         T           +
        2025-06-02   CB     T1     1         <1          12
    """
    rows, faults = read(toml, table, ["happened", "cover_pct"])
    told = [
        ("2025-06-01", "0.100000"),
        ("2025-06-01", "0.500000"),
        ("2025-06-02", "0.500000"),
        ("2025-06-02", "12.000000"),
    ]
    assert [r[2:] for r in rows] == told
    assert faults == []


BLANK_CELLS = """
    Year   Month   Day   Site   Plot   Quadrat   Laminaria   Saccharina
    2025   6       1     CB     T1     1         4           .
    2025   6       1     CB     T1     2         .           .
    2025   6       1     CB     T1     3         ns          none
"""
WORDS = 'zero = ["none"]\nnot_counted = ["NS"]\n'


@pytest.mark.parametrize(
    ("blank", "said", "held"),
    [
        ("not written", ["1 L 4", "3 L None", "3 S 0"], [3]),
        ("zero", ["1 L 4", "1 S 0", "2 L 0", "2 S 0", "3 L None", "3 S 0"], []),
        ("zero beside others", ["1 L 4", "1 S 0", "3 L None", "3 S 0"], []),
        ("not counted", ["1 L 4", "1 S None", "2 L None", "2 S None", "3 L None", "3 S 0"], []),
    ],
)
def test_blanks_mean_what_the_mapping_says(read, blank, said, held):
    """A blank wide cell is nothing, a zero, a zero unless its whole row is blank, or not counted; words say so of one cell."""
    toml = STYLE + f'[sheet.wide]\nheading = "species"\ncell = "count"\nblank = "{blank}"\n{WORDS}'
    rows, faults = read(toml, BLANK_CELLS, ["frame_key", "species", "count"])
    assert [f"{frame} {species[0]} {count}" for _, _, frame, species, count in rows] == said
    assert [(row, code) for row, _, _, _, code, _ in faults] == [(row, "says nothing") for row in held]


def test_a_heading_may_tell_two_things_and_cells_may_be_of_two_sorts(read):
    """A pattern's groups fill our columns from the heading, and columns of one thing become one part."""
    toml = STYLE + (
        "[sheet.wide]\npattern = '(?P<species>[^/]+) / (?P<stage>\\w+) (?P<cell>n|%)'\n"
        'cells = { n = "count", "%" = "cover_pct" }\n[sheet.codes.stage]\njuv = "juvenile"\nad = "canopy"\n'
    )
    table = """
        Year   Month   Day   Site   Plot   Quadrat   Laminaria / juv n   Laminaria / ad n   Laminaria / juv %   Notes
        2025   6       1     CB     T1     1         4                   .                  30                  murky
        2025   6       1     CB     T1     2         .                   tx                 2                   .
    """
    rows, faults = read(toml, table, ["species", "stage", "count", "cover_pct"])
    assert rows == [
        (2, 7, "Laminaria", "juvenile", "4", "30.000000"),
        (3, 7, "Laminaria", "juvenile", "None", "2.000000"),
    ]
    assert faults == [(3, 8, "Laminaria / ad n", "count", "not whole", "tx")]


def test_repeated_groups_of_columns(read):
    """“Bag 1, State 1, Bag 2, State 2” are as many checks as bags are written, each with its own heading in a fault."""
    toml = """
[[sheet]]
kind = "check"
[sheet.columns]
happened = "Date"
site_key = "Site"
[sheet.wide]
pattern = '(?P<cell>Bag|State) (?P<group>\\d+)'
cells = { Bag = "unit_key", State = "state" }
"""
    table = """
        Date         Site   Bag 1   State 1    Bag 2   State 2
        2025-06-01   CB     CB-1    attached   .       .
        2025-06-02   CB     CB-1    torn       CB-2    eaten
    """
    rows, faults = read(toml, table, ["unit_key", "state"], kind="check")
    assert rows == [(2, 3, "CB-1", "attached"), (3, 3, "CB-1", "torn")]
    assert faults == [(3, 5, "State 2", "state", "not a known word", "eaten")]


def test_days_may_stand_in_the_headings(read):
    """A column for each day: the heading is read as a day in the sheet's own order, and is what a fault names."""
    toml = """
dates = "DMY"
[[sheet]]
kind = "check"
[sheet.columns]
unit_key = "Bag"
site_key = "Site"
[sheet.wide]
headings = ["*/*"]
heading = "happened"
cell = "state"
"""
    table = """
        Bag    Site   1/6/2025   12/6/2025   31/6/2025
        CB-1   CB     attached   torn        absent
    """
    rows, faults = read(toml, table, ["happened", "state"], kind="check")
    assert rows == [(2, 3, "2025-06-01", "attached"), (2, 4, "2025-06-12", "torn")]
    assert faults == [(2, 5, "31/6/2025", "happened", "not day", "31/6/2025")]


@pytest.mark.parametrize(
    ("written", "day"),
    [
        ("2025 6 1", "2025-06-01"), ("25 06 01", "2025-06-01"), ("99 1 2", "1999-01-02"), ("2025.0 6.0 1.0", "2025-06-01"),
        ("2025 13 1", "not day: 2025-13-1"), ("2025 . 1", "not day: 2025-?-1"), (". . .", "blank: "),
    ],
)  # fmt: skip
def test_days_in_three_columns(read, written, day):
    """Year, month and day in three columns are one day; what is none is a fault that names all three headings."""
    year, month, tag = written.split()
    table = f"Year  Month  Day  Site  Plot  Quadrat  Laminaria\n{year}  {month}  {tag}  CB  T1  1  3"
    rows, faults = read(WIDE, table, ["happened"])
    told = [r[2] for r in rows] + [f"{f[4]}: {f[5]}" for f in faults]
    assert told == [day]
    assert {f[2] for f in faults} <= {"Year, Month, Day"}


def test_a_day_and_a_time_in_two_columns(read, programme):
    """A day and a time in two columns make the instant; without the time the day stands alone."""
    toml = '[[sheet]]\nkind = "visit"\n[sheet.columns]\nhappened = ["Date", "Time"]\nsite_key = "Site"\noutcome = "Found"\n'
    table = """
        Date         Time    Site   Found
        2025-06-01   09:30   CB     found
        2025-06-02   .       CB     found
    """
    rows, faults = read(toml, table, ["happened", "happened_at"], kind="visit")
    assert rows == [(2, 1, "2025-06-01", "2025-06-01 08:30:00"), (3, 1, "2025-06-02", "None")]
    assert faults == []


def test_names_and_titles_tell_what_holds_for_every_row(read):
    """The file's name and cells above the headings fill columns of ours; a sheet without them is of another sort."""
    toml = r"""
[[sheet]]
files = ["bags*"]
file_pattern = '_(?P<happened>\d{4}-\d\d-\d\d)'
kind = "check"
[sheet.above]
site_key = "Site:"
recorded_by = "Diver"
[sheet.columns]
unit_key = "Bag"
state = "State"
"""
    table = b"Dive sheet,\nSite: CB,\nDiver,,mb\nBag,State\nCB-1,torn\n"
    rows, faults = read(toml, table, ["happened", "site_key", "recorded_by"], "bags_2025-06-01.csv", "check")
    assert rows == [(5, 1, "2025-06-01", "CB", "mb")]
    assert faults == []
    for name, content in (("bags june.csv", table), ("bags_2025-06-02.csv", table.replace(b"Site: CB", b"Site:"))):
        _, faults = read(toml, content.replace(b"torn", b"empty"), ["happened"], name, "check")
        assert {f[4] for f in faults} == {"no mapping"}


def test_blank_cells_are_filled_from_above_where_the_mapping_says_so(read, monkeypatch):
    """A blank cell below a merged one is read as that one, over batches too; the record keeps what was written."""
    monkeypatch.setattr("pipeline.intake.limits.BATCH", 1)
    toml = WIDE.replace('kind = "survey"', 'kind = "survey"\nfill_down = ["Site", "Plot"]')
    table = """
        Year   Month   Day   Site   Plot   Quadrat   Laminaria
        2025   6       1     CB     T1     1         4
        2025   6       1     .      .      2         5
        2025   6       1     .      C1     1         6
    """
    rows, _ = read(toml, table, ["site_key", "plot_key", "frame_key"])
    assert [r[2:] for r in rows] == [("CB", "T1", "1"), ("CB", "T1", "2"), ("CB", "C1", "1")]


def test_headings_of_two_rows(read):
    """Headings that take two rows are one text a column, a merged cell standing over each of its columns."""
    toml = WIDE.replace('kind = "survey"', 'header_rows = 2\nkind = "survey"').replace(
        'heading = "species"', "pattern = '(?P<species>.+) / (?P<stage>\\w+)'"
    )
    table = (
        b"Count of June,,,,,,,\n,,,,,,Laminaria,,Saccharina\n"
        b"Year,Month,Day,Site,Plot,Quadrat,juvenile,canopy,canopy\n2025,6,1,CB,T1,1,3,4,5\n"
    )
    rows, faults = read(toml, table, ["species", "stage", "cover_pct"])
    assert [r[2:4] for r in rows] == [("Laminaria", "juvenile"), ("Laminaria", "canopy"), ("Saccharina", "canopy")]
    assert (rows[0][0], faults) == (4, [])


def test_one_sheet_may_feed_several_kinds_by_a_word(read, programme):
    """A dive log says in one column what a row is about; rows of no known sort are asked about, none is lost."""
    toml = """
[[sheet]]
[[sheet.part]]
kind = "visit"
only_if = { "What" = ["dive"] }
[sheet.part.columns]
happened = "Date"
site_key = "Site"
outcome = "Result"
[[sheet.part]]
kind = "check"
only_if = { "What" = ["bag"] }
[sheet.part.columns]
happened = "Date"
site_key = "Site"
unit_key = "Which"
state = "Result"
[[sheet.part]]
kind = "loss"
only_if = { "What" = ["lost"] }
[sheet.part.columns]
happened = "Date"
unit_key = "Which"
how_known = "Result"
"""
    table = """
        Date         Site   What   Which   Result
        2025-06-01   CB     Dive   .       found
        2025-06-01   CB     bag    CB-1    torn
        2025-06-01   .      lost   CB-2    missed
        2025-06-01   CB     tea    .       .
    """
    rows, faults = read(toml, table, ["outcome"], kind="visit")
    assert rows == [(2, 1, "found")]
    assert faults == [(5, 1, "", "", "says nothing", "")]
    assert [p for p in programme.ask("select kind, count(*) from part group by 1 order by 1") if p[0] in ("check", "loss", "visit")] == [
        ("check", 1), ("loss", 1), ("visit", 1)
    ]  # fmt: skip


def test_an_unconfirmed_mapping_lets_nothing_in(programme):
    """A mapping that nobody confirmed holds every row with that word; confirmed, the same file enters."""
    programme.partner("club", "confirmed = false\n" + WIDE)
    [entry] = programme.take({"club/cover.csv": COVER})
    assert {f["code"] for f in programme.segment(entry, "fault")} == {"mapping not confirmed"}
    assert entry.receipt.entered == 0
    programme.partner("club", WIDE)
    [entry] = programme.retake()
    assert entry.receipt.entered == 2


def test_one_species_over_two_columns_is_never_read_as_either(read):
    """Two wide columns of one thing that differ are a conflict, and two of the same heading are not read at all."""
    toml = STYLE + "[sheet.wide]\npattern = '(?P<species>\\w+)( again)?'\ncell = \"count\"\n"
    table = "Year  Month  Day  Site  Plot  Quadrat  Laminaria  Laminaria again\n2025  6  1  CB  T1  1  3  4"
    _, faults = read(toml, table, ["count"])
    assert [f[4] for f in faults] == ["conflict", "conflict"]
    _, faults = read(toml, table.replace(" again", "").replace("  1  3", "  9  3"), ["count"])
    assert [f[4] for f in faults] == ["heading twice"]
