"""What `suggest` says of a file: how it comes in from where it is now, and what of it would be held."""

import pytest

from pipeline.cli import main
from pipeline.errors import BadUsage
from pipeline.programme import open_programme
from pipeline.suggesting import shown

SHEET = b"Bag tag;Site;Plot;Put down on;Kind of method\nX1;CB;T1;2025-03-01;spore bag\nX1;CB;C1;2025-03-01;spore bag\nX2;CB;T1;2025-03-01;spore bag\n"
MAPPING = """
[[sheet]]
files = ["bags*"]
kind = "deployment"
[sheet.columns]
unit_key = "Bag tag"
site_key = "Site"
plot_key = "Plot"
happened = "Put down on"
method = "Kind of method"
"""


@pytest.mark.parametrize("taken", [False, True])
def test_it_says_how_the_file_comes_in(programme, capsys, tmp_path, taken):
    """A file that was never taken is to be taken, not read again; one whose bytes the ledger holds is read again."""
    file = programme.put("club", "bags.csv", SHEET)
    if taken:
        programme.take()
    main(["suggest", str(file), "--partner", "club", "-p", str(programme.root), "--out", str(tmp_path / "club.toml")])
    said = " ".join(capsys.readouterr().out.split())
    then = (
        "run `wrackline retake --partner club`." if taken else "run `wrackline take` once the file lies in inbox/club."
    )
    assert said.endswith(then)
    assert ("retake" in said) == taken


def test_the_preview_counts_rows_that_contradict_each_other(programme, capsys):
    """Two rows that say different things of one unit are among those that would be held, and what cannot be seen yet is said."""
    file = programme.put("club", "bags.csv", SHEET)
    told = shown(file, "club", MAPPING, open_programme(programme.root).rules)
    assert (told.parts, told.held, told.contrary) == (3, 2, 2)
    main(["suggest", str(file), "--partner", "club", "-p", str(programme.root)])
    said = " ".join(capsys.readouterr().out.split())
    assert "AS IT WOULD BE READ: 3 parts, 2 of them held" in said
    assert "2 parts say of one thing what another row of this file says otherwise" in said
    assert "what others told otherwise is found when the file is taken in; `wrackline try` tells it before" in said


def test_a_suggestion_that_cannot_be_shown_is_written(programme, capsys, monkeypatch):
    """Where the first rows cannot be read by the suggestion it is written all the same, unconfirmed, with the reason."""

    def unreadable(*_):
        raise BadUsage("`happened` must come from somewhere.")

    monkeypatch.setattr("pipeline.suggesting.shown", unreadable)
    file = programme.put("club", "bags.csv", SHEET)
    assert main(["suggest", str(file), "--partner", "club", "-p", str(programme.root)]) == 0
    assert "As it is it cannot be read: `happened` must come from somewhere." in " ".join(
        capsys.readouterr().out.split()
    )
    assert "confirmed = false" in (programme.root / "partners" / "club.toml").read_text(encoding="utf-8")
