"""A partner's page of what is open: held rows, contradictions with others, what waits, what was decided. Text in, text out."""

import datetime as dt
from collections.abc import Collection, Mapping, Sequence
from itertools import groupby
from types import MappingProxyType

from pipeline.decided import Decision
from pipeline.outputs.decisions import page_lines
from pipeline.outputs.layout import paragraph, plain, ranges
from pipeline.plural import n_of
from pipeline.unsettled import HeldRow, Saying, Waiting, last_words

WIDTH = 96
LISTED = 100  # of one sort; the rest are counted

NONE: Mapping[str, Decision] = MappingProxyType({})

TO_AGREE = (
    "Find out together which is right. Whoever is not changes the row in its own sheet and hands the sheet in again; "
    "or the lead rules."
)


def open_page(
    programme: str, partner: str, held: Sequence[HeldRow], said: Sequence[Saying], waits: Sequence[Waiting],
    disputed: Collection[str], decided: Sequence[Decision] = (), reopened: Mapping[str, Decision] = NONE,
) -> str:  # fmt: skip
    """The page of one partner. held, said, waits, decided: of the whole programme, in order; disputed: identities that
    count for nothing until somebody rules; reopened: those of them that were ruled on before.

    It holds no day of its making, so that the same ledger gives the same bytes.
    """
    contrary = _contradictions(partner, said)
    parties = {identity for identity, _ in contrary}
    mine = [h for h in held if h.partner == partner and h.identity not in parties]
    late = [w for w in waits if w.partner == partner]
    lines = [
        f"{programme} to {partner}",
        *paragraph("", "What is held or waits now. This page is written anew with the figures; the letters beside it stay as "
                       "they were, and rows that were mended since are no longer told of here.", 0, WIDTH),
    ]  # fmt: skip
    if not (mine or contrary or late):
        lines += ["", "Nothing of yours is held, and nothing waits."]
    return (
        "\n".join(
            [
                *lines,
                *_held(mine),
                *_contrary(contrary, disputed, reopened),
                *_late(late),
                *page_lines(partner, decided),
            ]
        )
        + "\n"
    )


def _held(held: Sequence[HeldRow]) -> list[str]:
    if not held:
        return []
    lines = [
        "",
        f"HELD, {n_of(len(held), 'statement')}. Each waits until its row is mended and its sheet handed in again.",
    ]
    for (file, receipt, since, letter), parts in groupby(held, key=lambda h: (h.file, h.receipt, h.since, h.letter)):
        lines += ["", f"“{plain(file)}”, received {since}, letter {letter.rpartition('/')[2]} (receipt {receipt})"]
        causes: dict[tuple[str, str, str, str], list[HeldRow]] = {}
        for h in parts:
            causes.setdefault((h.sheet, h.kind, h.cause, h.advice), []).append(h)
        for (sheet, _, _, advice), rows in sorted(causes.items(), key=lambda c: (-len(c[1]), c[0])):
            where = (f"sheet “{plain(sheet)}”, " if sheet else "") + f"row{'s' if len(rows) > 1 else ''} "
            why = (
                rows[0].why if len({h.why for h in rows}) == 1 else f"for instance in row {rows[0].row}, {rows[0].why}"
            )
            lines += paragraph("   - ", f"{where}{_rows(rows)}: {why}", 5, WIDTH)
            lines += paragraph("     ", f"What to do: {advice}", 5, WIDTH)
    return lines


def _contradictions(partner: str, said: Sequence[Saying]) -> list[tuple[str, list[Saying]]]:
    """What this partner and another tell differently: each thing with everything that is said of it."""
    found = []
    for identity, sayings in groupby(
        sorted(last_words(said), key=lambda q: (q.kind, q.key, q.identity)), key=lambda q: q.identity
    ):
        told = list(sayings)
        partners, contents = {q.partner for q in told}, {q.content for q in told}
        if partner in partners and len(partners) > 1 and len(contents) > 1:
            found.append((identity, told))
    return found


def _contrary(
    contrary: Sequence[tuple[str, list[Saying]]], disputed: Collection[str], reopened: Mapping[str, Decision]
) -> list[str]:
    if not contrary:
        return []
    lines = ["", *paragraph("", f"TOLD DIFFERENTLY BY SEVERAL, {n_of(len(contrary), 'thing')}. {TO_AGREE}", 0, WIDTH)]
    for identity, told in contrary[:LISTED]:
        counts = "until then it does not count" if identity in disputed else "until then what was said first counts"
        lines += ["", *paragraph("", f"{told[0].kind} {told[0].key} ({counts})", 0, WIDTH)]
        if before := reopened.get(identity):
            told_since = (
                f"It was ruled on {before.day} by {plain(before.by)}. It was told otherwise since, so it is open again."
            )
            lines += paragraph("   ", told_since, 3, WIDTH)
        for q in told:
            place = f"“{q.file}” " + (f"sheet “{q.sheet}” " if q.sheet else "") + f"row {q.row}, received {q.since}"
            lines += paragraph("   - ", f"{q.partner}, {place}: {q.differs or q.says or 'nothing more'}", 5, WIDTH)
    return lines + _more(len(contrary))


def _late(waits: Sequence[Waiting]) -> list[str]:
    if not waits:
        return []
    told = (
        f"WAITING, {n_of(len(waits), 'statement')}. Taken in, but not counted as long as this holds; where something is missing, "
        "it is enough to hand that in."
    )
    lines = ["", *paragraph("", told, 0, WIDTH), ""]
    alike: dict[tuple[str, str, str, str, dt.date], list[Waiting]] = {}
    for w in waits:
        alike.setdefault((w.kind, w.why, w.file, w.sheet, w.since), []).append(w)
    for (kind, why, file, sheet, since), rows in list(alike.items())[:LISTED]:
        what = f"{kind} {rows[0].key}" if len(rows) == 1 else f"{n_of(len(rows), 'statement')} of kind {kind}"
        place = (
            f"“{file}” " + (f"sheet “{sheet}” " if sheet else "") + f"row{'s' if len(rows) > 1 else ''} {_rows(rows)}"
        )
        lines += paragraph("   - ", f"{what}: {why} ({place}, received {since})", 5, WIDTH)
    return lines + _more(len(alike))


def _rows(told: Sequence[HeldRow] | Sequence[Waiting]) -> str:
    return ranges([t.row for t in told]).replace(",", ", ")


def _more(count: int) -> list[str]:
    return [f"   ... and {count - LISTED} more"] if count > LISTED else []
