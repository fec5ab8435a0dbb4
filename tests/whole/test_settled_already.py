"""A word that a ruling refused, said again by the partner who had said it, is settled already and opens nothing; a new word does."""

import pytest

from pipeline import look, run, settle

HEAD = "unit_key   method      site_key   plot_key   happened     fixing"
BAG = "{}   spore bag   CB   T1   2025-03-01   {}"


def sheet(*rows):
    """A table of bags: (unit, fixing)."""
    return "\n".join([HEAD, *(BAG.format(*r) for r in rows)])


@pytest.fixture(scope="module")
def ruled(new_programme):
    """To look at only: two partners told one bag differently, and the lead ruled for one of them."""
    programme = new_programme()
    programme.take({"outro/bags.csv": sheet(("CB-2", "glue"))})
    programme.take({"clube/bags.csv": sheet(("CB-1", "bolt"), ("CB-2", "bolt"))})
    run.refresh(programme.root)
    said = next(q.content for q in look.waiting(programme.root) if q.partner == "outro")
    settle.settle(programme.root, "CB-2", said, "mb", "the slate shows it")
    run.refresh(programme.root)
    return programme


def still_open(programme):
    """What is held, what waits for a ruling, and what counts."""
    run.project(programme.root)
    held = [(h.partner, h.row) for h in look.held_rows(programme.root)]
    counts = programme.ask("select fixing from deployment_now where unit_key = 'CB-2'")
    return held, [q.differs for q in look.waiting(programme.root)], counts


def test_the_same_sheet_handed_in_again_opens_nothing(ruled, copy_of):
    """The refused word in a grown sheet is known as settled, the letter says by which ruling and when, and nothing is asked of anybody."""
    copy = copy_of(ruled)
    [entry] = copy.take({"clube/bags.csv": sheet(("CB-1", "bolt"), ("CB-2", "bolt"), ("CB-3", "bolt"))})
    assert copy.fates(entry) == ["2 repeated", "3 question: ruled against", "4 entered"]
    assert still_open(copy) == ([], [], [("glue",)])
    run.refresh(copy.root)
    [letter] = (copy.root / "out/letters/clube").glob(f"{entry.number:06d}-*.txt")
    [ruling] = [e for e in copy.ledger.entries() if e.segment("ruling")]
    told = " ".join(letter.read_text().split())
    assert f"settled already: CB-2. The ruling of receipt {ruling.number} decided it on {ruling.recorded[:10]}" in told
    assert "Nothing of yours is held" in " ".join((copy.root / "out/letters/clube/standing.txt").read_text().split())


@pytest.mark.parametrize("names", ["ab", "ba"])
def test_both_sheets_together_open_nothing(ruled, copy_of, names):
    """Both partners' sheets again in one take-in, whichever is read first, are no new contradiction."""
    copy = copy_of(ruled)
    for name, (partner, word) in zip(names, {"clube": "bolt", "outro": "glue"}.items(), strict=True):
        copy.put(partner, f"{name}.csv", sheet(("CB-2", word), (f"{partner[0]}-9{name}", "bolt")))
    fates = [fate for entry in copy.take() for fate in copy.fates(entry)]
    assert sorted(fates) == ["2 question: ruled against", "2 repeated", "3 entered", "3 entered"]
    assert still_open(copy) == ([], [], [("glue",)])


def test_a_drop_read_again_opens_nothing(ruled, copy_of):
    """A retake of the sheet that the ruling refused does not ask once more."""
    copy = copy_of(ruled)
    copy.partner("clube", 'letters = "fr"\n')
    assert [copy.fates(e) for e in copy.retake()] == [["2 repeated", "3 question: ruled against"]]
    assert still_open(copy) == ([], [], [("glue",)])


def test_a_new_word_opens_the_question_again(ruled, copy_of):
    """Another value than the refused one is news, and so is the refused word when somebody else says it; both wait for a ruling."""
    copy = copy_of(ruled)
    copy.take({"clube/bags.csv": sheet(("CB-1", "bolt"), ("CB-2", "tie"))})
    held, said, counts = still_open(copy)
    assert (held, counts) == ([("clube", 3)], []) and len(said) > 1
    other = copy_of(ruled)
    for rows in (["CB-2"], ["CB-2", "CB-9"]):
        [entry] = other.take({"third/bags.csv": sheet(*((unit, "bolt") for unit in rows))})
        assert still_open(other)[0] == [("third", 2)]
        assert other.fates(entry)[0] == "2 question: ruled against"
        [told] = [f["found"] for f in other.segment(entry, "fault")]
        assert told == "The programme has ruled about this deployment, and not for what your row says: CB-2."
