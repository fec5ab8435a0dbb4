"""A person's original bytes are erased everywhere, on record, and nothing else changes."""

import pytest

from pipeline import care, disk, look, run
from pipeline.cli import main
from pipeline.errors import BadUsage, Busy

NAME = "Zebedee Quillfeather"  # nobody; the bytes that must go
HEAD = "visit_key,site_key,happened,outcome,supervisor,why"
VISITS = f"{HEAD}\nD1,CB,2025-03-01,found,mb,\nD2,CB,{NAME},found,mb,\n".encode()
BAGS = b"unit_key,method,site_key,plot_key,happened\nB1,spore bag,CB,T1,2025-03-01\nB2,spore bag,CB,T1,2025-03-01\n"
CHECKS = b"visit_key,unit_key,happened,state\nD1,B1,2025-03-01,attached\nD1,B2,2025-03-01,torn\n"


@pytest.fixture(scope="module")
def first(new_programme):
    """A measured programme with a drop that holds a person's name in a cell that could not be read: to be copied."""
    programme = new_programme()
    programme.take({"club/deployment.csv": BAGS, "club/check.csv": CHECKS})
    [entry] = programme.take({"club/visit.csv": VISITS})
    assert (entry.receipt.entered, entry.receipt.held) == (1, 1)
    run.refresh(programme.root)
    assert holding(programme.root)
    return programme, entry


@pytest.fixture
def named(first, copy_of):
    """A copy of it."""
    programme, entry = first
    return copy_of(programme), entry


def holding(root):
    """Every file under a folder in which the name stands, plainly or as a table's cell; the inbox apart."""
    import duckdb
    import pyarrow.parquet as pq

    found = []
    for path in sorted(p for p in root.rglob("*") if p.is_file() and "inbox" not in p.relative_to(root).parts):
        told = path.read_bytes()
        if path.suffix == ".parquet":
            told += str(pq.read_table(path).to_pylist()).encode()
        if path.suffix == ".duckdb":
            with duckdb.connect(str(path), read_only=True) as con:
                told += str(
                    [
                        con.sql(f"from {t}").fetchall()
                        for (t,) in con.sql("select table_name from duckdb_tables()").fetchall()
                    ]
                ).encode()
        if NAME.encode() in told or b"Zebedee" in told:
            found.append(path.relative_to(root).as_posix())
    return found


def figures(root):
    """The bytes of what was published."""
    return [(root / "out" / name).read_bytes() for name in ("figures.parquet", "indicators.csv")]


def redact(programme, entry):
    """Erase the entry's drop."""
    return care.redact(programme.root, entry.drop[:10], "the lead", "asked for by a member")


def test_the_bytes_are_gone_everywhere_but_in_the_inbox(named):
    """Drop, cells, texts found at fault, letters and projection hold the name no more; the inbox's file is told of."""
    programme, entry = named
    killed = programme.root / "ledger/scratch/of a killed run"
    killed.mkdir()
    (killed / "copy").write_bytes(VISITS)
    before = holding(programme.root)
    assert {p.split("/")[0] for p in before} == {"ledger", "out", "warehouse"}
    done = redact(programme, entry)
    assert holding(programme.root) == []
    assert done.by_hand == ("inbox/club/visit.csv",) and not done.waits
    assert f"ledger/drops/{entry.drop}" in done.removed and any("letters" in p for p in done.removed)


def test_what_was_said_stays(named):
    """Figures are the same bytes, events and parts stay, the held part stays held and says why it tells no more."""
    programme, entry = named
    before = figures(programme.root)
    redact(programme, entry)
    assert figures(programme.root) == before
    assert programme.ask("select visit_key from visit_stands") == [("D1",)]
    assert [(f, k, code, n) for f, k, _, code, n in programme.held()] == [("visit.csv", "visit", "erased", 1)]
    run.project(programme.root, rebuild=True)
    (programme.root / "out/about.json").unlink()
    run.refresh(programme.root)
    assert figures(programme.root) == before
    assert [h.name for h in look.held_rows(programme.root)] == [f"{entry.number}/3/1"]
    assert not list((programme.root / "out/letters/club").glob(f"{entry.number:06d}-*"))


def test_it_is_on_record_and_no_damage(named):
    """verify tells who erased what, when and why, and finds nothing wrong; the entry is format 2, older ones stay as they are."""
    programme, entry = named
    old = {p: p.read_bytes() for p in programme.ledger.entries_folder.iterdir()}
    done = redact(programme, entry)
    verdict = look.verify(programme.root)
    assert verdict.wrong == []
    assert verdict.notes == [
        f"Drop {entry.drop[:12]} was erased by the lead on {done.entry.recorded[:10]} (entry {done.entry.number}): asked for by a member"
    ]
    assert {p: p.read_bytes() for p in old} == old
    last = programme.ledger.entries()[-1]
    assert (last.what, last.format, last.redacts, last.by) == ("redaction", 2, entry.drop, "the lead")
    programme.ledger.segment_path(entry.segment("part")).unlink()
    assert "The part segment" in look.verify(programme.root).wrong[0]


def test_it_does_not_come_back(named):
    """The file in the inbox is not taken in again, whoever hands it in, and a retake of it is refused with the reason."""
    programme, entry = named
    redact(programme, entry)
    programme.put("other", "copy.csv", VISITS)
    assert run.take(programme.root).entries == []
    assert not programme.ledger.drop_path(entry.drop).exists()
    with pytest.raises(BadUsage, match=r"was erased by the lead .*asked for by a member\. It cannot be read again"):
        run.retake(programme.root, drop=entry.drop[:12])
    programme.partner("club", 'language = "pt"\n')
    assert entry.drop not in {e.drop for e in programme.retake()}
    with pytest.raises(BadUsage, match="was erased by the lead"):
        redact(programme, entry)
    assert run.run_all(programme.root)[0].entries == [] and holding(programme.root) == []


