"""A whole [[sheet]] for a sheet that nobody has mapped: what its columns are, what is sure, what must be asked."""

import re
from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.suggest.asked import sent
from pipeline.suggest.choose import Choice, assigned, candidates
from pipeline.suggest.fewer import fewer
from pipeline.suggest.fit import Registered, Said, headings_say, language_of, pieces
from pipeline.suggest.frames import frame_headings
from pipeline.suggest.lexicon import NOTHING, Lexicon
from pipeline.suggest.marks import decimal_mark, order_of_days, thousands_mark
from pipeline.suggest.missing import missing_codes
from pipeline.suggest.parts import add_part
from pipeline.suggest.proposal import Proposal
from pipeline.suggest.second_look import second_look
from pipeline.suggest.seen import Seen, columns_seen, is_day, row_of_units
from pipeline.suggest.several import chosen_kinds
from pipeline.suggest.shapes import WideSeen
from pipeline.suggest.text import plain
from pipeline.suggest.wide import wides_seen
from pipeline.suggest.write import Question
from schemas.kinds import Kind

HEADER_SOUGHT_IN = 30
ELSEWHERE = {NOTHING, "latitude", "longitude"}  # numbers that are nothing of ours, or stand in the list of sites


def header_row_of(head: Sequence[Sequence[str]], words: Lexicon) -> int:
    """The row (from 1) that most looks like headings: texts, each once, known ones most, with cells of rows below them."""
    known = {p for p, _, _ in words.phrases}
    best, found = 0.0, next((n for n, r in enumerate(head, 1) if any(c.strip() for c in r)), 1)
    for n, row in enumerate(head[:HEADER_SOUGHT_IN], 1):
        cells = [c.strip() for c in row if c.strip()]
        texts = [c for c in cells if is_day(c) or not re.fullmatch(r"[-+\d.,:/% ]+", c)]
        below = max((sum(bool(c.strip()) for c in r) for r in head[n : n + 5]), default=0)
        if not cells or len(set(cells)) < len(cells) * 0.8:
            continue
        score = (
            len(texts)
            + 1.5 * sum(plain(_bare(c)) in known for c in texts)
            - (len(cells) - len(texts))
            - 0.5 * max(0, below - len(cells))
        )
        if score > best:
            best, found = score, n
    return found


def _bare(heading: str) -> str:
    return re.sub(r"[(\[][^()\[\]]*[)\]]", "", heading)


def propose(
    sheet_name: str, file_name: str, head: Sequence[Sequence[str]], header_row: int, rows: Sequence[Sequence[str]],
    kinds: Mapping[str, Kind], words: Lexicon, registered: Registered, native: bool = False,
) -> Proposal:  # fmt: skip
    """The proposal. head: the sheet's first rows; rows: those below the headings, as wide, trimmed; native: cells were typed."""
    words = words.with_names(registered.names)
    header = tuple(c.strip() for c in head[header_row - 1])
    below = [c.strip() for c in head[header_row]] if header_row < len(head) else []
    units = row_of_units(below)
    kept = bool(
        units and rows and [c for c in rows[0] if c] == [c for c in below if c]
    )  # the reader took it for a record
    rows = rows[1:] if kept else rows
    columns = columns_seen(header, rows, words.blanks | missing_codes(header, rows, words.blanks), units)
    said = headings_say(columns, words)
    title = " ".join(
        [re.sub(r"\.[A-Za-z0-9]{1,8}$", "", file_name), sheet_name, *(c for r in head[: header_row - 1] for c in r)]
    )
    proposal = Proposal(sheet_name, header_row, header, language_of(said), {"files": [_file_pattern(file_name)]})
    if sheet_name:
        proposal.tree["sheets"] = [sheet_name]
    proposal.tree["confirmed"] = False
    if kept:
        proposal.tree["unit_row"], proposal.notes["unit_row",] = True, "the row below the headings holds units"
    _style(proposal, columns, native)
    found = pieces(said, columns)
    day = {"year", "month", "day_of_month"} <= set(found)
    taken = sent(columns, said) | ({found[p] for p in ("year", "month", "day_of_month")} if day else set())
    if (
        "clock" in found
        and said[found["clock"]]["clock"].surely >= 0.9
        and (day or any(c.dated > 0.7 for c in columns))
    ):
        taken.add(found["clock"])  # it is joined to the day
    wides = wides_seen(columns, said, words, registered, title)
    wide, in_wides = (wides[0] if wides else None), {at for w in wides for at in w.places}
    rest = [n for n, c in enumerate(columns) if n not in taken and c.at not in in_wides]
    choosing = [columns[n] for n in rest], [said[n] for n in rest]
    best = candidates(kinds, *choosing, words, registered, title, day or bool(wide and "happened" in wide.told))

    def again(kind: Kind, without: set[int]) -> Sequence[Choice]:
        apart = [{} if n in without else says for n, says in enumerate(choosing[1])]
        return [c for c in assigned(kind, choosing[0], apart, words, registered) if c.at not in without]

    chosen = chosen_kinds(best, wide, choosing[0], again)
    chosen = second_look(chosen, *choosing, words, registered, {c for w in wides for c in w.columns})
    shaped = [(candidate, choices, w) for candidate, choices in chosen
              for w in (wides if wide and candidate.kind.name == wide.kind else [None])]  # fmt: skip
    for n, (candidate, choices, shape) in enumerate(shaped):
        add_part(proposal, n, len(shaped), candidate, choices, choosing[0], columns, found if day else {}, shape, words,
                 registered)  # fmt: skip
    frame_headings(proposal, wides, columns, rows)
    _clock(proposal, columns, found, kinds)
    _note_fed(proposal, wides, columns, said)
    fewer(proposal)
    return proposal


