"""A partner's page of what is open: held rows, contradictions with others, what waits, what was decided."""

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from itertools import groupby
from types import MappingProxyType

from pipeline.decided import Decision
from pipeline.outputs.decisions import page_lines
from pipeline.outputs.layout import plain, ranges
from pipeline.outputs.paper import BELOW, FACT, HEAD, POINT, TEXT, TITLE, Line, Paper
from pipeline.outputs.values import NOBODYS, Theirs, saying_in
from pipeline.outputs.waiting_told import waiting_lines
from pipeline.outputs.whom import whom
from pipeline.outputs.words import Post, words
from pipeline.unsettled import HeldRow, Saying, Waiting, last_words

LISTED = 100  # of one sort; the rest are counted

NONE: Mapping[str, Decision] = MappingProxyType({})

ABOUT = (
    "What is held or waits now. This page is written anew with the figures; the letters beside it stay as they were, and "
    "rows that were mended since are no longer told of here."
)
REOPENED = "It was ruled on {day} by {by}. It was told otherwise since, so it is open again."
TO_AGREE = (
    "TOLD DIFFERENTLY BY SEVERAL, {things}. Find out together which is right. Whoever is not changes the row in its own "
    "sheet and hands the sheet in again; or the programme rules."
)


def open_page(
    programme: str, partner: str, held: Sequence[HeldRow], said: Sequence[Saying], waits: Sequence[Waiting],
    disputed: Collection[str], decided: Sequence[Decision] = (), reopened: Mapping[str, Decision] = NONE,
    language: str = "en", theirs: Theirs = NOBODYS, contact: str = "",
) -> Paper:  # fmt: skip
    """The page of one partner. held, said, waits, decided: of the whole programme, in order; disputed: identities that
    count for nothing until somebody rules; reopened: those of them that were ruled on before. theirs: the partner's words. contact:
    where the programme is written to, "" where it says nowhere.

    It holds no day of its making, so that the same ledger gives the same bytes.
    """
    _ = words(language)
    contrary = _contradictions(partner, said)
    parties = {identity for identity, __ in contrary}
    mine = [h for h in held if h.partner == partner and h.identity not in parties]
    late = [w for w in waits if w.partner == partner]
    lines = [Line(_("{programme} to {partner}", programme=programme, partner=partner), TITLE), Line(_(ABOUT))]
    if not (mine or contrary or late):
        lines.append(Line(_("Nothing of yours is held, and nothing waits."), gap=True))
    lines += [*_held(_, mine, said, theirs), *_contrary(_, contrary, disputed, reopened, theirs), *_late(_, late)]
    return Paper(
        language,
        [*lines, *page_lines(_, partner, decided, theirs), *([whom(_, contact)] if partner != "programme" else [])],
    )


def _held(_: Post, held: Sequence[HeldRow], said: Sequence[Saying], theirs: Theirs) -> list[Line]:
    if not held:
        return []
    unlike = {(q.entry, q.sheet, q.row, q.identity): q for q in said if q.differing}
    told = "HELD, {parts}. Each waits until its row is mended and its sheet handed in again."
    lines = [Line(_(told, parts=_.count(len(held), "statement")), HEAD, gap=True)]
    for (file, receipt, since, letter), parts in groupby(held, key=lambda h: (h.file, h.receipt, h.since, h.letter)):
        name = letter.rpartition("/")[2]
        told = "“{file}”, received {day}, letter {letter} (receipt {receipt})"
        about = _(told, file=plain(file), day=_.day(since), letter=name, receipt=receipt)
        lines.append(Line(about, TEXT, to=name, gap=True))
        causes: dict[tuple[str, str, str, str], list[HeldRow]] = {}
        for h in parts:
            causes.setdefault((h.sheet, h.kind, h.cause, h.advice), []).append(h)
        for (sheet, __, __, advice), rows in sorted(causes.items(), key=lambda c: (-len(c[1]), c[0])):
            where = [_("sheet “{sheet}”", sheet=plain(sheet))] if sheet else []
            where.append(_("rows {row}" if len(rows) > 1 else "row {row}", row=_rows(rows)))
            why = _why(_, rows[0])
            if len({h.why for h in rows}) > 1:
                why = _("for instance in row {row}, {why}", row=rows[0].row, why=why[:1].lower() + why[1:])
            lines.append(Line(_("{where}: {what}", where=", ".join(where), what=why), POINT))
            lines.append(Line(_("Wanted: {wanted}.", wanted=_.again(rows[0].wanted)), BELOW))
            lines.append(Line(_("What to do: {advice}", advice=_.again(advice)), BELOW))
            alike: dict[str, list[HeldRow]] = {}
            for h in rows[:LISTED]:
                lines += [Line(text, BELOW) for text in _older(_, h)]
                if q := unlike.get((h.receipt, h.sheet, h.row, h.identity)):
                    alike.setdefault(saying_in(_, q.kind, q.differing, theirs), []).append(h)
            for what, those in alike.items():
                there = _("rows {row}" if len(those) > 1 else "row {row}", row=_rows(those))
                lines.append(Line(_("{where}: {what}", where=there, what=what), BELOW))
    return lines


