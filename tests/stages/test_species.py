"""Species in rows: events carry one spelling, doubts stand beside, what is asked about is held until somebody answers."""

import pytest

from pipeline import run

SURVEY = """
[codes.species]
"oarweed" = "Laminaria hyperborea"
"bare" = "Bare rock"
[[sheet]]
files = ["counts*"]
kind = "survey"
[sheet.columns]
visit_key = "Dive"
happened = "Date"
site_key = "Site"
plot_key = "Plot"
frame_key = "Frame"
species = "Kelp"
count = "N"
[sheet.fixed]
frame_type = "quadrat"
placement = "random"
area_m2 = 0.25
stage = "recruit"
protocol = "frames"
"""


def counts(*names):
    """A sheet that counts one of each, a frame a row."""
    head = "Dive,Date,Site,Plot,Frame,Kelp,N\n"
    return (head + "".join(f"D1,2025-04-18,CB,T1,{n},{name},1\n" for n, name in enumerate(names, 1))).encode()


@pytest.fixture
def read(programme):
    """read(*names) gives the species of the rows that entered, and (row, code, found) of the faults."""
    programme.partner("club", SURVEY)

    def reading(*names):
        [entry] = programme.take({"club/counts 1.csv": counts(*names)})
        faults = [(f["row"], f["code"], f["found"]) for f in programme.segment(entry, "fault")]
        return [r["species"] for r in programme.segment(entry, "survey")], faults

    return reading


def test_events_carry_one_spelling(read):
    """However a species is written, its events carry the name that the programme goes by; strange names stay as written."""
    species, faults = read(
        "Laminaria hyperborea", "stortare", "L. hyperborea", "laminaria_cloustonii", "Mytilus edulis"
    )
    assert (species, faults) == (["Laminaria hyperborea"] * 4 + ["Mytilus edulis"], [])


def test_the_partners_own_words_go_first(read):
    """A word that the partner's mapping explains means what the mapping says, whatever others mean by it."""
    species, faults = read("Oarweed", "bare", "fingertare")
    assert (species, faults) == (["Laminaria hyperborea", "Bare rock", "Laminaria digitata"], [])


def test_what_is_asked_is_held_with_its_cell(read):
    """A name that nobody can tell holds its row alone, and the letter quotes the cell."""
    species, faults = read("Laminaria hiperborea", "stortare", "tangle", "")
    assert species == ["Laminaria hyperborea"]
    assert [f for f in faults if f[0] != 5] == [
        (2, "not read", "Laminaria hiperborea"), (4, "not read", "tangle"),
    ]  # fmt: skip


def test_wide_headings_are_names_too(programme):
    """A column for each species is read by the same names, and a heading that is asked about holds its lines only."""
    programme.partner(
        "club",
        SURVEY.replace('species = "Kelp"\ncount = "N"\n', "")
        + '[sheet.wide]\nheadings = ["*"]\nbut_not = ["Note"]\nheading = "species"\ncell = "count"\n',
    )
    sheet = b"Dive,Date,Site,Plot,Frame,Stortare,Saccharina.latissima,Laminaria digitatta,Note\nD1,2025-04-18,CB,T1,1,3,4,5,\n"
    [entry] = programme.take({"club/counts 1.csv": sheet})
    rows = [(r["species"], r["count"]) for r in programme.segment(entry, "survey")]
    assert rows == [("Laminaria hyperborea", 3), ("Saccharina latissima", 4)]
    assert [(f["row"], f["code"], f["found"]) for f in programme.segment(entry, "fault")] == [
        (2, "not read", "Laminaria digitatta")
    ]


def test_what_a_star_took_for_species_is_said(programme):
    """The letter lists every column that the star took, and warns of those that are no known species but entered as written."""
    programme.partner(
        "club",
        SURVEY.replace('species = "Kelp"\ncount = "N"\n', "")
        + '[sheet.codes.species]\n"LH" = "Laminaria hyperborea"\n[sheet.wide]\nheadings = ["*"]\nheading = "species"\ncell = "count"\n',
    )
    sheet = (
        b"Dive,Date,Site,Plot,Frame,LH,Saccharina latissima,Total,Laminaria digitatta\nD1,2025-04-18,CB,T1,1,3,4,7,1\n"
    )
    [entry] = programme.take({"club/counts 1.csv": sheet})
    run.project(programme.root)
    run.write_letters(programme.root)
    [letter] = (programme.root / "out/letters/club").glob("*.txt")
    told = " ".join(letter.read_text().split())
    assert (
        "4 columns were taken for a species each, as all that the mapping names nowhere else: “LH”, “Saccharina latissima”, "
        "“Total”, “Laminaria digitatta”." in told
    )
    assert "CAUTION: 1 of these is no species that the programme's list knows, and entered as written: “Total”." in told
    assert len(entry.notes) == 2
    programme.partner(
        "club", programme.root.joinpath("partners/club.toml").read_text().replace('["*"]', '["LH", "Sacch*"]')
    )
    [again] = programme.retake()
    assert again.notes == ()


def test_a_name_added_by_the_programme_lets_held_rows_in(programme, rules):
    """When the programme adds a species, `retake` reads the drops again that were read without it, once, and the rows enter."""
    programme.partner("club", SURVEY)
    [entry] = programme.take({"club/counts 1.csv": counts("stortare", "Saccharina latisima")})
    assert (entry.receipt.entered, entry.receipt.held) == (1, 1)
    assert [e for e in programme.retake() if e.drop] == []
    programme.rules(rules + '[species."Saccharina latisima"]\n')
    beds, again = sorted(programme.retake(), key=lambda e: e.name)
    assert (beds.name, beds.receipt.repeated) == ("bed.csv", 1)
    assert programme.fates(again) == ["2 repeated", "3 entered"]
    assert [r["species"] for r in programme.segment(again, "survey")] == ["Saccharina latisima"]
    assert programme.retake() == []


def test_other_rules_read_nothing_again(programme, rules):
    """Rules that change without touching the names of species leave kept drops alone."""
    programme.partner("club", SURVEY)
    programme.take({"club/counts 1.csv": counts("stortare")})
    programme.rules(rules + '[[stage]]\nspecies = "Laminaria hyperborea"\nstage = "recruit"\nfrom_cm = 0\n')
    assert [e for e in programme.retake() if e.drop] == []


def test_old_and_new_names_of_one_species_meet_in_figures(programme, rules):
    """A frame written with a synonym counts for the protocol that searches the species by its other name."""
    programme.partner("club", SURVEY)
    programme.take({"club/counts 1.csv": counts("Laminaria cloustonii", "stortare")})
    found = programme.ask("select frame_key, species, count from frame_count where stage = 'recruit' order by all")
    assert found == [("1", "Laminaria hyperborea", 1), ("2", "Laminaria hyperborea", 1)]
