"""The tables of one part of a suggested mapping: columns, units, words, what holds for the whole file, wide columns."""

import re
from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.intake.mapping import derived
from pipeline.intake.ways import OPEN
from pipeline.suggest.cells import just_degrees
from pipeline.suggest.choose import Candidate, Choice
from pipeline.suggest.fit import Registered
from pipeline.suggest.lexicon import Lexicon
from pipeline.suggest.position import position_table
from pipeline.suggest.proposal import Proposal
from pipeline.suggest.seen import Seen
from pipeline.suggest.shapes import WideSeen
from pipeline.suggest.text import plain
from pipeline.suggest.write import Path, Question
from schemas.kinds import Column, Kind

OF_A_SPECIES = {
    "count",
    "cover_pct",
    "length_cm",
}  # beside a column for each species, one without a species is of bare rock or a sum
HOURS = {"hours", "hour", "hrs", "timer", "horas", "heures"}


def add_part(
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
        table["only_if"] = _key_heading(kind, choices, at, p)
    mapped: dict[str, Any] = {}
    units: dict[str, str] = {}
    codes: dict[str, dict[str, str]] = {k: dict(v) for k, v in (wide.codes if wide else {}).items() if v}
    if day:
        mapped["happened"] = [columns[day[piece]].heading for piece in ("year", "month", "day_of_month")]
        p.notes[(*path, "columns", "happened")] = "year, month and day, each in a column of its own"
    order = {c.name: i for i, c in enumerate(kind.columns)}
    for choice in sorted(choices, key=lambda c: order[c.column.name]):
        seen, ours = at[choice.at], choice.column
        if ours.name in mapped or (wide and (ours.name in wide.columns or ours.name in OF_A_SPECIES)):
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
    _fixed(p, path, table, kind, {*mapped, *(wide.columns if wide else ())}, registered, wide)
    position_table(p, path, table, columns)
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
    if seen.unit and seen.unit != ours.unit and not just_degrees(seen.unit, ours.unit):
        units[ours.name] = seen.unit
        p.notes[(*path, "units", ours.name)] = f"the heading says so: “{seen.heading}”"
        return
    if ours.unit == "min" and any(w in HOURS or w.endswith("timer") for w in seen.words.split()):
        units[ours.name] = "h"
        p.notes[(*path, "units", ours.name)] = f"the heading says hours: “{seen.heading}”"
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
        if plain(cell) in known and not (
            ours.allowed and re.fullmatch(r"\W*\d+\W*", cell)
        ):  # what a number stands for is theirs to say
            if known[plain(cell)] != cell:
                told[cell] = known[plain(cell)]
        elif ours.allowed or ours.type == "yesno":
            unknown.append(cell)
    if told:
        codes[ours.name] = {**codes.get(ours.name, {}), **told}
    for cell in unknown[:8]:
        choices = ours.allowed or ("yes", "no")
        ask, guess = f"What does “{cell}” under “{seen.heading}” mean?", words.ours(ours.name, cell)
        p.questions.append(Question((*path, "codes", ours.name, cell), ask, guess, choices))


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
    if kind.name == "survey" and "stage" not in got and got & {"count", "cover_pct"}:
        ask = "No column tells the stage of what was counted: without it nothing can be said of recruits or of grown plants. Which holds for the whole file?"
        p.questions.append(Question((*path, "fixed", "stage"), ask, "", kind.column("stage").allowed))
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
    _shares(p, path, table, wide, here)
    if wide.by_codes:
        ask = (
            f"{len(here)} columns hold numbers under short words, such as “{here[0].heading}” and “{here[-1].heading}”. If they are codes of "
            "species, write under [sheet.codes.species] which each is; what is none goes into `but_not`. Are they species?"
        )
        p.questions.append(Question((*path, "wide", "heading"), ask, "species", ("species",)))
    if wide.per_area:
        ask = f"“{here[0].heading}” names an area. Do the cells say how many were counted in the frame, or how many per m2? The latter are no counts: take these columns out."
        p.questions.append(Question((*path, "wide", "cell"), ask, wide.cell, ("count",)))
    elif wide.asks_cell:
        p.questions.append(
            Question(
                (*path, "wide", "cell"),
                "Do the cells count plants, or say how much of the frame is covered?",
                wide.cell,
                ("count", "cover_pct"),
            )
        )
    silent = list(dict.fromkeys(w for c in here for w in c.blank_words))
    if blank and silent:  # two ways to say nothing: only one of them may mean zero
        shape["not_counted"] = silent
        p.notes[(*path, "wide", "not_counted")] = "cells of the wide columns that hold these words were not looked for"
    if blank:
        shape["blank"] = "not written"
        beside = (
            f"beside {zeros} {'zero that is' if zeros == 1 else 'zeros that are'} written"
            if zeros
            else "and no zero is written"
        )
        p.questions.append(Question(
            (*path, "wide", "blank"), f"{blank} {'cell' if blank == 1 else 'cells'} of the wide columns {'is' if blank == 1 else 'are'} blank, {beside}. "
            + (f"{' and '.join(f'“{w}”' for w in silent)} {'is' if len(silent) == 1 else 'are'} taken for “not looked for”. " if silent else "")
            + "What does a blank cell mean?",
            "not written", ("not written", "zero", "zero beside others", "not counted"),
        ))  # fmt: skip


def _shares(p: Proposal, path: Path, table: dict[str, Any], wide: WideSeen, here: Sequence[Seen]) -> None:
    """Cover written as a share of 1 (0.02, 0.75) is asked about: some write both ways on one sheet."""
    numbers = sorted({n for c in here for n in c.numbers})
    parts = [n for n in numbers if 0 < n < 1]
    if wide.cell != "cover_pct" or not parts:
        return
    unit = "share" if numbers[-1] <= 1 else "%"
    table.setdefault("units", {})["cover_pct"] = unit
    ask = f"Cover goes from {numbers[0]:g} to {numbers[-1]:g}, with {len(parts)} values between 0 and 1: shares of 1, or percent?"
    p.questions.append(Question((*path, "units", "cover_pct"), ask, unit, ("share", "%")))


def _key_heading(kind: Kind, choices: Sequence[Choice], at: Sequence[Seen], p: Proposal) -> str:
    """The column whose cells say that a row tells of this kind: that of its own key, else the first required one."""
    before = {h for part in p.parts() for h in part.get("columns", {}).values() if isinstance(h, str)}
    own = [k for k in reversed(kind.key) if k not in ("visit_key", "site_key", "happened", "plot_key")]
    wanted = [*own, *(c.name for c in kind.columns if c.required), *(c.column.name for c in choices)]
    by_name = {c.column.name: at[c.at].heading for c in choices if c.column.name not in ("happened", "site_key")}
    found = [by_name[w] for w in wanted if w in by_name] or [at[choices[0].at].heading]
    return next((h for h in found if h not in before), found[0])
