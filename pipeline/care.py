"""What an operator does to look after a ledger: sweep, back up, restore, erase. Joins the ledger's parts, like `run.py`."""

import json
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from pipeline import disk, look, publishing, run
from pipeline.errors import BadUsage, Busy, LedgerDamaged
from pipeline.ledger.copy import Copied, copy_ledger
from pipeline.ledger.entry import Entry
from pipeline.ledger.files import redactions
from pipeline.ledger.redact import erase, find_drop, record_redaction
from pipeline.ledger.store import Head, Ledger
from pipeline.ledger.sweep import Swept
from pipeline.ledger.sweep import sweep as sweep_ledger
from pipeline.ledger.verify import verify
from pipeline.programme import Places, open_programme
from pipeline.receive import plain_files
from pipeline.rules.published import rates_file
from pipeline.world import plainly

Tick = Callable[[int, int], None]
PATIENCE_S = 60.0  # how long to wait for runs at work before files are taken away


def _ledger(places: Places) -> Ledger:
    """The ledger itself, without the cache of its entries: what is taken away or copied goes by the truth alone."""
    ledger = Ledger(places.ledger)
    ledger.prepare()
    return ledger


def _unseen(_done: int, _of: int) -> None:
    pass


@plainly()
def sweep(root: Path, dry_run: bool = False) -> Swept:
    """Take away what stopped runs left; Busy while a run is at work.

    LedgerDamaged when the ledger's end was cut off: what it named would be taken for a stray.
    """
    places = open_programme(root).places
    ledger = _ledger(places)
    with ledger.at_work(alone=True, patience_s=PATIENCE_S), ledger.writing():
        _refuse_a_cut_end(places, ledger)
        swept = sweep_ledger(ledger, dry_run)
        letters = _letters(places, ledger.entries())
        if not dry_run:
            _remove(letters)
    return Swept((*swept.removed, *(f"../{p.relative_to(root)}" for p in letters)), swept.bytes)


def _refuse_a_cut_end(places: Places, ledger: Ledger) -> None:
    last = ledger.last_number()
    for w in look.witnesses(places):
        there = w.head.number <= last
        seen = there and ledger.hash_of(w.head.number).startswith(w.head.hash)  # a letter wrote only its beginning
        if not seen:
            raise LedgerDamaged(
                f"{w.where} saw an entry {w.head.number} that the ledger has not. Nothing was taken away; "
                "`wrackline verify` tells more."
            )


# --- back up and restore --------------------------------------------------------------------------------------

NOTE = "backup.json"  # the head as the back-up saw it: a witness that stands outside the ledger
OWN, PRIVATE = ("programme.toml", "people.toml"), "people.toml"
PUBLISHED = "out/archive/known.parquet"  # which versions of the archive there were: nothing in the ledger tells it


@plainly()
def backup(root: Path, folder: Path, inbox: bool = False, tick: Tick = _unseen) -> Copied:
    """Bring the copy of the programme in `folder` up to the ledger's head of this instant, and verify it.

    Runs may go on meanwhile. Only what is missing is copied; what was erased here is erased there. inbox: the files
    in it too. BadUsage when `folder` holds anything else, or entries that this ledger has not.
    """
    places, there = open_programme(root).places, Places(folder)
    strange = folder.exists() and not all(
        map(disk.half_made, folder.iterdir())
    )  # a first back-up may have been stopped
    if strange and not (folder / NOTE).is_file():
        raise BadUsage(f"{folder} is not empty and no back-up. Name a new folder, or one that `backup` made.")
    if folder.resolve() == root.resolve() or places.ledger.resolve() in (folder.resolve(), *folder.resolve().parents):
        raise BadUsage(f"{folder} is part of the programme itself. Name a folder elsewhere, best on another disk.")
    source, target = _ledger(places), Ledger(there.ledger)
    disk.make_folder(folder)
    with suppress(PermissionError):  # a disk without owners
        folder.chmod(0o700)  # people's names lie in it
    if not (folder / NOTE).is_file():
        _note(folder, Head())
    target.make_folders()
    with source.at_work(), target.at_work(alone=True), target.writing():
        copied = copy_ledger(source, target, tick=tick)
    for name in _own_files(root):
        _copy_file(root / name, folder / name, private=name == PRIVATE)
    erased = set(redactions(source.entries()))
    for path in plain_files(places.inbox) if inbox else ():
        to, digest = folder / path.relative_to(root), disk.sha256_of(path)
        if digest not in erased and not (to.is_file() and disk.sha256_of(to) == digest):
            _copy_file(path, to)
    for path in plain_files(there.inbox) if erased and there.inbox.is_dir() else ():
        if disk.sha256_of(path) in erased:
            disk.remove(path)
    _note(folder, copied.head)
    _refuse_damage(folder, target, tick)
    return copied


@dataclass
class Restored:
    """What a restoration did: what was copied, own files put back, and what is worth knowing."""

    copied: Copied
    put_back: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


