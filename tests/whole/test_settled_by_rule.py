"""What a rule of the programme settles is never silent: both partners, the lead, the figures and their evidence tell of it."""

import pytest
from openpyxl import load_workbook
from sea import RULES

from pipeline import look, run
from pipeline.cli import main
from pipeline.trying import try_file

RULE = """
[[settling]]
name = "put down"
kind = "deployment"
since = 2025-01-01
whose = "was there"
why = "Outro's boat lays the bags."
"""
HEAD = "unit_key   method      site_key   plot_key   happened     fixing\n"
BAGS = HEAD + "\n".join(f"CB-{n}   spore bag   CB   T1   2025-03-01   bolt" for n in range(1, 7))
THEIRS = HEAD + "CB-2   spore bag   CB   T1   2025-03-01   glue"
DIVE = "visit_key   site_key   happened   outcome\nO-1   CB   2025-03-01   found"
CHECKS = "site_key   unit_key   happened   state   search_time_min\n" + "\n".join(
    f"CB   CB-{n}   2025-04-05   {'attached' if n < 5 else 'absent'}   9" for n in range(1, 7)
)
CAUTION = "counts 1 thing that partners tell differently, as the programme's rule “put down” settles it"


def page(programme, partner):
    """A partner's page of what is open, on one line."""
    return " ".join((programme.root / "out/letters" / partner / "standing.txt").read_text(encoding="utf-8").split())


@pytest.fixture(scope="module")
def settled(new_programme):
    """Two partners that tell a bag's fixing differently, one of whom dived there that day; a rule settles it."""
    p = new_programme(rules=RULES + RULE)
    p.take({"clube/deployment.csv": BAGS, "clube/check.csv": CHECKS})
    p.take({"outro/bags.csv": THEIRS, "outro/visit.csv": DIVE})
    run.refresh(p.root)
    return p


def retention(programme, fixing):
    """The figures of retention at the site, of bags fixed so."""
    found = look.published(programme.root)
    return [f for f in found if f.indicator == "unit retention by fixing" and f.of("fixing") == fixing]


def test_both_partners_read_which_rule_decided(settled):
    """Each page gives the rule in words, whether its own row counts, and how to object; neither shows the other's values."""
    winner, loser = page(settled, "outro"), page(settled, "clube")
    for text in (winner, loser):
        assert (
            "By the programme's rule “put down”: Where partners tell of one deployment differently, the word of who told of a dive at the site on that day counts (since 2025-01-01). Outro's boat lays the bags."
            in text
        )
        assert "please write to the programme" in text and "TOLD DIFFERENTLY" not in text
    assert "what you told in “bags.csv” row 2 (fixing “glue”) counts." in winner and "bolt" not in winner
    assert "what you told in “deployment.csv” row 3 (fixing “bolt”) does not count. What outro told counts." in loser


def test_figures_that_rest_on_it_say_so(settled):
    """A figure that counts the bag carries a caution with the rule's name, and one that does not count it carries none."""
    glued, bolted = retention(settled, "glue"), retention(settled, "bolt")
    assert glued and all(CAUTION in f.estimate.cautions for f in glued)
    assert bolted and not any(CAUTION in f.estimate.cautions for f in bolted)


def test_evidence_of_it_gives_the_same_figure(settled, tmp_path):
    """The rows behind name the word that does not count as left out and the dive beside; a programme of them gives the same figure."""
    [f, *_] = retention(settled, "glue")
    homes = look.lead_home(settled.root, f)
    assert ("left out", "clube", 3) in {(h.role, h.partner, h.row) for h in homes if h.kind == "deployment"}
    assert ("beside", "outro") in {(h.role, h.partner) for h in homes if h.kind == "visit"}
    assert look.evidence(settled.root, f, tmp_path / "proof")


def test_the_lead_sees_what_rules_settled(settled, capsys):
    """`waiting --settled` lists it with the rule as its author; `waiting` has nothing."""
    assert main(["waiting", "--settled", "-p", str(settled.root)]) == 0
    told = capsys.readouterr().out
    assert "fixing glue" in told and "the programme's rule" in told
    assert main(["waiting", "-p", str(settled.root)]) == 0
    assert "Nothing waits" in capsys.readouterr().out


def test_a_letter_about_it_neither_shows_the_other_word_nor_asks_to_agree(settled):
    """The letter and workbook of the row that is held name the rule and who told otherwise, without a value of theirs."""
    [letter] = (settled.root / "out/letters/outro").glob("0*-bags.txt")
    text = " ".join(letter.read_text(encoding="utf-8").split())
    assert "The programme's rule “put down” decides whose word counts" in text
    assert "Column “fixing”: “glue” here; told otherwise by clube (“deployment.csv” row 3)" in text
    cells = [str(c.value) for row in load_workbook(letter.with_suffix(".xlsx")).worksheets[0].iter_rows() for c in row]
    again = settled.put("terceiro", "again.csv", THEIRS.replace("glue", "tie"))
    tried = try_file(settled.root, again, "terceiro").letter.text()
    again.unlink()
    for told in (text, " ".join(cells), " ".join(tried.split())):
        assert "put down" in told and "bolt" not in told and "agree on" not in told
    assert "glue" not in tried and "told otherwise by" in tried