def _older(_: Post, held: HeldRow) -> list[str]:
    """Where an older file of the partner says the same; it is no statement of its own."""
    told = "{where}: told in “{file}” row {other} too; mended here, it is mended there."
    again = "{where}: told in “{file}” row {other} too (receipt {receipt}); mended here, it is mended there."
    return [
        _(
            again if o.file == held.file else told,
            where=_("row {row}", row=held.row),
            file=plain(o.file),
            other=o.row,
            receipt=o.receipt,
        )
        for o in held.older
        if not o.same_drop
    ]


def _why(_: Post, held: HeldRow) -> str:
    """The first reason in this language: the column as it is called in the sheet, the sort of fault, what was found."""
    named, __, found = (t.strip() for t in held.why.partition(held.cause))
    found = found.removeprefix(": ")
    if not named:
        return _.again(found or held.cause)
    cause = ", ".join([_.again(held.cause), *([_.found(held.cause, plain(found))] if found else [])])
    return _("{where}: {what}", where=_("column “{heading}”", heading=plain(named)), what=cause)


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
    _: Post, contrary: Sequence[tuple[str, list[Saying]]], disputed: Collection[str], reopened: Mapping[str, Decision],
    theirs: Theirs,
) -> list[Line]:  # fmt: skip
    if not contrary:
        return []
    lines = [Line(_(TO_AGREE, things=_.count(len(contrary), "thing")), HEAD, gap=True)]
    for identity, told in contrary[:LISTED]:
        counts = "until then it does not count" if identity in disputed else "until then what was said first counts"
        lines.append(Line(f"{_.again(told[0].kind)} {told[0].key} ({_(counts)})", TEXT, gap=True))
        if before := reopened.get(identity):
            lines.append(Line(_(REOPENED, day=_.day(before.day), by=plain(before.by)), BELOW))
        days = Counter((q.partner, q.file, q.since) for q in told)
        for q in told:
            place = [_("sheet “{sheet}”", sheet=q.sheet)] if q.sheet else []
            where = " ".join([*place, _("row {row}", row=q.row)])
            about = _("“{file}” {place}, received {day}", file=q.file, place=where, day=_.day(q.since))
            if days[q.partner, q.file, q.since] > 1:
                about = _("{where}, receipt {receipt}", where=about, receipt=q.entry)
            what = saying_in(_, q.kind, q.differing or q.values, theirs) or _("nothing more")
            lines.append(Line(_("{where}: {what}", where=f"{q.partner}, {about}", what=what), POINT))
    return lines + _more(_, len(contrary))


def _late(_: Post, waits: Sequence[Waiting]) -> list[Line]:
    if not waits:
        return []
    told = (
        "WAITING, {parts}. Taken in, but not counted as long as this holds; where something is missing, it is enough to "
        "hand that in."
    )
    head = Line(_(told, parts=_.count(len(waits), "statement")), HEAD, gap=True)
    return [head, *waiting_lines(_, waits, file=True)]


def _rows(told: Sequence[HeldRow]) -> str:
    return ranges([t.row for t in told]).replace(",", ", ")


def _more(_: Post, count: int) -> list[Line]:
    return [Line(_("... and {n} more", n=_.whole(count - LISTED)), FACT)] if count > LISTED else []
