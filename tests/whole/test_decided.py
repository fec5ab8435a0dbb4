"""What partners and the lead are told of what was decided, and what a file that would amend much says otherwise."""

import datetime as dt
import io
import json
import re
import shutil

import pytest
from openpyxl import load_workbook

from pipeline import look, run, settle
from pipeline.cli import main
from pipeline.outputs import open_page
from pipeline.outputs.words import words
from pipeline.trying import try_file
from pipeline.unsettled import HeldRow, Older

BAGS = """
    unit_key   method      site_key   plot_key   happened     fixing
    CB-1       spore bag   CB         T1         2025-03-01   bolt
    CB-2       spore bag   CB         T1         2025-03-01   bolt
    CB-3       spore bag   CB         T1         2025-03-01   bolt
    CB-4       spore bag   CB         T1         2025-03-01   bolt
"""
THEIRS = """
    unit_key   method      site_key   plot_key   happened     fixing
    CB-2       spore bag   CB         T1         2025-03-01   glue
"""


def plain(text):
    """A text without its line breaks."""
    return " ".join(text.split())


def page(programme, partner):
    """A partner's page of what is open, on one line."""
    return plain((programme.root / "out/letters" / partner / "standing.txt").read_text(encoding="utf-8"))


def last_letter(programme, partner):
    """The last letter to a partner, as it is written."""
    found = sorted((programme.root / "out/letters" / partner).glob("0*.txt"))
    return found[-1].read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def disputed(new_programme):
    """Two partners that tell differently how a bag was fixed, and a third that tells of another bag."""
    programme = new_programme()
    programme.take({"clube/deployment.csv": BAGS})
    programme.take({"outro/bags.csv": THEIRS, "terceiro/deployment.csv": THEIRS.replace("CB-2", "CB-7")})
    run.refresh(programme.root)
    return programme


@pytest.fixture
def copy(disputed, new_programme):
    """The same programme, to change."""
    made = new_programme(sea=False)
    shutil.copytree(disputed.root, made.root, dirs_exist_ok=True)
    return made


def ruled(programme, chosen, reason="the slate shows it"):
    """Rule on CB-2 for what that partner said, or for none, and publish."""
    every = [*look.waiting(programme.root), *look.waiting(programme.root, settled=True)]
    said = {q.partner: q.content for q in reversed(every) if q.key == "CB-2"}
    settle.settle(programme.root, "CB-2", said.get(chosen, "none"), "mb", reason)
    run.refresh(programme.root)


def test_the_letter_of_a_ruling_says_what_was_ruled(copy):
    """It says which thing, which value counts, whose word is refused, by whom and why, and which ruling it replaces."""
    ruled(copy, "outro")
    text = plain(last_letter(copy, "programme"))
    assert (
        "It decides about 1 thing: - deployment CB-2: fixing “glue” counts, as told by outro (“bags.csv” row 2)."
        in text
    )
    assert "Refused: fixing “bolt”, told by clube (“deployment.csv” row 3)." in text
    assert "Decided by mb: the slate shows it." in text and "replaces" not in text
    first = copy.ledger.last_number()
    ruled(copy, "clube", "there is a photograph!")
    text = plain(last_letter(copy, "programme"))
    assert "fixing “bolt” counts, as told by clube" in text and "Refused: fixing “glue”, told by outro" in text
    assert f"Decided by mb: there is a photograph! This replaces the ruling of receipt {first}." in text


def test_both_sides_hear_of_a_ruling_and_of_their_own_values_alone(copy):
    """Each side's page says whether its word counts, by whom and why, and shows nothing of what the other said."""
    ruled(copy, "outro")
    winner, loser = page(copy, "outro"), page(copy, "clube")
    assert (
        "what you told in “bags.csv” row 2 (fixing “glue”) counts. What clube told otherwise does not count." in winner
    )
    assert "what you told in “deployment.csv” row 3 (fixing “bolt”) does not count. What outro told counts." in loser
    for told in (winner, loser):
        assert re.search(r"On \d{1,2} \w{3} \d{4} by mb: the slate shows it\. - deployment CB-2: ", told)
        assert "DECIDED, 1 thing that you told of." in told
    assert "bolt" not in winner and "glue" not in loser
    assert "DECIDED" not in page(copy, "terceiro") and "DECIDED" not in page(copy, "programme")