@plainly()
def restore(folder: Path, root: Path, tick: Tick = _unseen) -> Restored:
    """Mend the programme's ledger at `root` from the back-up in `folder`, or make the programme anew.

    Files that are gone or changed are put back, files that are whole stay, and so do entries that go on from the
    back-up's end. LedgerDamaged when the back-up is not whole, BadUsage when the ledger has other entries: nothing
    was changed then.
    """
    source, places = Ledger(open_programme(folder).places.ledger), Places(root)
    _refuse_damage(folder, source, tick)
    target = Ledger(places.ledger)
    disk.make_folder(root)
    target.prepare()
    with target.at_work(alone=True, patience_s=PATIENCE_S), target.writing():
        restored = Restored(copy_ledger(source, target, mend=True, tick=tick))
    for name in _own_files(folder):  # what the operator has written since stays as it is
        if (folder / name).is_file() and not (root / name).exists():
            _copy_file(folder / name, root / name, private=name == PRIVATE)
            restored.put_back.append(name)
    for made in (places.inbox / "programme", places.partners, places.out):
        disk.make_folder(made)
    restored.notes += verify(target, look.witnesses(places), light=True).wrong
    _forget_a_lost_end(places, target)
    return restored


def _forget_a_lost_end(places: Places, ledger: Ledger) -> None:
    """Put aside what tells of entries that no copy has any more: runs would refuse to go on, and verify never be quiet.

    Letters that partners hold still tell; our copies go into `out/lost letters/`.
    """
    from pipeline.outputs import about
    from warehouse import current

    notes = (
        (current.seen_head(places.warehouse), places.warehouse / current.POINTER),
        (about.published_head(places.out), places.out / "about.json"),
    )
    for head, path in notes:
        if head is not None and (head[0] > ledger.last_number() or ledger.hash_of(head[0]) != head[1]):
            disk.remove(path)
    for path in sorted((places.out / "letters").glob("*/[0-9]*-*")):
        if int(path.name.split("-")[0]) > ledger.last_number():
            aside = places.out / "lost letters" / path.parent.name
            disk.make_folder(aside)
            disk.rename(path, aside / path.name)


def _own_files(root: Path) -> list[str]:
    """What the operator wrote, by name: the programme's rules with their rates, people, partners' mappings."""
    rules = root / OWN[0]
    rates = rates_file(rules.read_bytes()) if rules.is_file() else ""
    # the rates come first: rules that name a file that is not there cannot be read
    return [
        *filter(None, [rates]),
        *OWN,
        PUBLISHED,
        *(f"partners/{p.name}" for p in sorted((root / "partners").glob("*.toml"))),
    ]


def _copy_file(path: Path, to: Path, private: bool = False) -> None:
    if path.is_file():
        disk.make_folder(to.parent)
        disk.replace(to, path.read_bytes(), mode=0o600 if private else None)


def _note(folder: Path, head: Head) -> None:
    told = {"entry": head.number, "head": head.hash}
    disk.replace(folder / NOTE, (json.dumps(told, indent=1, sort_keys=True) + "\n").encode())


def _refuse_damage(folder: Path, ledger: Ledger, tick: Tick) -> None:
    """Look at every byte of a back-up, and hold its end against its own note."""
    verdict = verify(ledger, look.witnesses(Places(folder)), tick=tick)
    if verdict.wrong:
        raise LedgerDamaged(
            f"The back-up in {folder} is not whole, so nothing may rest on it: {verdict.wrong[0]}. "
            f"`wrackline verify -p {folder}` tells all."
        )


# --- erase ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Redacted:
    """The entry that records it, what was taken away, and files still to be removed by hand.

    waits: runs at work did not end, so nothing was taken away yet; the next sweep does it.
    """

    entry: Entry
    removed: tuple[str, ...]
    by_hand: tuple[str, ...]
    waits: bool = False


@plainly()
def redact(root: Path, drop: str, by: str, reason: str, say: run.Say = run.silent) -> Redacted:
    """Erase the original bytes of the one drop whose hash begins so, recorded for ever with who and why.

    Its parts and typed events stay and count; `withdraw` takes those back. What was made of it (projection, letters)
    is made anew without it. BadUsage when there is no such drop or a word is missing.
    """
    if not by.strip() or not reason.strip():
        raise BadUsage("Say who decided it and why; both stay in the ledger for ever, so name nobody in the reason.")
    places = open_programme(root).places
    ledger = _ledger(places)
    with ledger.writing():
        digest = find_drop(ledger.entries(), drop)
        entry = record_redaction(ledger, digest, by.strip(), reason.strip(), run.this_instant())
    waits, removed = False, []
    try:
        with ledger.at_work(alone=True, patience_s=PATIENCE_S), ledger.writing():
            entries = ledger.entries()
            removed = list(erase(ledger, entries))
            for left in ledger.scratch.iterdir():  # what a killed run was copying; nobody else is at work
                disk.remove_folder(left)
        with publishing.only_publisher(places):  # or a letter might be written just after it was taken away
            removed += _remove(_letters(places, entries))
    except Busy:
        waits = True
    run.refresh(root, say)
    inbox = [p for p in plain_files(places.inbox) if disk.sha256_of(p) == digest]
    told = [tuple(p.relative_to(root).as_posix() for p in paths) for paths in (removed, inbox)]
    return Redacted(entry, told[0], told[1], waits)


def _letters(places: Places, entries: Sequence[Entry]) -> list[Path]:
    """Letters about erased drops: they tell of cells as they were written, so they go too."""
    erased = redactions(entries)
    about = [e for e in entries if e.drop in erased] if erased else []
    return [p for e in about for p in sorted((places.out / "letters" / e.partner).glob(f"{e.number:06d}-*"))]


def _remove(paths: Sequence[Path]) -> Sequence[Path]:
    for path in paths:
        disk.remove(path)
    return paths
