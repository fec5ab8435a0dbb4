"""What a hostile partner can and cannot do, as the table in DEVELOPERS.md says (the ledger's damages: test_verify)."""

import os
from pathlib import Path

import pytest

from pipeline import disk, look, run
from pipeline.cli import main
from pipeline.errors import Hindered
from pipeline.intake import finding

VISIT = b"visit_key,site_key,happened,outcome,why\nD1,CB,2025-03-01,found,\n"
ELSEWHERE = "visit_key,site_key,happened,outcome\nsecret,CB,never,found\n"


def test_a_link_leads_nowhere(programme, tmp_path):
    """A link in an inbox to a file outside, or to a folder, is not followed: no byte of it enters or is told of."""
    (tmp_path / "people.csv").write_text(ELSEWHERE)
    (tmp_path / "folder").mkdir()
    (tmp_path / "folder/people.csv").write_text(ELSEWHERE)
    inbox = programme.put("club", "visit.csv", VISIT).parent
    (inbox / "link.csv").symlink_to(tmp_path / "people.csv")
    (inbox / "folder").symlink_to(tmp_path / "folder")
    os.mkfifo(inbox / "pipe.csv")
    took, _ = run.run_all(programme.root)
    assert [e.name for e in took.entries] == ["visit.csv"]
    assert not [p for p in programme.ledger.drops.iterdir() if b"secret" in p.read_bytes()]


def test_a_file_that_cannot_be_read_stops_nobody(programme, monkeypatch, capsys):
    """A file the system does not let us open is told of and passed over; everyone else's files are taken in."""
    shut = programme.put("club", "shut.csv", VISIT)
    programme.put("other", "visit.csv", VISIT.replace(b"D1", b"D2"))
    real = Path.open

    def refuse(self, *args, **kwargs):
        if self == shut:
            raise PermissionError(13, "Permission denied", str(shut))
        return real(self, *args, **kwargs)

    monkeypatch.setattr(Path, "open", refuse)
    assert main(["take", "-p", str(programme.root)]) == 0
    assert (
        "Left for the next run: club/shut.csv may not be read (Permission denied); have that changed."
        in capsys.readouterr().out
    )
    assert [e.partner for e in programme.ledger.entries() if e.partner != "programme"] == ["other"]
    monkeypatch.undo()
    assert [e.partner for e in programme.take()] == ["club"]


def test_our_own_disk_failing_is_no_partners_fault(programme, monkeypatch):
    """When it is the ledger's disk that cannot be written, the run stops instead of passing files over."""
    programme.put("club", "visit.csv", VISIT)

    def full(path, to):
        raise OSError(28, "No space left on device", str(to))

    monkeypatch.setattr(disk, "copy_hashed", full)
    with pytest.raises(Hindered, match="The disk is full"):
        run.take(programme.root)
    monkeypatch.undo()
    assert look.verify(programme.root).wrong == [] and len(programme.take()) == 1


def test_a_name_that_is_no_text_stops_nobody(programme):
    """A file whose name is not UTF-8 is taken in under a name that can be written; such a folder is nobody's inbox."""
    inbox = programme.put("other", "visit.csv", VISIT).parent.parent
    (inbox / "club").mkdir()
    for folder in (inbox / "club", inbox / os.fsdecode(b"caf\xe9")):
        folder.mkdir(exist_ok=True)
        (folder / os.fsdecode(b"caf\xe9.csv")).write_bytes(VISIT.replace(b"D1", b"D2"))
    run.run_all(programme.root)
    names = {(e.partner, e.name) for e in programme.ledger.entries() if e.partner != "programme"}
    assert names == {("other", "visit.csv"), ("club", "caf\\udce9.csv")}
    assert look.verify(programme.root).wrong == []


def test_folders_a_thousand_deep_stop_nobody(programme):
    """A partner's endless folders are looked into as far as the system goes, and everyone's files are taken in."""
    deep = programme.put("other", "visit.csv", VISIT).parent.parent / "club"
    deep.mkdir()
    (deep / "visit.csv").write_bytes(VISIT)
    path = str(deep)
    for _ in range(1200):
        Path(path := f"{path}/d").mkdir()
    assert {e.partner for e in programme.take()} == {"club", "other"}
    while path != str(deep):  # nor may they trouble whoever clears up after the tests
        Path(path).rmdir()
        path = path.rpartition("/")[0]


def test_a_folder_that_cannot_be_opened_is_told_of(programme, monkeypatch):
    """A folder of an inbox that the system does not let us look into is named; the other files are taken in."""
    shut = programme.put("club", "inner/visit.csv", VISIT).parent
    programme.put("other", "visit.csv", VISIT)
    real = os.scandir

    def refuse(path):
        if str(path) == str(shut):
            raise PermissionError(13, "Permission denied", str(path))
        return real(path)

    monkeypatch.setattr(os, "scandir", refuse)
    took = run.take(programme.root)
    assert [e.partner for e in took.entries] == ["other"]
    [sentence] = took.left
    assert "inner cannot be looked into (Permission denied)" in sentence


def test_a_damaged_parquet_file_is_its_own_fault(programme, monkeypatch):
    """What a library calls an error of the file, without a number of the system, makes an unreadable drop and stops nobody."""
    programme.put("club", "visit.csv", VISIT)
    programme.put("other", "visit.csv", VISIT.replace(b"D1", b"D2"))
    real = finding.open_sheets

    def corrupted(path, name, *stated):
        if path.read_bytes() == VISIT:
            raise OSError("Parquet file is likely corrupted, dictionary offset out of range")
        return real(path, name, *stated)

    monkeypatch.setattr(finding, "open_sheets", corrupted)
    assert {e.partner: bool(e.unreadable) for e in run.take(programme.root).entries} == {"club": True, "other": False}


NAMES = [
    "..csv",
    "-rf.csv",
    "a b;rm -x.csv",
    "ünï.csv",
    "x" * 200 + ".csv",
    "line\nbreak.csv",
    "=cmd().csv",
    "'; drop table part; --.csv",
]


def test_names_never_become_paths_or_commands(programme):
    """Whatever a file is called, its letter lies in its partner's folder, and nothing outside known folders is written."""
    for n, name in enumerate(NAMES):
        programme.put(
            "club", name.lstrip(".") if name.startswith("..") else name, VISIT.replace(b"D1", f"N{n}".encode())
        )
    run.run_all(programme.root)
    entries = [e for e in programme.ledger.entries() if e.partner == "club"]
    letters = list((programme.root / "out/letters/club").glob("0*.txt"))
    assert len(entries) == len(letters) == len(NAMES)
    assert {p.name for p in programme.root.iterdir()} <= {
        "programme.toml",
        "partners",
        "inbox",
        "ledger",
        "warehouse",
        "out",
    }
    assert look.verify(programme.root).wrong == []


def test_another_partners_word_cannot_be_taken_back(programme):
    """A withdrawal or an amendment of what another partner said changes no figure and no event of theirs."""
    programme.take({"club/visit.csv": VISIT})
    row = b"withdraws_kind,withdraws_key,reason,happened\nvisit,D1,spite,2025-04-01\n"
    programme.take({"other/withdrawal.csv": row, "other/visit.csv": VISIT.replace(b"found", b"aborted")})
    assert programme.ask("select visit_key, outcome, partner from visit_now") == [("D1", "found", "club")]