def test_after_a_ruling_no_letter_shows_what_another_told(copy):
    """A third partner, and the overruled after the winner's amendment, read that another word counts by a ruling, never which; so does a trial."""
    ruled(copy, "outro")
    old = {"terceiro/old.csv": THEIRS.replace("glue", "bolt"), "clube/late.csv": THEIRS.replace("glue", "bolt")}
    [third] = copy.take({"terceiro/old.csv": old["terceiro/old.csv"]})
    assert copy.fates(third) == ["2 question: ruled against"]
    copy.take({"outro/bags.csv": THEIRS.replace("glue", "tie")})
    run.project(copy.root)
    tried = try_file(copy.root, copy.put("clube", "late.csv", old["clube/late.csv"]), "clube")
    [late] = copy.take()
    assert copy.fates(late) == ["2 question: ruled against"]
    run.refresh(copy.root)
    texts = [tried.letter.text(), *(last_letter(copy, p) for p in ("terceiro", "clube"))]
    places = [sorted((copy.root / "out/letters" / p).glob("0*.xlsx"))[-1] for p in ("terceiro", "clube")]
    for book in (io.BytesIO(tried.back), *places):
        texts.append("\n".join(str(c.value) for row in load_workbook(book).worksheets[0].iter_rows() for c in row))
    for text in texts:
        assert "Column “fixing”: “bolt” here; another word counts, by a ruling" in plain(text)
        assert "glue" not in text and not re.search(r"\btie\b", text)


def test_who_told_what_was_ruled_reads_it(copy):
    """Whose old row says again what a ruling refused is shown the word that counts where that is its own, or the programme's."""
    copy.take({"clube/deployment.csv": BAGS.replace("bolt", "glue")})
    run.refresh(copy.root)
    ruled(copy, "outro")
    [again] = copy.take({"clube/again.csv": THEIRS.replace("glue", "bolt")})
    run.refresh(copy.root)
    assert "“bolt” here; “glue” counts now" in plain(last_letter(copy, "clube")), copy.fates(again)


def test_a_ruling_of_none_says_what_stays(copy):
    """Where none of what was held counts, the letter and both pages say that what counted before stays."""
    ruled(copy, "none")
    text = plain(last_letter(copy, "programme"))
    assert "None of what was held counts. What counted before stays: fixing “bolt” counts, as told by clube" in text
    assert "(fixing “bolt”) counts." in page(copy, "clube") and "(fixing “glue”) does not count." in page(copy, "outro")


def test_a_word_that_was_taken_up_is_refused_no_more(copy):
    """Once the overruled partner hands in what was ruled its page says that what it tells counts."""
    ruled(copy, "outro")
    copy.take({"clube/deployment.csv": BAGS.replace("CB-2       spore bag   CB         T1         2025-03-01   bolt", "CB-2       spore bag   CB         T1         2025-03-01   glue")})  # fmt: skip
    run.refresh(copy.root)
    assert "what you told in “deployment.csv” row 3 (fixing “glue”) counts." in page(copy, "clube")
    assert "does not count" not in page(copy, "clube")


def test_a_ruling_that_was_overtaken_leaves_the_page(copy):
    """When both say something new together the ruling is over, and no page tells of it."""
    ruled(copy, "outro")
    both = {"outro/bags.csv": THEIRS.replace("glue", "tie"), "clube/more.csv": THEIRS.replace("glue", "tie")}
    copy.take(both)
    run.refresh(copy.root)
    assert "DECIDED" not in page(copy, "outro") and "DECIDED" not in page(copy, "clube")


