"""Suggestions for tables as long-running surveys publish them: codes for what is missing, joined names, free text among counts."""

import pytest

from pipeline.suggest.missing import missing_codes

SPECIES = ["Macrocystis pyrifera", "Pterygophora californica", "Ulva spp.", "Desmarestia ligulata", "Codium fragile"]


@pytest.mark.parametrize("code", ["-99999", "-9999.0", "-99", "999", "-1", "."])
def test_codes_for_what_is_missing_hide_no_column(proposed, code):
    """A number that stands for nothing takes neither the date nor a species from a wide sheet: it is asked about as a word for a blank
    cell, and, beside cells that are blank, taken for “not looked for”, so that only these may mean zero."""
    rows = [[str(2018 + n), "7", str(n + 1), "ABUR", "1", *("" if n % 2 else "2" for _ in SPECIES)] for n in range(4)]
    rows += [
        ["2023", "8", code, "CARP", "2", *[code] * len(SPECIES)],
        ["2024", "8", "9", "CARP", "2", *[code] * len(SPECIES)],
    ]
    p = proposed(
        "\n".join("|".join(r) for r in [["YEAR", "MONTH", "DAY", "SITE", "QUAD", *SPECIES], *rows]), "cover.csv"
    )
    assert p.tree["columns"]["happened"] == ["YEAR", "MONTH", "DAY"]
    assert not set(SPECIES) & set(p.tree["wide"]["but_not"])
    assert (p.tree["blanks"], p.tree["wide"]["not_counted"]) == ([code], [code])
    asked = {q.path: q.ask for q in p.questions}
    assert f"“{code}”" in asked["blanks",] and f"“{code}” is taken for “not looked for”" in asked["wide", "blank"]


@pytest.mark.parametrize("cells, codes", [
    (["12", "-9999", "3"], {"-9999"}),
    (["12", "999", "3", "999"], {"999"}),
    (["12", "999", "3", "4"], set()),  # once may be a count
    (["800", "999", "3", "999"], set()),  # there are others as large
    (["-3.5", "2", "-99999", "-9.9"], {"-99999"}),
    (["-99.5", "-98", "-99", "-99"], set()),  # degrees of longitude
    (["-3.5", "-1", "-1", "-9.9"], set()),  # degrees in winter
    (["12", "-1", "-1", "3"], set()),  # in one column alone
    (["12", "NA", "3", "4"], set()),  # a word, which other lists know
])  # fmt: skip
def test_what_a_column_tells_of_a_code(cells, codes):
    """Nines below zero are a code where nothing else is below zero, or far less so; other numbers only where they come again and stand far off."""
    assert missing_codes(["count"], [[c] for c in cells], {"na"}) == codes


@pytest.mark.parametrize("mark", [".", "_"])
def test_names_that_a_program_joined_are_species(proposed, mark):
    """Headings such as “Laminaria.digitata” are species, and are read as two words."""
    names = [
        "Laminaria.digitata",
        "Fucus.serratus",
        "Poulsenia.armata",
        "Inga.nobilis",
        "Ocotea.whitei",
        "Fucus.vesiculosus",
    ]
    headings = [n.replace(".", mark) for n in names]
    p = proposed(
        "\n".join(
            "|".join(r)
            for r in [["Date", "Site", *headings], ["2024-05-01", "A", *"123451"], ["2024-05-02", "A", *"003000"]]
        )
    )
    assert p.tree["wide"]["heading"] == "species" and not set(headings) & set(p.tree["wide"]["but_not"])
    assert p.tree["codes"]["species"] == {h: n.replace(".", " ") for h, n in zip(headings, names, strict=True)}


def test_free_text_hides_no_count(proposed):
    """A column that is headed as a count and holds words, guesses, ranges and a slip is proposed as one."""
    cells = ["12", "ca. 30", "mange", "ingen", "1 200", "ikke undersøkt", "3-4", "2,5", "47"]
    p = proposed(
        "Dato|Lokalitet|Rute|Areal (m²)|Art|Størrelse|Antall\n"
        + "\n".join(f"1{n}.05.2024|A|{n}|0.25|Stortare|ung|{c}" for n, c in enumerate(cells, 1)),
        "telling 2024.csv",
    )
    assert p.tree["columns"]["count"] == "Antall" and p.tree["thousands"] == " "


def test_a_genus_is_made_no_species_of_it(proposed):
    """“laminaria” and “tare” (kelp) are left as they are: which species was meant nobody can tell."""
    p = proposed(
        "Date|Site|Quadrat|Species|Count\n2024-05-01|A|1|laminaria|3\n2024-05-01|A|2|tare|4\n2024-05-01|A|3|sugar kelp|4"
    )
    assert p.tree["codes"]["species"] == {"sugar kelp": "Saccharina latissima"}


def test_what_a_number_stands_for_is_asked(proposed):
    """A stage that is written 1 or 2 is asked for, though “1+” may be a year old to somebody."""
    p = proposed(
        "Date|Site|Quadrat|Species|Stage|Count\n2024-05-01|A|1|sugar kelp|1|3\n2024-05-01|A|2|sugar kelp|2|4\n2024-05-01|A|3|sugar kelp|recruit|4"
    )
    assert "stage" not in p.tree.get("codes", {})
    assert {("codes", "stage", "1"), ("codes", "stage", "2")} <= {q.path for q in p.questions}


def test_a_word_of_another_language_is_asked_about(proposed):
    """“Dykk” among English headings is likely the dive, and asked about; among Norwegian ones it is sure."""
    rows = "|D1|CB|2024-05-01|3 m\n|D2|CB|2024-05-02|4 m"
    for headings, asked in (("Remarks|Dykk|Site|Date|Depth", True), ("Merknad|Dykk|Lokalitet|Dato|Dybde", False)):
        p = proposed(f"{headings}\n{rows}", "dives.csv")
        assert p.tree["columns"]["visit_key"] == "Dykk"
        assert (("columns", "visit_key") in {q.path for q in p.questions}) == asked


def test_a_sheet_is_in_the_language_that_most_headings_share(proposed):
    """Words that two languages have are no vote for one of them: a Spanish sheet is not taken for a Portuguese one."""
    p = proposed(
        "Fecha|Estación|Transecto|Réplica|Especie|Fase|Cobertura (%)\n02/03/2024|Peñón|T1|R1|Laminaria ochroleuca|adulto|35,5"
    )
    assert p.language == "es"


def test_many_columns_under_codes_are_likely_species(proposed):
    """Where a dozen columns and more hold numbers under short words that nobody here knows, they are proposed as species, and asked about."""
    codes = ["AMA", "CAS", "CHI", "CHX", "CJO", "CTR", "CWA", "CYS", "DAF", "EFI", "ELA", "GDE", "GME"]
    rows = [[f"2024-05-0{n}", "A", *(str(n * i % 5) for i in range(len(codes)))] for n in range(1, 5)]
    p = proposed("\n".join("|".join(r) for r in [["Date", "Site", *codes], *rows]), "counts.csv")
    assert p.tree["wide"]["heading"] == "species" and not set(codes) & set(p.tree["wide"]["but_not"])
    [asked] = [q.ask for q in p.questions if q.path == ("wide", "heading")]
    assert "13 columns hold numbers under short words, such as “AMA” and “GME”" in asked
    few = proposed("\n".join("|".join(r[:8]) for r in [["Date", "Site", *codes], *rows]), "counts.csv")
    assert "wide" not in few.tree