def _note_fed(
    p: Proposal, wides: Sequence[WideSeen], columns: Sequence[Seen], said: Sequence[Mapping[str, Said]]
) -> None:
    for part in p.parts():
        for ours, headings in part.get("columns", {}).items():
            for heading in [headings] if isinstance(headings, str) else headings:
                p.fed.setdefault(heading, []).append((part["kind"], ours))
    for column in columns:
        for wide in wides:
            told = (wide.kind, wide.cells.get(column.at, wide.cell))
            if column.at in wide.places and told not in p.fed.get(column.heading, []):
                p.fed.setdefault(column.heading, []).append(told)
    p.left = list(dict.fromkeys(c.heading for c in columns if c.heading not in p.fed))
    open_numbers = [
        c for c, says in zip(columns, said, strict=True)
        if c.heading in p.left and c.numeric > 0.8 and not ELSEWHERE & {n for n, s in says.items() if s.surely > 0.9}
    ]  # fmt: skip
    if open_numbers:
        each = "; ".join(f"“{c.heading}” ({c.examples(2)})" for c in open_numbers)
        one = len(open_numbers) == 1
        ask = (
            f"{'This column holds' if one else f'These {len(open_numbers)} columns hold'} numbers and "
            f"feed{'s' if one else ''} nothing of ours: {each}. Write what they feed as column = heading, with ; between."
        )
        p.questions.append(Question(("left",), ask, "none"))


def _file_pattern(name: str) -> str:
    """Files of the same sort: their names differ in numbers and days."""
    stem, dot, ending = name.rpartition(".")
    if not dot:
        stem, ending = name, ""
    kept = re.match(r"[^\d\[\]*?]*", stem)
    start = kept[0].rstrip(" _-.(") if kept else ""
    return f"{start}*{dot}{ending}" if start != stem or "[" in stem else name


def _style(p: Proposal, columns: Sequence[Seen], native: bool) -> None:
    if native:
        return
    days = [c.heading for c in columns if is_day(c.heading)]
    order, mark = order_of_days([c for c in columns if c.dated > 0.5], days), decimal_mark(columns)
    p.tree["decimal"], p.notes["decimal",] = mark.value or ("." if p.language == "en" else ","), mark.why
    if not mark.value:
        p.questions.append(
            Question(("decimal",), f"Which is the decimal mark? {mark.why}.", str(p.tree["decimal"]), (".", ","))
        )
    if marked := thousands_mark(columns, str(p.tree["decimal"])):
        p.tree["thousands"] = marked
    p.tree["dates"], p.notes["dates",] = order.value or "DMY", order.why
    if not order.value:
        p.questions.append(
            Question(("dates",), f"In which order are days written? {order.why}.", "DMY", ("DMY", "MDY", "YMD"))
        )
    blanks: dict[str, int] = {}
    for column in columns:
        for word, n in column.blank_words.items():
            blanks[word] = blanks.get(word, 0) + n
    if blanks:
        p.tree["blanks"] = list(blanks)
        told = ", ".join(f"“{w}” ({n} times)" for w, n in blanks.items())
        p.questions.append(
            Question(("blanks",), f"Do these all mean that nothing was written? {told}", ", ".join(blanks))
        )


def _clock(p: Proposal, columns: Sequence[Seen], found: Mapping[str, int], kinds: Mapping[str, Kind]) -> None:
    """A time of day in a column of its own is joined to the day, and so are times that stand without one."""
    told = columns[found["clock"]].heading if "clock" in found else ""
    clocks = {c.heading: c.at for c in columns if c.clocked > 0.8 or c.heading == told}
    at = {c.heading: c.at for c in columns}
    owner = _owner_of_clock(p, clocks, at)
    for n, part in enumerate(p.parts()):
        mapped, path = part["columns"], (("part", str(n)) if "part" in p.tree else ())
        day = mapped.get("happened")
        whole = [day] if isinstance(day, str) else list(day or [])
        alone = [c for c, h in mapped.items() if isinstance(h, str) and h in clocks and c != "happened"]
        if not whole or set(whole) & set(clocks):
            continue
        for column in alone:
            mapped[column] = [*whole, mapped[column]]
        used = {h for v in mapped.values() for h in ([v] if isinstance(v, str) else v)}
        free = [h for h in clocks if h not in used]
        if n != owner or (alone and told not in free) or not (told or len(free) == 1):
            continue
        clock = told or free[0]
        if clock in used:
            continue
        kind = kinds[part["kind"]]
        own = kind.happened_from if kind.happened_from and kind.column(kind.happened_from).type == "instant" else ""
        mapped[own or "happened"] = [*whole, clock]
        here = (*path, "columns", own or "happened")
        p.notes[here] = f"{p.notes.get(here, 'likely')}; the time stands under “{clock}”"


def _owner_of_clock(p: Proposal, clocks: Mapping[str, int], at: Mapping[str, int]) -> int:
    """The part that a loose time of day belongs to: the visit, else the one whose day stands nearest before it."""
    used = {h for part in p.parts() for v in part["columns"].values() for h in ([v] if isinstance(v, str) else v)}
    free = min((i for h, i in clocks.items() if h not in used), default=0)

    def distance(part: Mapping[str, Any]) -> tuple[bool, bool, int]:
        day = part["columns"].get("happened")
        gap = free - at.get(day if isinstance(day, str) else "", free + len(at))
        return part["kind"] != "visit", gap < 0, abs(gap)

    return min(range(len(p.parts())), key=lambda n: distance(p.parts()[n]))
