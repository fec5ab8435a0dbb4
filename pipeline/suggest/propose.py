"""A whole [[sheet]] for a sheet that nobody has mapped: what its columns are, what is sure, what must be asked."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from pipeline.intake.ways import OPEN
from pipeline.suggest.choose import SAME_FOR_ALL, Candidate, Choice, candidates
from pipeline.suggest.fit import Registered, headings_say, language_of, pieces
from pipeline.suggest.lexicon import Lexicon
from pipeline.suggest.marks import decimal_mark, order_of_days, thousands_mark
from pipeline.suggest.seen import Seen, columns_seen, is_day
from pipeline.suggest.text import plain
from pipeline.suggest.wide import WideSeen, wide_seen
from pipeline.suggest.write import Path, Question
from schemas.kinds import Column, Kind

HEADER_SOUGHT_IN = 30
SECOND_KIND = 0.9  # so surely must the headings of a second kind speak
MOST_KINDS = 4
# what the kinds of one sheet share: where, when, on which dive, by whom
SHARED = {"happened", "site_key", "plot_key", "visit_key", "dive_number", "recorded_by", "down_at", "remarks", "media"}


@dataclass
class Proposal:
    """What is proposed for one sheet: its TOML as a tree, why, and the questions.

    fed: heading -> the kinds and columns of ours that it feeds; left: headings that feed nothing.
    """

    sheet_name: str
    header_row: int
    header: tuple[str, ...]
    language: str
    tree: dict[str, Any]
    notes: dict[Path, str] = field(default_factory=dict)
    questions: list[Question] = field(default_factory=list)
    left: list[str] = field(default_factory=list)
    fed: dict[str, list[tuple[str, str]]] = field(default_factory=dict)

    @property
    def kinds(self) -> list[str]:
        """The kinds it feeds."""
        return [p["kind"] for p in self.parts()]

    def parts(self) -> list[dict[str, Any]]:
        """The tables of its parts."""
        parts: list[dict[str, Any]] = self.tree.get("part", [self.tree])
        return parts


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
    header = tuple(c.strip() for c in head[header_row - 1])
    columns = columns_seen(header, rows, words.blanks)
    said = headings_say(columns, words)
    title = " ".join(
        [re.sub(r"\.[A-Za-z0-9]{1,8}$", "", file_name), sheet_name, *(c for r in head[: header_row - 1] for c in r)]
    )
    proposal = Proposal(sheet_name, header_row, header, language_of(said), {"files": [_file_pattern(file_name)]})
    if sheet_name:
        proposal.tree["sheets"] = [sheet_name]
    proposal.tree["confirmed"] = False
    _style(proposal, columns, native)
    found = pieces(said, columns)
    day = {"year", "month", "day_of_month"} <= set(found)
    taken = {found[p] for p in ("year", "month", "day_of_month")} if day else set()
    if (
        "clock" in found
        and said[found["clock"]]["clock"].surely >= 0.9
        and (day or any(c.dated > 0.7 for c in columns))
    ):
        taken.add(found["clock"])  # it is joined to the day
    wide = wide_seen(columns, said, words, registered, title)
    rest = [n for n, c in enumerate(columns) if n not in taken and not (wide and c.at in wide.places)]
    choosing = [columns[n] for n in rest], [said[n] for n in rest]
    best = candidates(kinds, *choosing, words, registered, title, day or bool(wide and "happened" in wide.told))
    chosen = _chosen(best, wide, [columns[n] for n in rest])
    for n, (candidate, choices) in enumerate(chosen):
        shape = wide if wide and candidate.kind.name == wide.kind else None
        _part(
            proposal,
            n,
            len(chosen),
            candidate,
            choices,
            choosing[0],
            columns,
            found if day else {},
            shape,
            words,
            registered,
        )
    _clock(proposal, columns, found)
    _note_fed(proposal, wide, columns)
    return proposal


def _note_fed(p: Proposal, wide: WideSeen | None, columns: Sequence[Seen]) -> None:
    for part in p.parts():
        for ours, headings in part.get("columns", {}).items():
            for heading in [headings] if isinstance(headings, str) else headings:
                p.fed.setdefault(heading, []).append((part["kind"], ours))
    for column in columns:
        if wide and column.at in wide.places:
            p.fed.setdefault(column.heading, []).append((wide.kind, wide.cells.get(column.at, wide.cell)))
    p.left = [c.heading for c in columns if c.heading not in p.fed]


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
    order, mark = order_of_days([c for c in columns if c.dated > 0.5] or columns[:0]), decimal_mark(columns)
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


Chosen = list[tuple[Candidate, list[Choice]]]


def _chosen(best: Sequence[Candidate], wide: WideSeen | None, columns: Sequence[Seen]) -> Chosen:
    """The likeliest kind (a wide sheet's is told by its shape), and those that the columns it leaves over tell of."""
    first = best[0] if wide is None else next(c for c in best if c.kind.name == wide.kind)
    chosen: Chosen = [(first, list(first.choices))]
    used = {c.at for c in first.choices if c.column.name not in SHARED}
    for candidate in best:
        if candidate.kind.name == first.kind.name or candidate.kind.register or len(chosen) == MOST_KINDS:
            continue
        extra = [c for c in candidate.choices if c.at not in used and c.column.name not in SHARED]
        strong = [c for c in candidate.choices if c.heading.surely >= SECOND_KIND and c.column.name not in SHARED]
        shared = [c for c in candidate.choices if c.column.name in SHARED]
        own = {*candidate.kind.key, *(c.name for c in candidate.kind.columns if c.required)} - SHARED
        lacks = {c.name for c in candidate.missing} - SAME_FOR_ALL - SHARED
        named = own & {c.column.name for c in extra if c.heading.surely >= SECOND_KIND or c.cells > 0.7}
        if (
            len(extra) < 2
            or not named
            or lacks - own
            or len(lacks) > 1
            or sum(c in extra for c in strong) < 2 - (len(extra) > 3)
        ):
            continue
        mine = {c.at for c in [*strong, *extra]} if sum(c in extra for c in strong) >= 4 else {c.at for c in extra}
        chosen = [
            (k, [c for c in cs if c.at not in mine or c.column.name in SHARED or c.column.required]) for k, cs in chosen
        ]
        chosen.append((candidate, [*shared, *(c for c in candidate.choices if c.at in mine and c not in shared)]))
        used |= mine
    return chosen


def _part(
    p: Proposal, n: int, of: int, candidate: Candidate, choices: Sequence[Choice], at: Sequence[Seen], columns: Sequence[Seen],
    day: Mapping[str, int], wide: WideSeen | None, words: Lexicon, registered: Registered,
) -> None:  # fmt: skip
    """Add one part's tables to the proposal."""
    kind = candidate.kind
    table: dict[str, Any] = p.tree if of == 1 else {}
    path: Path = () if of == 1 else ("part", str(n))
    if of > 1:
        p.tree.setdefault("part", []).append(table)
    table["kind"] = kind.name
    if of > 1 and not wide:
        table["only_if"] = _key_heading(kind, choices, at)
    mapped: dict[str, Any] = {}
    units: dict[str, str] = {}
    codes: dict[str, dict[str, str]] = {k: dict(v) for k, v in (wide.codes if wide else {}).items() if v}
    if day:
        mapped["happened"] = [columns[day[piece]].heading for piece in ("year", "month", "day_of_month")]
        p.notes[(*path, "columns", "happened")] = "year, month and day, each in a column of its own"
    order = {c.name: i for i, c in enumerate(kind.columns)}
    for choice in sorted(choices, key=lambda c: order[c.column.name]):
        seen, ours = at[choice.at], choice.column
        if ours.name in mapped or (wide and ours.name in {*wide.told, wide.cell}):
            continue
        mapped[ours.name] = seen.heading
        here = (*path, "columns", ours.name)
        p.notes[here] = ("sure: " if choice.sure else "likely: ") + _because(choice, seen, registered)
        if not choice.sure:
            p.questions.append(
                Question(
                    here,
                    f"Is “{seen.heading}” ({seen.examples()}) {ours.title.lower()}? {ours.description}",
                    seen.heading,
                )
            )
        _unit(p, path, ours, seen, units)
        _codes(p, path, ours, seen, words, registered, codes)
    table["columns"] = mapped
    table |= {name: t for name, t in (("units", units), ("codes", codes)) if t}
    _fixed(
        p, path, table, kind, {*mapped, *(wide.told if wide else ()), *([wide.cell] if wide else ())}, registered, wide
    )
    if wide:
        _wide(p, path, table, wide, columns)


def _because(choice: Choice, seen: Seen, registered: Registered) -> str:
    why = [f"“{choice.heading.phrase}” ({choice.heading.language})"] if choice.heading.phrase else ["its cells alone"]
    known = registered.of(choice.column.refers or {"unit_key": "deployment"}.get(choice.column.name, ""))
    if known and seen.filled and seen.among(known):
        why.append(f"{round(100 * seen.among(known))} % are registered")
    return ", ".join([*why, f"cells such as {seen.examples()}" if seen.filled else "no cell is filled"])


def _unit(p: Proposal, path: Path, ours: Column, seen: Seen, units: dict[str, str]) -> None:
    if not ours.unit or not seen.filled:
        return
    if seen.unit and seen.unit != ours.unit:
        units[ours.name] = seen.unit
        p.notes[(*path, "units", ours.name)] = f"the heading says so: “{seen.heading}”"
        return
    usual = {
        "area_m2": (100.0, "cm2"),
        "water_temp_degc": (45.0, "degF"),
        "length_cm": (1500.0, "mm"),
        "visibility_m": (80.0, "ft"),
    }
    limit, other = usual.get(ours.name, (0.0, ""))
    middle = sorted(seen.numbers)[len(seen.numbers) // 2] if seen.numbers else 0.0
    if other and not seen.unit and middle > limit:
        units[ours.name] = other
        p.questions.append(
            Question(
                (*path, "units", ours.name),
                f"“{seen.heading}” holds {seen.examples()}: too much for {ours.unit}. Which unit is it?",
                other,
            )
        )


def _codes(
    p: Proposal,
    path: Path,
    ours: Column,
    seen: Seen,
    words: Lexicon,
    registered: Registered,
    codes: dict[str, dict[str, str]],
) -> None:
    """Their words for ours, where they differ; words that nobody knows are asked for."""
    known = words.values.get("yesno" if ours.type == "yesno" else ours.name, {})
    if ours.refers:
        written = registered.of(ours.refers)
        told = {c: written[plain(c)] for c in seen.cells if plain(c) in written and c != written[plain(c)]}
        if told:
            codes[ours.name] = {**codes.get(ours.name, {}), **told}
        return
    if not (ours.allowed or ours.type == "yesno" or known):
        return
    ours_already = {a.casefold() for a in ours.allowed} | (
        {"yes", "y", "true", "1", "x", "no", "n", "false", "0"} if ours.type == "yesno" else set()
    )
    told, unknown = {}, []
    for cell in seen.cells:
        if cell.casefold() in ours_already:
            continue
        if plain(cell) in known:
            if known[plain(cell)] != cell:
                told[cell] = known[plain(cell)]
        elif ours.allowed or ours.type == "yesno":
            unknown.append(cell)
    if told:
        codes[ours.name] = {**codes.get(ours.name, {}), **told}
    for cell in unknown[:8]:
        choices = ours.allowed or ("yes", "no")
        p.questions.append(
            Question((*path, "codes", ours.name, cell), f"What does “{cell}” under “{seen.heading}” mean?", "", choices)
        )


def _fixed(
    p: Proposal,
    path: Path,
    table: dict[str, Any],
    kind: Kind,
    got: set[str],
    registered: Registered,
    wide: WideSeen | None,
) -> None:
    """What every row must have and no column tells: the same for all of the file, or not known yet."""
    from pipeline.intake.mapping import derived

    usual = {
        "frame_type": "quadrat", "placement": "unknown", "outcome": "found", "form": "cash", "how_known": "missed",
        "protocol": registered.protocols[0] if len(registered.protocols) == 1 else OPEN,
    }  # fmt: skip
    fixed = {}
    for ours in kind.columns:
        needed = (
            ours.required
            or (ours.name == "species" and kind.name == "survey")
            or (ours.name == "currency" and kind.name == "cost")
        )
        if not needed or ours.name in got or derived(kind, ours.name):
            continue
        if ours.name == "happened" and kind.register:
            continue
        value = usual.get(ours.name, OPEN)
        fixed[ours.name] = value
        p.questions.append(
            Question(
                (*path, "fixed", ours.name),
                f"No column tells the {ours.title.lower()}. {ours.description} What holds for the whole file?",
                value,
                ours.allowed,
            )
        )
    if kind.name == "survey" and "area_m2" not in got:
        p.questions.append(
            Question(
                (*path, "fixed", "area_m2"),
                "No column tells how large a frame is, in m2; without it nothing can be said per m2.",
                "",
            )
        )
    if kind.name == "cost" and "for_key" in got and "for_kind" not in got:
        fixed["for_kind"] = "site"
        p.questions.append(
            Question(
                (*path, "fixed", "for_kind"),
                "What is it that the money was spent on?",
                "site",
                kind.column("for_kind").allowed,
            )
        )
    if fixed:
        table["fixed"] = fixed


def _wide(p: Proposal, path: Path, table: dict[str, Any], wide: WideSeen, columns: Sequence[Seen]) -> None:
    shape = dict(wide.table)
    here = [c for c in columns if c.at in wide.places]
    blank = sum(c.rows - c.filled - c.blank_words.total() for c in here)
    zeros = sum(n for c in here for cell, n in c.cells.items() if re.fullmatch(r"0+([.,]0+)?", cell))
    table["wide"] = shape
    p.notes[(*path, "wide", next(iter(shape)))] = wide.why
    if wide.asks_cell:
        p.questions.append(
            Question(
                (*path, "wide", "cell"),
                "Do the cells count plants, or say how much of the frame is covered?",
                wide.cell,
                ("count", "cover_pct"),
            )
        )
    if blank:
        shape["blank"] = "not written"
        beside = f"beside {zeros} zeros that are written" if zeros else "and no zero is written"
        p.questions.append(Question(
            (*path, "wide", "blank"), f"{blank} cells of the wide columns are blank, {beside}. What does a blank cell mean?",
            "not written", ("not written", "zero", "zero beside others", "not counted"),
        ))  # fmt: skip


def _key_heading(kind: Kind, choices: Sequence[Choice], at: Sequence[Seen]) -> str:
    """The column whose cells say that a row tells of this kind: that of its own key, else the first required one."""
    own = [k for k in reversed(kind.key) if k not in ("visit_key", "site_key", "happened", "plot_key")]
    wanted = [*own, *(c.name for c in kind.columns if c.required), *(c.column.name for c in choices)]
    by_name = {c.column.name: at[c.at].heading for c in choices if c.column.name not in ("happened", "site_key")}
    return next((by_name[w] for w in wanted if w in by_name), at[choices[0].at].heading)


def _clock(p: Proposal, columns: Sequence[Seen], found: Mapping[str, int]) -> None:
    """A time of day in a column of its own is joined to the day, and so are times that stand without one."""
    clocks = {c.heading for c in columns if c.clocked > 0.8}
    for n, part in enumerate(p.parts()):
        mapped, path = part["columns"], (("part", str(n)) if "part" in p.tree else ())
        day = mapped.get("happened")
        whole = [day] if isinstance(day, str) else list(day or [])
        alone = [c for c, h in mapped.items() if isinstance(h, str) and h in clocks and c != "happened"]
        if whole and not (set(whole) & clocks):
            for column in alone:
                mapped[column] = [*whole, mapped[column]]
            used = {h for v in mapped.values() for h in ([v] if isinstance(v, str) else v)}
            free = [h for h in clocks if h not in used]
            if not alone and ("clock" in found or len(free) == 1):
                clock = columns[found["clock"]].heading if "clock" in found else free[0]
                if clock not in {h for v in mapped.values() for h in ([v] if isinstance(v, str) else v)}:
                    mapped["happened"] = [*whole, clock]
                    p.notes[(*path, "columns", "happened")] = (
                        p.notes.get((*path, "columns", "happened"), "") + f"; the time stands under “{clock}”"
                    )