def test_what_was_closed_or_taken_back_is_told(copy):
    """A held part that was dismissed, and a thing that the programme took back, stand on their partner's page with the reason."""
    copy.take(
        {
            "terceiro/check.csv": "site_key   unit_key   happened     state   search_time_min\nCB   CB-7   2025-04-05   lost   5"
        }
    )
    run.refresh(copy.root)
    [held] = [h.name for h in look.held_rows(copy.root) if h.partner == "terceiro"]
    settle.dismiss(copy.root, held, "mb", "nobody remembers")
    run.refresh(copy.root)
    assert "“check.csv” row 2 (check CB 2025-04-05 1 | CB-7): this held row is closed for good." in plain(
        last_letter(copy, "programme")
    )
    settle.withdraw(copy.root, "programme", "deployment", "CB-7", "never put down", "mb")
    run.refresh(copy.root)
    text = plain(last_letter(copy, "programme"))
    assert "deployment CB-7: taken back, as told by terceiro. Decided by mb: never put down." in text
    told = page(copy, "terceiro")
    assert "by mb: nobody remembers. - “check.csv” row 2" in told and "nothing more is to be done about it." in told
    assert "by mb: never put down. - deployment CB-7: the programme took it back, so it does not count." in told
    settle.withdraw(copy.root, "clube", "deployment", "CB-4", "lost at sea", "mb")
    run.refresh(copy.root)
    assert "deployment CB-4: taken back, as told by clube. Decided by mb: lost at sea." in plain(
        last_letter(copy, "clube")
    )


def test_a_file_that_amends_much_says_what_differs(programme):
    """For the first rows the letter gives each column that differs, what counts now and what is new; the rest is counted."""
    head, *rows = BAGS.strip().splitlines()
    many = "\n".join([head, *(rows[0].replace("CB-1", f"CB-{n}") for n in range(1, 10))])
    programme.take({"clube/deployment.csv": many})
    programme.take({"clube/deployment.csv": many.replace("bolt", "tie").replace("spore bag", "seeded line")})
    run.refresh(programme.root)
    text = last_letter(programme, "clube")
    told = re.findall(
        r"   - row (\d+):.*\n        Column “method”: “seeded line” here; “spore bag” counts now\n        Column “fixing”: “tie” here; “bolt” counts now\n",
        text,
    )
    assert told == ["2", "3", "4", "5", "6"]
    assert re.search(r"and 4 more; all of them stand in 0\d+-deployment\.csv beside this letter\.", text)
    assert "- row 7" not in text


def test_a_letter_about_much_shows_no_word_of_others(programme):
    """Where what counts was told by another partner alone, its values do not stand in the letter, nor on the row's line."""
    two = "\n".join(BAGS.splitlines()[:4])
    for partner, fixing in (("clube", "bolt"), ("outro", "glue"), ("clube", "tie"), ("outro", "tie")):
        [entry] = programme.take({f"{partner}/deployment.csv": two.replace("bolt", fixing)})
    assert programme.fates(entry) == ["2 question: amends much", "3 question: amends much"]
    run.refresh(programme.root)
    text = last_letter(programme, "outro")
    assert "bolt" not in text and "counts now" not in text and "- row 2:" in text and "- row 3:" in text


def test_letters_that_show_values_are_the_same_when_made_anew(copy):
    """After out/ and the projection are deleted every letter is made again as it was, whatever was decided since."""
    ruled(copy, "outro")
    copy.take({"clube/deployment.csv": BAGS.replace("bolt", "tie")})
    run.refresh(copy.root)
    ruled(copy, "clube", "a photograph")
    settle.withdraw(copy.root, "programme", "deployment", "CB-7", "never put down", "mb")
    run.refresh(copy.root)
    letters = {p.name: p.read_bytes() for p in sorted((copy.root / "out/letters").rglob("*.txt"))}
    shutil.rmtree(copy.root / "out")
    shutil.rmtree(copy.root / "warehouse")
    run.refresh(copy.root)
    assert {p.name: p.read_bytes() for p in sorted((copy.root / "out/letters").rglob("*.txt"))} == letters


