"""Which headings feed a column of ours, said anew: what hung on the old ones (units, words, questions) goes with them."""

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from pipeline.errors import BadUsage
from pipeline.intake.mapping import derived, parse_mapping
from pipeline.intake.match import wide_groups
from pipeline.intake.ways import OPEN
from pipeline.suggest.proposal import Proposal
from pipeline.suggest.write import Path, Question, sheet_toml
from schemas.kinds import Kind

Kinds = Mapping[str, Kind]
TOLD_APART = {"stage", "area_m2"}  # not required of a survey, but worth a question where no column tells it
NAMED = 12  # so many headings are named where one is not known


def prefix(p: Proposal, n: int) -> Path:
    """Where the tables of a part stand in the tree."""
    return ("part", str(n)) if "part" in p.tree else ()


def listed(value: object) -> list[str]:
    """The headings of a column, one or several."""
    return [value] if isinstance(value, str) else list(value) if isinstance(value, Sequence) else []


def headings_in(p: Proposal, text: str) -> list[str]:
    """The headings that a person names, with commas between. BadUsage names one that the sheet does not have."""
    known = {h.casefold(): h for h in reversed(p.header) if h} | {h: h for h in p.header if h}
    found, pieces = list[str](), re.split(r"([,;])", text)
    while pieces:
        # a heading may hold a comma itself: the longest that is one is meant
        for end in range(len(pieces), 0, -1):
            piece = "".join(pieces[:end]).strip()
            heading = known.get(piece) or known.get(piece.casefold())
            if heading:
                break
        else:
            there = p.left or [h for h in p.header if h]
            more = f" and {len(there) - NAMED} more" if len(there) > NAMED else ""
            told = "those that feed nothing yet are" if p.left else "there are"
            named = ", ".join(f"“{h}”" for h in there[:NAMED])
            raise BadUsage(f"No heading is called “{pieces[0].strip()}”; {told} {named}{more}.")
        found.append(heading)
        pieces = pieces[end + 1 :]
    return found


def wide_columns(part: Mapping[str, Any]) -> tuple[set[str], set[str]]:
    """Our columns that the headings of a part's wide columns fill, and those that their cells fill."""
    wide = part.get("wide", {})
    told = set(re.findall(r"\(\?P<(\w+)>", wide.get("pattern", ""))) | {wide.get("heading", "")}
    return told - {"", "cell", "group"}, {*wide.get("cells", {}).values(), wide.get("cell", "")} - {""}


def feed(p: Proposal, n: int, ours: str, headings: Sequence[str], kinds: Kinds) -> None:
    """Let these headings feed a column of a part, and of every other part of its kind that read the same before.

    Where the cells of wide columns fill it, each becomes one more of these.
    """
    part = p.parts()[n]
    told, cells = wide_columns(part)
    if ours in cells:
        for heading in headings:
            _widen(p, n, ours, heading, kinds)
        return
    if ours in told:
        cell = min(cells)
        raise BadUsage(
            f"`{ours}` is told by the headings of the wide columns; {cell} = {headings[0]} makes it one more of them."
        )
    before = part["columns"].get(ours)
    for m in _alike(p, n, ours, before):
        if before != _single(headings):
            _forget(p, m, ours)
        here, table = prefix(p, m), p.parts()[m]
        if table.get("only_if") == before and before:
            table["only_if"] = headings[0]
        table["columns"][ours] = _single(headings)
        _forget_fixed(p, m, ours)
        p.notes[*here, "columns", ours] = "so answered"
        for heading in headings:
            if (table["kind"], ours) not in p.fed.setdefault(heading, []):
                p.fed[heading].append((table["kind"], ours))
    p.left = [h for h in p.left if h not in headings]


def starve(p: Proposal, n: int, ours: str, kinds: Kinds) -> list[str]:
    """Let nothing feed a column any more; where rows must have it, a person is asked what holds for the whole file.

    Gives the headings that feed nothing now.
    """
    before = p.parts()[n]["columns"].get(ours)
    for m in _alike(p, n, ours, before):
        _forget(p, m, ours)
        kind = kinds[p.parts()[m]["kind"]]
        column, here = kind.column(ours), (*prefix(p, m), "fixed", ours)
        needed = column.required and not derived(kind, ours)
        if needed:
            p.parts()[m].setdefault("fixed", {})[ours] = OPEN
        if m == n and (needed or (kind.name == "survey" and ours in TOLD_APART)):
            ask = (
                f"Then no column tells the {column.title.lower()}. {column.description} What holds for the whole file?"
            )
            p.questions.insert(0, Question(here, ask, OPEN if needed else "", column.allowed))
    return [h for h in listed(before) if h in p.left]


