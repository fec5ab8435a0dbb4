"""The README's second page, typed in as a newcomer would, gives its numbers."""

import re
from pathlib import Path

import pytest

from pipeline import look, run
from pipeline.starter import start

README = (Path(__file__).parents[2] / "README.md").read_text()


def block_after(text: str) -> str:
    """The first fenced block after a piece of the README."""
    return re.search(r"```\n(.*?)```", README[README.index(text) :], re.DOTALL).group(1)


@pytest.fixture
def mykelp(tmp_path):
    """The programme of the README, files typed in exactly as it shows them."""
    root = tmp_path / "mykelp"
    start(root)
    (root / "inbox/divers").mkdir()
    for name, marker in (
        ("inbox/programme/site.csv", "`site.csv`:"),
        ("inbox/programme/plot.csv", "`plot.csv` —"),
        ("partners/divers.toml", "**3. A partner"),
        ("inbox/divers/bags.csv", "`bags.csv`:"),
        ("inbox/divers/looked.csv", "`looked.csv`:"),
        ("inbox/divers/counts.csv", "`counts.csv`:"),
        ("inbox/programme/cost.csv", "`inbox/programme/cost.csv`:"),
    ):
        (root / name).write_text(block_after(marker))
    return root


def test_second_page_gives_its_three_numbers(mykelp):
    """The second page yields a density of 29.3 recruits per m2, retention bounds, and 140,000 EUR a hectare."""
    took, _ = run.run_all(mykelp)
    assert took.held == 1
    figures = {
        (f.indicator, f.of("plot_kind"), f.of("stage"), f.of("site")): f.estimate for f in look.published(mykelp)
    }
    assert figures["density", "treated", "recruit", "NP"].value == pytest.approx((7 + 3 + 12) / 0.75)
    assert figures["density", "control", "recruit", "NP"].value == pytest.approx(1 / 0.75)
    retained = figures["unit retention", "", "", "NP"]
    assert (retained.value_from, retained.value_to) == (pytest.approx(2 / 6), pytest.approx(4 / 6))
    assert figures["cash per hectare", "", "", "NP"].value == pytest.approx(840 / 0.006)


def test_mending_the_cell_lets_the_row_in(mykelp):
    """The held row enters once its cell is mended, every other row is recognised, and nothing stays held."""
    run.run_all(mykelp)
    counts = mykelp / "inbox/divers/counts.csv"
    counts.write_text(counts.read_text().replace("many", "6"))
    [entry] = run.take(mykelp).entries
    assert (entry.receipt.entered, entry.receipt.held, entry.receipt.repeated) == (1, 0, 6)
    run.refresh(mykelp)
    assert look.held(mykelp) == []


def test_letter_names_row_column_value_and_cure(mykelp):
    """The letter about the README's faulty cell names the file, its row as a spreadsheet shows it, column, value, cure."""
    run.run_all(mykelp)
    [letter] = (mykelp / "out/letters/divers").glob("*-counts.txt")
    text = letter.read_text()
    for told in ("counts.csv", "row 5", "“Number”", "“many”", "a whole number", "Write digits only"):
        assert told in text


def test_figures_worked_by_hand_are_the_programmes(mykelp):
    """Every number that the README works out by hand is the one that the programme gives."""
    counts = mykelp / "inbox/divers/counts.csv"
    counts.write_text(counts.read_text().replace("many", "6"))
    run.run_all(mykelp)
    figures = {(f.indicator, f.of("plot_kind"), f.of("site")): f.estimate for f in look.published(mykelp)}
    density, retained = figures["density", "treated", "NP"], figures["unit retention", "", "NP"]
    by_hand = README[README.index("## Two figures worked by hand") :]
    for number in (density.value, density.low, density.high):
        assert f"**{number:.3g}" in by_hand
    for number in (retained.value_from, retained.value_to):
        assert f"{number:.2f}" in by_hand
    assert f"from {retained.low:.2f} to {retained.high:.2f}." in by_hand
