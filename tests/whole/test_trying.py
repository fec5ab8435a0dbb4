"""A file tried before it is handed in: what would become of each row, the letter about it, and a ledger that stays as it was."""

import hashlib
import json

import pytest

from pipeline import run
from pipeline.cli import main
from pipeline.errors import BadUsage
from pipeline.ledger.lock import only_writer
from pipeline.trying import try_file

CHECKS = """
    site_key   unit_key   happened     state      search_time_min
    CB         CB-1       2025-04-05   attached   5
    CB         CB-2       2025-04-05   attached   5
"""
NEXT = """
    site_key   unit_key   happened     state      search_time_min
    CB         CB-1       2025-04-05   attached   5
    CB         CB-2       2025-04-05   torn       5
    CB         CB-3       2025-04-05   attached   5
    CB         CB-4       2025-04-05   lost       5
    CB         CB-5       2025-04-05   attached   5
    CB         CB-5       2025-04-05   absent     5
"""


def bytes_of(folder):
    """Every file of a folder, by its hash."""
    return {
        p.relative_to(folder): hashlib.sha256(p.read_bytes()).hexdigest()
        for p in sorted(folder.rglob("*"))
        if p.is_file()
    }


@pytest.fixture(scope="module")
def told(new_programme):
    """A programme with two checks of a club, which writes in Norwegian, and the next file beside it."""
    programme = new_programme()
    programme.partner("clube", 'language = "nb"\n')
    programme.take({"clube/check.csv": CHECKS})
    file = programme.put("clube", "check.csv", NEXT)
    return programme, file


def test_every_row_is_told_of_and_nothing_is_entered(told):
    """Each row's fate is that which taking it in gives, while another run holds the lock, and no byte of the ledger changes."""
    programme, file = told
    before = bytes_of(programme.root / "ledger")
    with only_writer(programme.root / "ledger" / "lock"):
        tried = try_file(programme.root, file, "clube")
    assert bytes_of(programme.root / "ledger") == before
    fates = [f"{f.row} {f.fate}" + (f": {f.why}" if f.why else "") for f in tried.fates]
    assert fates == [
        "2 repeated", "3 amends", "4 entered", "5 faulty: not a known word", "6 conflict: conflict", "7 conflict: conflict",
    ]  # fmt: skip
    assert "en prøve. Ingenting er ført inn" in tried.letter.text() and "Receipt" not in tried.letter.text()
    assert "Kolonnen «state»: «attached» her; «absent» (rad 7)" in tried.letter.text()
    assert tried.back[:2] == b"PK"
    [entry] = run.take(programme.root).entries
    assert (entry.receipt, entry.sheets) == (tried.entry.receipt, tried.entry.sheets)
    assert try_file(programme.root, file, "clube").known_as == entry.number


def test_the_command_writes_the_letter_where_asked(told, tmp_path, capsys):
    """`try --to` writes letter, page and held rows into a folder; without it the letter is printed; held rows end with 3."""
    programme, file = told
    said = ["try", str(file), "--partner", "clube", "-p", str(programme.root)]
    assert main([*said, "--to", str(tmp_path / "out")]) == 3
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == [
        "check.held.csv",
        "check.held.xlsx",
        "check.letter.html",
        "check.letter.txt",
    ]
    told_of = capsys.readouterr().out
    assert "ville blitt holdt tilbake" in told_of and "Skrev " in told_of and "would" not in told_of
    assert main(said) == 3
    printed = capsys.readouterr().out
    assert "held.xlsx" not in printed and "`--to FOLDER` skriver det dit" in printed
    assert "Hva som ville skje med dem" in printed and "ukjent ord" in printed
    assert main([*said, "--json"]) == 3
    assert [r["row"] for r in json.loads(capsys.readouterr().out)["rows"]] == [2, 3, 4, 5, 6, 7]


def test_nobody_is_tried_as_who_is_no_partner(told):
    """A file that is none, and a partner without an inbox, are refused."""
    programme, file = told
    with pytest.raises(BadUsage, match="no partner"):
        try_file(programme.root, file, "nobody")
    with pytest.raises(BadUsage, match="no file"):
        try_file(programme.root, file.parent / "none.csv", "clube")


def test_what_another_says_otherwise_is_shown_before_it_is_handed_in(new_programme):
    """The letter of a trial names the column, and who says otherwise in which file and row; what the partner told itself before, too."""
    programme = new_programme()
    bag = "unit_key   method   site_key   plot_key   happened   fixing\nB1   spore bag   CB   T1   2025-03-01   {}"
    programme.take({"outro/bags.csv": bag.format("bolt")})
    programme.take({"clube/check.csv": CHECKS})
    programme.take({"clube/check.csv": CHECKS.replace("attached", "torn", 1)})
    run.project(programme.root)
    other = try_file(programme.root, programme.put("clube", "deployment.csv", bag.format("glue")), "clube")
    assert "Column “fixing”: “glue” here; “bolt”, told by outro (“bags.csv” row 2)" in other.letter.text()
    old = try_file(programme.root, programme.put("clube", "check old.csv", "\n".join(CHECKS.splitlines()[:3])), "clube")
    assert "Column “state”: “attached” here; “torn” counts now" in old.letter.text()
