"""Commands that look after the ledger: is it whole, is there a copy, what lies about, what must go."""

import argparse
from dataclasses import asdict
from pathlib import Path

from pipeline import look
from pipeline.commands.common import FINE, Adder, say, tick, told
from pipeline.errors import LedgerDamaged
from pipeline.plural import n_of


def add(command: Adder) -> None:
    """Register them."""
    c = command("verify", _verify, "Look at every byte of the ledger, and at its end")
    c.add_argument("--light", action="store_true", help="entries, and names and sizes of files, not their bytes")
    c.add_argument(
        "--witness", type=Path, action="append", default=[], metavar="PATH",
        help="a back-up, or a copy of about.json, that saw the ledger's end (as many as there are)",
    )  # fmt: skip
    c = command("backup", _backup, "Bring a copy of the programme up to date and verify it. Runs may go on meanwhile.")
    c.add_argument("folder", type=Path, help="a new folder, or an earlier back-up; best on another disk")
    c.add_argument("--inbox", action="store_true", help="the files in the inbox too")
    c = command("restore", _restore, "Mend the ledger from a back-up, or make the programme anew from it")
    c.add_argument("backup", type=Path, help="the back-up's folder")
    c = command("sweep", _sweep, "Take away what stopped runs left")
    c.add_argument("--dry-run", action="store_true", help="say what would be taken away")
    c = command(
        "redact",
        _redact,
        "Erase the original bytes of a drop. This is recorded for ever and cannot be undone; what its rows said stays "
        "and counts, unless it is withdrawn.",
    )
    c.add_argument("drop", help="its hash, or the beginning of it, as `home` and the letters show it")
    c.add_argument("--by", required=True, help="who decides")
    c.add_argument("--reason", required=True, help="why; it stays for ever, so it must name nobody")


def _verify(args: argparse.Namespace) -> int:
    verdict = look.verify(args.programme, args.light, tick(args), args.witness)
    lines = [
        f"Looked at {n_of(verdict.entries, 'entry', 'entries')}, {n_of(verdict.drops, 'drop')} and {n_of(verdict.segments, 'segment')}."
    ]
    lines += [f"WRONG: {w}" for w in verdict.wrong]
    if verdict.wrong:
        lines += ["Mend it with `wrackline restore BACKUP`; nothing is to be swept or taken in before."]
    else:
        lines += [f"Note: {n}." for n in verdict.notes]
        lines += [f"{path} agrees with it." for path in args.witness]
        whole = "The ledger is whole."
        lines += [
            "Entries, names and sizes are as they were written; bytes were not looked at." if args.light else whole
        ]
    told(args, asdict(verdict), "\n".join(lines) + "\n")
    return LedgerDamaged.exit_code if verdict.wrong else FINE


def _backup(args: argparse.Namespace) -> int:
    from pipeline.care import backup

    done = backup(args.programme, args.folder, args.inbox, tick(args))
    text = f"Copied {n_of(done.entries, 'entry', 'entries')} and {n_of(done.files, 'file')} ({_size(done.bytes)})"
    text += f", erased {done.erased} that were erased here" if done.erased else ""
    told(args, asdict(done), f"{text}. {args.folder} is whole up to entry {done.head.number}.\n")
    return FINE


def _restore(args: argparse.Namespace) -> int:
    from pipeline.care import restore

    done = restore(args.backup, args.programme, tick(args))
    lines = [
        f"Put back {n_of(done.copied.entries, 'entry', 'entries')} and {n_of(done.copied.files, 'file')} ({_size(done.copied.bytes)})."
    ]
    lines += [f"Put back {', '.join(done.put_back)}."] if done.put_back else []
    lines += [f"STILL WRONG: {n}." for n in done.notes]
    lines += [f"The ledger is whole up to entry {done.copied.head.number}. Run `wrackline take`, then `measure`."]
    told(args, asdict(done), "\n".join(lines) + "\n")
    return LedgerDamaged.exit_code if done.notes else FINE


def _sweep(args: argparse.Namespace) -> int:
    from pipeline.care import sweep

    done = sweep(args.programme, args.dry_run)
    verb = "Would take" if args.dry_run else "Took"
    lines = [f"{verb} away {n_of(len(done.removed), 'file or folder', 'files and folders')} ({_size(done.bytes)})."]
    told(args, asdict(done), "\n".join([*lines, *(f"  {name}" for name in done.removed)]) + "\n")
    return FINE


def _redact(args: argparse.Namespace) -> int:
    from pipeline.care import redact

    done = redact(args.programme, args.drop, args.by, args.reason, say(args))
    lines = [f"Entry {done.entry.number} records it. Taken away for good:", *(f"  {name}" for name in done.removed)]
    if done.waits:
        lines[0] = (
            f"Entry {done.entry.number} records it. A run is at work: `wrackline sweep` takes the bytes away after it."
        )
    if done.by_hand:
        lines += ["Still there; remove by hand (they are never taken in again):", *(f"  {p}" for p in done.by_hand)]
    lines += [
        "What its rows said (parts and events, with names, remarks and keys) stays and counts; `withdraw` takes it back",
        "from the figures. Other files may say the same again. Run `backup` for every back-up there is.",
    ]
    told(args, asdict(done), "\n".join(lines) + "\n")
    return FINE


def _size(count: int) -> str:
    return f"{count / 1e6:.1f} MB" if count >= 100_000 else n_of(count, "byte")