def test_it_does_not_come_back_while_it_is_handed_in(named, monkeypatch):
    """An upload of the same bytes that ends while they are copied leaves no copy in the ledger."""
    programme, entry = named
    redact(programme, entry)
    path, copy_hashed = programme.root / "inbox/club/again.csv", disk.copy_hashed
    path.write_bytes(VISITS[:30])

    def grown(source, to):
        if source == path:
            path.write_bytes(VISITS)
        return copy_hashed(source, to)

    monkeypatch.setattr(disk, "copy_hashed", grown)
    took = run.take(programme.root)
    assert (took.entries, holding(programme.root)) == ([], [])


def test_a_run_that_was_reading_it_does_not_record_it(named, monkeypatch):
    """A take-in that had read the same bytes before they were erased records nothing of them afterwards."""
    programme, entry = named
    monkeypatch.setattr(care, "PATIENCE_S", 0.1)
    programme.put("other", "copy.csv", VISITS)
    real = run._take_in
    done = []

    def erased_meanwhile(*args):
        if not done:
            done.append(None)
            done[0] = redact(programme, entry)
        return real(*args)

    monkeypatch.setattr(run, "_take_in", erased_meanwhile)
    assert run.take(programme.root).entries == []
    assert done[0].waits and programme.ledger.drop_path(entry.drop).exists()
    assert any("sweep` takes them away" in n for n in look.verify(programme.root).notes)
    care.sweep(programme.root)
    assert holding(programme.root) == [] and look.verify(programme.root).wrong == []


def test_evidence_says_why_it_cannot_be_made(named, tmp_path):
    """A figure on an erased drop still leads home, and its evidence is refused with who erased it and why."""
    programme, entry = named
    redact(programme, entry)
    figure = next(f for f in look.published(programme.root) if f.indicator == "unit retention")
    assert any(h.drop == entry.drop for h in look.lead_home(programme.root, figure))
    with pytest.raises(BadUsage, match=r"was erased by the lead .*rests on 1 row of it:"):
        look.evidence(programme.root, figure, tmp_path / "proof")
    assert not (tmp_path / "proof").exists()


def test_what_another_drop_says_too_stays_with_it(programme):
    """A segment that a drop of other bytes shares is kept for that drop, which reads as before."""
    [first] = programme.take({"club/visit.csv": VISITS})
    [again] = programme.take({"club/visit-2.csv": VISITS.replace(b"\n", b"\r\n")})
    assert first.segment("record").hash == again.segment("record").hash and first.drop != again.drop
    run.refresh(programme.root)
    redact(programme, first)
    assert look.verify(programme.root).wrong == []
    assert len(programme.segment(again, "record")) == 2
    redact(programme, again)
    assert holding(programme.root) == [] and look.verify(programme.root).wrong == []


def test_a_backup_follows(named, tmp_path):
    """The next back-up into an older one erases there too, and a programme restored from it is without the bytes."""
    programme, entry = named
    care.backup(programme.root, tmp_path / "b")
    assert holding(tmp_path / "b")
    redact(programme, entry)
    copied = care.backup(programme.root, tmp_path / "b")
    assert copied.erased == 3 and holding(tmp_path / "b") == []
    care.backup(programme.root, tmp_path / "fresh")
    for folder in ("b", "fresh"):
        assert look.verify(tmp_path / folder).wrong == []
        care.restore(tmp_path / folder, tmp_path / f"{folder}-restored")
        run.refresh(tmp_path / f"{folder}-restored")
        assert figures(tmp_path / f"{folder}-restored") == figures(programme.root)
        assert holding(tmp_path / f"{folder}-restored") == []


@pytest.mark.parametrize(("drop", "by", "reason", "told"), [
    ("", "lead", "why", "no drop's hash begins so"),
    ("zz", "lead", "why", "no drop's hash begins so"),
    (None, " ", "why", "Say who decided it and why"),
    (None, "lead", "", "Say who decided it and why"),
])  # fmt: skip
def test_it_asks_who_and_why_and_for_one_drop(named, drop, by, reason, told):
    """Nothing is erased without one drop, a name and a reason; mappings and rules are no drops of a partner."""
    programme, entry = named
    with pytest.raises(BadUsage, match=told):
        care.redact(programme.root, entry.drop if drop is None else drop, by, reason)
    with pytest.raises(BadUsage, match="no drop's hash begins so"):
        care.redact(programme.root, entry.rules, "lead", "why")
    assert holding(programme.root) and programme.ledger.entries()[-1].what == "drop"


def test_the_command_says_what_stays(named, capsys):
    """The command says what is gone, what is still there and what stays counted."""
    programme, entry = named
    assert main(["redact", entry.drop[:8], "--by", "lead", "--reason", "asked", "-p", str(programme.root)]) == 0
    told = capsys.readouterr().out
    assert "Taken away for good" in told and "inbox/club/visit.csv" in told and "stays and counts" in told


def test_busy_is_no_reason_to_forget(named, monkeypatch):
    """When runs at work do not end, the redaction stands all the same and the command says that the sweep finishes it."""
    programme, entry = named
    monkeypatch.setattr(care, "PATIENCE_S", 0.1)
    with programme.ledger.at_work():
        assert redact(programme, entry).waits
        with pytest.raises(Busy):
            care.sweep(programme.root)
    assert f"drops/{entry.drop}" in care.sweep(programme.root).removed
    assert holding(programme.root) == []