def ask_what_else(p: Proposal, loose: Sequence[str]) -> None:
    """A heading that feeds nothing now may feed something else: the question about those that are left over names it too."""
    loose = [h for h in loose if h in p.left]
    if not loose:
        return
    named = " and ".join(f"“{h}”" for h in loose)
    for at, q in enumerate(p.questions):
        if q.path == ("left",):
            p.questions[at] = Question(q.path, f"{q.ask} Nor does {named} feed anything now.", q.offered)
            return
    ask = f"{named} feed{'s' * (len(loose) == 1)} nothing of ours now. Write what else as column = heading, with ; between."
    p.questions.append(Question(("left",), ask, "none"))


def _single(headings: Sequence[str]) -> str | list[str]:
    return headings[0] if len(headings) == 1 else list(headings)


def _alike(p: Proposal, n: int, ours: str, before: object) -> Iterator[int]:
    """The part itself, and those of its kind whose column is fed by the same: they were asked about once."""
    kind = p.parts()[n]["kind"]
    for m, part in enumerate(p.parts()):
        told, cells = wide_columns(part)
        if m == n or (part["kind"] == kind and ours not in told | cells and part["columns"].get(ours) == before):
            yield m


def _forget(p: Proposal, n: int, ours: str) -> None:
    """Take a column's headings out of a part, with the units, words, notes and questions that hang on them."""
    part, here = p.parts()[n], prefix(p, n)
    for heading in listed(part["columns"].pop(ours, None)):
        p.fed[heading] = [f for f in p.fed.get(heading, []) if f != (part["kind"], ours)]
        if not p.fed[heading]:
            del p.fed[heading]
            p.left += [] if heading in p.left else [heading]
    for table in ("units", "codes"):
        part.get(table, {}).pop(ours, None)
        if table in part and not part[table]:
            del part[table]
    gone = tuple((*here, table, ours) for table in ("columns", "units", "codes"))
    p.notes = {path: note for path, note in p.notes.items() if path[: len(here) + 2] not in gone}
    p.questions = [q for q in p.questions if q.path[: len(here) + 2] not in gone]


def _forget_fixed(p: Proposal, n: int, ours: str) -> None:
    part, here = p.parts()[n], (*prefix(p, n), "fixed", ours)
    part.get("fixed", {}).pop(ours, None)
    if "fixed" in part and not part["fixed"]:
        del part["fixed"]
    p.questions = [q for q in p.questions if q.path != here]


# --- one more of the wide columns ---------------------------------------------------------------------------


def _widen(p: Proposal, n: int, ours: str, heading: str, kinds: Kinds) -> None:
    part = p.parts()[n]
    wide = part["wide"]
    if any(heading in listed(h) for other in p.parts() for h in other["columns"].values()):
        raise BadUsage(f"“{heading}” feeds another column of ours already, so it cannot be one of the wide columns.")
    if but_not := [h for h in wide.get("but_not", []) if h != heading]:
        wide["but_not"] = but_not
    else:
        wide.pop("but_not", None)
    if "headings" in wide and heading not in wide["headings"]:
        wide["headings"] = [*wide["headings"], heading]
    if not _is_wide(p, n, ours, heading, kinds) and "pattern" in wide:
        # a pattern that lists the names it knows learns one more
        also = f"(?P<species>{re.escape(heading)}|"
        wide["pattern"] = wide["pattern"].replace("(?P<species>", also, 1)
    if not _is_wide(p, n, ours, heading, kinds):
        raise BadUsage(
            f"“{heading}” is not written like the headings of the wide columns, so it cannot be one of them; a [[sheet.part]] "
            "of its own can read it."
        )
    if (part["kind"], ours) not in p.fed.setdefault(heading, []):
        p.fed[heading].append((part["kind"], ours))
    p.left = [h for h in p.left if h != heading]


def _is_wide(p: Proposal, n: int, ours: str, heading: str, kinds: Kinds) -> bool:
    """Whether the reader of all mappings takes a heading for one of a part's wide columns."""
    sheet = parse_mapping("", sheet_toml(p.tree, {}, []).encode(), kinds).sheets[0]
    wide = sheet.parts[n].wide
    groups = wide_groups(sheet, wide, p.header) if wide else {}
    return any(p.header[at] == heading for g in groups.values() for c, at in g.cells.items() if c == ours)
