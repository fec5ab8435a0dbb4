"""What a person decides: a ruling on a conflict or question, a held part dismissed, an event taken back.

Each is written as an ordinary file into an inbox and taken in like any drop: who, when, what and why stay for ever.
"""

import csv
import io
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline import disk, look, publishing, run
from pipeline.errors import BadUsage
from pipeline.programme import open_programme
from pipeline.session import session
from pipeline.unsettled import Ruling, Saying
from schemas.settling import WITHDRAWABLE

if TYPE_CHECKING:
    from pipeline.decided import Decision

NEW, NONE = "new", "none"
SETTLED = "settled"  # the folder in an inbox in which decisions are handed in


@dataclass(frozen=True)
class Settled:
    """What putting a ruling did: what was taken in, and the earlier rulings that hold no more."""

    took: run.TakeIn
    replaced: tuple[Ruling, ...]


def settle(root: Path, identity: str, choice: str, by: str, reason: str) -> Settled:
    """Put a ruling: of what is said of `identity`, `choice` (the beginning of its content) counts; or `none` of it new.

    identity: of what waits or was ruled on before, or its beginning, or its key; a later ruling replaces an earlier.
    BadUsage when that is nothing or several things, or the choice is not among what was said.
    """

    def meant(settled: bool) -> list[Saying]:
        every = look.waiting(root, settled=settled)
        return [q for q in every if identity and (q.identity.startswith(identity) or q.key == identity)]

    waiting = meant(settled=False) or meant(settled=True)
    if len({q.identity for q in waiting}) != 1:
        why = "nothing waits under it, and nothing was ruled on" if not waiting else "several things are called so"
        raise BadUsage(f"{identity!r}: {why}. `wrackline waiting` lists what waits, `--settled` what was ruled on.")
    chosen = {q.content for q in waiting if choice and q.content.startswith(choice)}
    if choice == NONE:
        chosen = {NONE}
    if len(chosen) != 1:
        said = ", ".join(sorted({q.content[:8] for q in waiting}))
        raise BadUsage(f"{choice!r} is not one of what was said. Choose one of: {said}, {NONE}.")
    return _rule(root, {waiting[0].identity: chosen.pop()}, by, reason)


def settle_file(root: Path, receipt: int, choice: str, by: str, reason: str) -> Settled:
    """Put one ruling on every question that a receipt left: `new` lets what the file says count, `none` refuses it.

    What it says again against an earlier ruling is settled already, and asked about here all the same. Conflicts are left: of two
    words that differ nobody can say by the file which is new. BadUsage when it has none.
    """
    ruled = {r.settles: r.receipt for r in look.rulings(root) if r.holds}
    since = [q for q in look.waiting(root, settled=True) if ruled.get(q.identity, receipt) < receipt]
    asked = [q for q in (*look.waiting(root), *since) if q.entry == receipt and q.said_as == "question"]
    if not asked:
        raise BadUsage(f"Receipt {receipt} has no question that waits. `wrackline waiting` lists what waits.")
    if choice not in (NEW, NONE):
        raise BadUsage(f"{choice!r} is neither {NEW} nor {NONE}.")
    rows = {q.identity: q.content if choice == NEW else NONE for q in asked}
    return _rule(root, rows, by, reason)


def _rule(root: Path, choices: dict[str, str], by: str, reason: str) -> Settled:
    """Put a ruling on each identity. Those that held until now are told of: a later ruling replaces an earlier."""
    run.project(root)  # a ruling that nobody measured yet holds too
    replaced = tuple(r for r in look.rulings(root) if r.holds and r.settles in choices)
    rows = ({"settles": i, "choice": said, "decided_by": by, "reason": reason} for i, said in choices.items())
    return Settled(_hand_in(root, "programme", "ruling", *rows), replaced)


def tell(root: Path, done: Settled) -> "list[Decision]":
    """Bring letters and partners' pages up to what was ruled, and give what the rulings decide; figures follow with `measure`."""
    from pipeline.decided import decisions
    from pipeline.open_pages import write_pages
    from schemas.kinds import all_kinds

    run.project(root)
    places = open_programme(root).places
    receipts = [e.number for e in done.took.entries if e.partner == "programme" and e.name.startswith(SETTLED)]
    with publishing.only_publisher(places):
        run.write_letters(root)
        with session(root) as (con, rules):
            write_pages(con, places, rules)
            return [d for n in receipts for d in decisions(con, all_kinds(), n)]


def dismiss(root: Path, part: str, by: str, reason: str) -> run.TakeIn:
    """Close a held part for good, with a reason: `part` is receipt/row/part, or receipt/sheet/row/part. What an older drop says alike goes with it."""
    held = look.held_rows(root)
    alike = {h.name: [h.name, *(o.name for o in h.older)] for h in held} | {
        o.name: [o.name] for h in held for o in h.older
    }
    if part not in alike:
        raise BadUsage(f"{part!r} is no held part. `wrackline held --rows` lists them.")
    rows = ({"settles": f"held {name}", "choice": NONE, "decided_by": by, "reason": reason} for name in alike[part])
    return _hand_in(root, "programme", "ruling", *rows)


def withdraw(root: Path, partner: str, kind: str, key: str, reason: str, by: str = "") -> run.TakeIn:
    """Take an event back in its partner's name. `key` is written as `wrackline home` shows it; by: who decides."""
    if kind not in WITHDRAWABLE:
        raise BadUsage(
            f"A {kind!r} cannot be withdrawn. What can: {', '.join(WITHDRAWABLE)}. A ruling is replaced by another."
        )
    if not look.is_said(root, kind, key):
        raise BadUsage(f"No {kind} of key {key!r} was ever entered. Keys are written as `wrackline home` shows them.")
    return _hand_in(
        root, partner, "withdrawal", {"withdraws_kind": kind, "withdraws_key": key, "reason": reason, "recorded_by": by}
    )


def _hand_in(root: Path, partner: str, kind: str, *rows: dict[str, str]) -> run.TakeIn:
    """Write the rows as a file of our own form into the partner's inbox, and take the inboxes in."""
    if any(k in row and not row[k].strip() for row in rows for k in ("decided_by", "reason")):
        raise BadUsage("Say who decided it and why: --by and --reason stay on record.")
    before = run.take(root)  # what lies there is news of its own: a decision speaks of what came before it
    instant = run.this_instant()
    text = io.StringIO()
    writer = csv.DictWriter(text, ["happened", *rows[0]], lineterminator="\n")
    writer.writeheader()
    writer.writerows({"happened": instant.date().isoformat(), **row} for row in rows)
    folder = open_programme(root).places.inbox / partner / SETTLED
    if folder.is_symlink() or folder.parent.is_symlink():
        raise BadUsage(f"{folder} leads elsewhere. Make it a folder of the inbox itself.")
    disk.make_folder(folder)
    disk.replace(folder / f"{kind}-{instant:%Y%m%dT%H%M%S%f}.csv", text.getvalue().encode())
    done = run.take(root)
    done.entries = [*before.entries, *done.entries]
    return done
