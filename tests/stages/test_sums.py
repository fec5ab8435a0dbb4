"""Rows and columns that are sums of others, among the data: held by the one word that stands where a thing is named."""

import pytest

HEAD = "Dive   Date   Frame   Species   Plants\n"
MAPPING = """
{keys}
[[sheet]]
{skip}
[[sheet.part]]
kind = "survey"
columns = {{ visit_key = "Dive", happened = "Date", frame_key = "Frame", species = "Species", count = "Plants" }}
fixed = {{ site_key = "CB", plot_key = "T1", frame_type = "quadrat", placement = "random", protocol = "frames", area_m2 = "0.25" }}
"""
WIDE = """
[[sheet]]
file_pattern = '(?P<plot_key>\\w+)\\.csv'
[[sheet.part]]
kind = "survey"
columns = { visit_key = "Dive", happened = "Date", frame_key = "Frame" }
fixed = { site_key = "CB", frame_type = "quadrat", placement = "random", protocol = "frames", area_m2 = "0.25" }
wide = { headings = ["*"], pattern = '(?P<species>.+)', cell = "count" }
"""
SUMS = [
    "Total", "TOTAL", "total:", "Total :", "Totals", "Sum", "Suma", "Soma", "Somme", "Totalt", "Mean", "Average", "Subtotal", "Sub-total",
    "Grand total", "Total général", "Total geral", "Total general", "Sous-total", "Totaux", "Somatório", "Promedio", "Gjennomsnitt",
    "Gj.snitt", "I alt", "Delsum", "Σ", "Su\u0301ma", "Total.",
]  # fmt: skip
HONEST = [
    "Totland", "Total 1", "T", "Sumburgh", "Sum 2", "Media", "Média", "Moyenne", "M", "SE", "Alta", "all", "Soma Bay", "Mean low water",
    "Del 1", "Somme Nord", "Average reef", "1", "Til", "Summa", "Total, by eye",
]  # fmt: skip


def taken(programme, rows, **said):
    """What was told of rows of frames: row, column, code and text of every fault; and the frames that entered."""
    programme.partner("club", MAPPING.format(**{"keys": "", "skip": "", **said}))
    [entry] = programme.take({"club/frames.csv": ("Dive,Date,Frame,Species,Plants\n" + rows).encode()})
    assert entry.receipt.holds()
    return programme.faults(entry), {
        r["frame_key"] for r in programme.segment(entry, "survey") if r["fate"] == "entered"
    }


def test_the_word_for_a_sum_is_no_frame(programme):
    """A row whose frame is nothing but a word for a sum or mean, in any language, is held for that alone; the others enter."""
    rows = "D1,2025-06-01,1,Laminaria hyperborea,3\n" + "".join(f"D1,,{w},,{n}\n" for n, w in enumerate(SUMS))
    faults, frames = taken(programme, rows)
    assert faults == [(n, "frame_key", "looks like a sum", w) for n, w in enumerate(SUMS, 3)]
    assert frames == {"1"}


def test_names_that_hold_such_a_word_enter(programme):
    """A name that only holds such a word, or that names a place between others in some language, is a name."""
    rows = "".join(f'D1,2025-06-01,"{w}",Laminaria hyperborea,3\n' for w in HONEST)
    assert taken(programme, rows) == ([], set(HONEST))


@pytest.mark.parametrize("word", ["Total", "media", "Moyenne", "SNITT"])
def test_no_species_is_called_so(programme, word):
    """A sum in the column of species is held, by words too that elsewhere may name a place."""
    rows = f"D1,2025-06-01,1,Laminaria hyperborea,3\nD1,2025-06-01,1,{word},3\n"
    assert taken(programme, rows)[0] == [(3, "species", "looks like a sum", word)]


def test_the_mapping_has_the_last_word(programme):
    """Rows that the mapping leaves out, and words that it leads from or to such a word, are no sums that anybody is told of."""
    rows = "D1,2025-06-01,1,Laminaria hyperborea,3\nD1,2025-06-01,Total,Laminaria hyperborea,3\n"
    assert taken(programme, rows, keys='[codes.frame_key]\nTotal = "whole plot"') == ([], {"1", "whole plot"})
    pooled = rows.replace("Total", "pooled")
    assert taken(programme, pooled, keys='[codes.frame_key]\npooled = "Total"') == (
        [],
        {"Total"},
    )  # frame 1 was told before
    sums = "Total,,,,6\n"
    assert taken(programme, rows.replace("Total", "2") + sums, skip='skip_rows_starting = ["Total"]') == ([], {"2"})


def test_a_heading_and_a_file_that_are_sums(programme):
    """A wide column of sums is held under its heading with what to do about a column; a file named so is no plot."""
    programme.partner("club", WIDE)
    text = b"Dive,Date,Frame,Laminaria hyperborea,Total\nD1,2025-06-01,1,3,3\n"
    named, whole = programme.take(
        {"club/T1.csv": text, "club/Total.csv": text.replace(b",Total", b",Alaria esculenta")}
    )
    if named.name != "T1.csv":
        named, whole = whole, named
    [fault] = programme.segment(named, "fault")
    assert (fault["row"], fault["heading"], fault["code"], fault["found"]) == (2, "Total", "looks like a sum", "Total")
    assert "`but_not`" in fault["advice"] and (named.receipt.entered, named.receipt.held) == (1, 1)
    assert {f[1:3] for f in programme.faults(whole)} == {
        ("plot_key", "looks like a sum")
    } and whole.receipt.entered == 0