def test_a_letter_that_shows_values_waits_for_the_projection(copy):
    """Before what was ruled or taken in is projected its letter is not written; one that tells nothing of either is."""
    said = next(q.content for q in look.waiting(copy.root) if q.partner == "outro")
    settle.settle(copy.root, "CB-2", said, "mb", "the slate shows it")
    copy.take({"clube/more.csv": THEIRS.replace("CB-2", "CB-8")})
    copy.take({"clube/none.csv": "unit_key   form\nX   Y"})
    assert run.write_letters(copy.root) == 1
    run.refresh(copy.root)
    assert "fixing “glue” counts" in last_letter(copy, "programme")


def test_settle_file_says_which_rulings_it_replaces(copy, capsys):
    """A ruling on every question of a file names the earlier rulings that hold no more, for people and for programs."""
    ruled(copy, "outro", "their slate")
    first = copy.ledger.last_number()
    [again] = copy.take({"clube/again.csv": THEIRS.replace("glue", "bolt")})
    assert copy.fates(again) == ["2 question: ruled against"]
    run.refresh(copy.root)
    words = ["settle-file", str(again.number), "new", "--by", "mb", "--reason", "photograph", "-p", str(copy.root)]
    assert main(words) == 0
    told = plain(capsys.readouterr().out)
    assert f"It replaces the ruling of receipt {first} on deployment CB-2: method spore bag, fixing glue" in told
    assert "by mb: their slate It is on record." in told
    words = ["settle", "CB-2", "none", "--by", "mb", "--reason", "in doubt", "-p", str(copy.root), "--json"]
    assert main(words) == 0  # the ruling before is not measured yet
    [replaced] = json.loads(capsys.readouterr().out)["replaces"]
    assert (replaced["key"], replaced["reason"], replaced["receipt"]) == ("CB-2", "photograph", first + 2)


def test_a_first_ruling_replaces_nothing(copy, capsys):
    """Where nothing was ruled on before, nothing is said to be replaced."""
    said = next(q.content for q in look.waiting(copy.root) if q.partner == "outro")
    assert main(["settle", "CB-2", said, "--by", "mb", "--reason", "slate", "-p", str(copy.root)]) == 0
    assert "replaces" not in capsys.readouterr().out


def test_settle_answers_with_what_counts_and_who_is_told(copy, capsys):
    """The command's answer says what counts now, whose word is refused, and who is told; and their pages say so already."""
    said = next(q.content for q in look.waiting(copy.root) if q.partner == "outro")
    assert main(["settle", "CB-2", said, "--by", "mb", "--reason", "slate", "-p", str(copy.root)]) == 0
    text = plain(capsys.readouterr().out)
    assert text.startswith(
        "Ruled on deployment CB-2. fixing “glue” counts, as told by outro (“bags.csv” row 2). Refused: fixing “bolt”, told by clube"
    )
    assert "Told of it, with the reason and how to object: clube (out/letters/clube/standing.txt) and outro" in text
    assert "(fixing “glue”) counts." in page(copy, "outro") and "by mb: slate" in page(copy, "clube")
    assert main(["waiting", "--settled", "-p", str(copy.root)]) == 0
    assert "glue" in capsys.readouterr().out


def test_both_hear_when_a_third_reopens_what_was_ruled(copy):
    """A third partner's other word opens the thing again: every page says so, and names the ruling that stood."""
    ruled(copy, "outro")
    copy.take({"terceiro/late.csv": THEIRS.replace("glue", "tie")})
    run.refresh(copy.root)
    for partner in ("clube", "outro", "terceiro"):
        text = page(copy, partner)
        assert re.search(
            r"It was ruled on \d{1,2} \w{3} \d{4} by mb\. It was told otherwise since, so it is open again\.", text
        )
        assert "deployment CB-2 (until then it does not count)" in text


def test_waiting_shows_both_sides_beside_each_other(disputed, capsys):
    """The list has a column for each partner with file, row and day, and only what differs; one thing in full also has what is alike."""
    assert main(["waiting", "-p", str(disputed.root)]) == 3
    lines = capsys.readouterr().out.splitlines()
    at = next(n for n, line in enumerate(lines) if line.endswith(": deployment CB-2"))
    told = {line.split("  ")[0]: re.split(r"\s{2,}", line)[1:] for line in lines[at + 3 : at + 9]}
    assert re.split(r"\s{2,}", lines[at + 1].strip()) == ["clube", "outro"]
    assert told["file"] == ["deployment.csv", "bags.csv"] and told["row"] == ["3", "2"]
    assert told["fixing"] == ["bolt", "glue"] and "method" not in told and "receipt" in told["received"][0]
    assert main(["waiting", "CB-2", "-p", str(disputed.root)]) == 3
    full = capsys.readouterr().out
    assert re.search(r"fixing +bolt +glue +differs", full) and re.search(r"method +spore bag +spore bag +alike", full)
    assert "wrackline settle" in full
    assert main(["waiting", "CB-99", "-p", str(disputed.root)]) == 2


def test_each_of_three_lists_says_what_the_others_hold(disputed, capsys):
    """`held` and `waiting` name each other and `standing`."""
    for command, others in (("held", ("waiting", "standing")), ("waiting", ("held", "standing"))):
        main([command, "-p", str(disputed.root)])
        text = capsys.readouterr().out
        assert all(f"`{name}`" in text for name in others), command


def test_a_file_handed_in_twice_is_told_apart_by_its_receipts(copy, capsys):
    """Where one file speaks of a thing twice, the answer, the letter and the page say in which receipt each word stands; elsewhere not."""
    [again] = copy.take({"terceiro/deployment.csv": BAGS.replace("CB-", "T-")})
    [other] = copy.take({"terceiro/deployment.csv": BAGS.replace("CB-", "T-").replace("bolt", "tie")})
    run.refresh(copy.root)
    command = ["settle-file", str(other.number), "new", "--by", "mb", "--reason", "typed anew", "-p", str(copy.root)]
    assert main(command) == 0
    answer = plain(capsys.readouterr().out)
    told = f"“tie” counts, as told by terceiro (“deployment.csv” row 2, receipt {other.number}). Refused: fixing “bolt”, told by "
    assert told + f"terceiro (“deployment.csv” row 2, receipt {again.number})." in answer
    assert told in plain(last_letter(copy, "programme"))
    text = page(copy, "terceiro")
    assert f"what you told in “deployment.csv” row 2, receipt {other.number} (fixing “tie”) counts." in text
    assert f"What you told in “deployment.csv” row 2, receipt {again.number} (fixing “bolt”) does not count." in text
    ruled(copy, "outro")
    assert ", receipt" not in plain(last_letter(copy, "programme"))


def test_an_older_file_of_the_same_name_is_named_by_its_receipt():
    """Where a held row stands in an older file of the very same name too, the page says in which receipt."""
    older = (Older("5/3/1", "z.csv", 3, False, 5), Older("6/4/1", "y.csv", 4, False, 6))
    held = HeldRow(
        "7/2/1",
        "clube",
        "z.csv",
        2,
        "check",
        "",
        "",
        1,
        "faulty",
        "i",
        "",
        "",
        "",
        dt.date(2025, 3, 1),
        7,
        "l.txt",
        older,
    )
    first, second = open_page._older(words("en"), held)
    assert "told in “z.csv” row 3 too (receipt 5);" in first and "told in “y.csv” row 4 too; mended" in second
