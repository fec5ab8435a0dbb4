"""The command that proposes a mapping, and at a terminal asks what it must."""

import argparse
import re
import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline import disk
from pipeline.commands.common import FINE, Adder, told, width
from pipeline.errors import BadUsage
from pipeline.plural import n_of
from pipeline.programme import open_programme

if TYPE_CHECKING:  # loaded only when a mapping is asked for
    from pipeline.suggest.proposal import Proposal
    from pipeline.suggest.write import Question
    from pipeline.suggesting import Shown, Suggestion

LEFT_OPEN = "?"


def add(command: Adder) -> None:
    """Register it."""
    c = command(
        "suggest",
        _suggest,
        "Propose a mapping for a file of unknown shape. At a terminal its questions are asked; else they are written as "
        "comments. Nothing is taken in by it before it is confirmed.",
    )
    c.add_argument("file", type=Path, help="the file, in an inbox or anywhere else")
    c.add_argument("--partner", required=True, metavar="NAME", help="whose file it is")
    c.add_argument(
        "--out", type=Path, default=None, metavar="TOML", help="where to write instead of partners/NAME.toml"
    )


def _suggest(args: argparse.Namespace) -> int:
    from pipeline.outputs.suggested import first_rows
    from pipeline.suggesting import Shown, shown, suggest, was_taken

    programme = open_programme(args.programme)
    path, beside = _where(args)
    taken = was_taken(args.programme, args.file, args.partner)
    made = suggest(args.programme, args.file)
    asking = not args.json and sys.stdin.isatty() and sys.stdout.isatty()
    goes_on = asking
    for proposal in made.sheets if asking else []:
        print(_columns(made, proposal, asks=False))
        goes_on = goes_on and _ask_all(proposal)
    text = made.toml(args.partner, beside)
    try:
        read = shown(args.file, args.partner, text, programme.rules)
    except BadUsage as why:  # what was answered is worth more than its preview
        read, goes_on = Shown(0, 0, [], []), False
        made.said.append(f"As it is it cannot be read: {why}")
    sentences = first_rows(read.parts, read.held, read.first, read.faults, width(), read.contrary)
    if asking:
        print(sentences)
        if goes_on and _confirmed(made):
            for proposal in made.sheets:
                del proposal.tree["confirmed"]
            text = made.toml(args.partner, beside)
    disk.write_new(path, text.encode())
    if asking:
        print(_wrote(path, made, args.partner, taken))
        return FINE
    answer = "\n".join([*(_columns(made, p) for p in made.sheets), sentences, _wrote(path, made, args.partner, taken)])
    told(args, _plain(path, made, read), answer)
    return FINE


def _columns(made: "Suggestion", p: "Proposal", asks: bool = True) -> str:
    from pipeline.outputs.suggested import columns_told

    where = f"{made.file}, sheet “{p.sheet_name}”" if p.sheet_name else made.file
    why = {
        (part["kind"], path[-1]): note
        for path, note in p.notes.items()
        for part in p.parts()
        if path[-2:-1] == ("columns",)
    }
    return columns_told(where, p.kinds, p.fed, why, p.left, [q.ask for q in p.questions] if asks else [], width())


def _where(args: argparse.Namespace) -> tuple[Path, bool]:
    """Where the mapping is written, and whether the partner has one already. Nothing is ever written over."""
    if not re.fullmatch(r"[^\W_][\w .-]*", args.partner):
        raise BadUsage(f"{args.partner!r} cannot be a partner's name: it is the name of its inbox and its TOML.")
    partners = open_programme(args.programme).places.partners
    own = partners / f"{args.partner}.toml"
    path = args.out or (partners / f"{args.partner}.suggested.toml.txt" if own.exists() else own)
    if path.exists():
        raise BadUsage(f"{path} is there already. Name another file with --out, or take it away.")
    if not path.parent.is_dir():
        raise BadUsage(f"{path.parent} is no folder. Make it, or name another file with --out.")
    return path, own.exists()


def _plain(path: Path, made: "Suggestion", read: "Shown") -> dict[str, Any]:
    from pipeline.suggesting import language_in

    sheets = [
        {
            "sheet": p.sheet_name, "header_row": p.header_row, "language": language_in([p]), "mapping": p.tree, "left": p.left,
            "columns": {h: [f"{kind}.{column}" for kind, column in fed] for h, fed in p.fed.items()},
            "questions": [asdict(q) for q in p.questions],
        }
        for p in made.sheets
    ]  # fmt: skip
    return {"written": path, "sheets": sheets, "said": made.said, "would_read": asdict(read)}


def _wrote(path: Path, made: "Suggestion", partner: str, taken: bool) -> str:
    asks = sum(len(p.questions) for p in made.sheets)
    open_still = any("confirmed" in p.tree for p in made.sheets)
    said = "".join(f"{s}\n" for s in made.said)
    # what was taken in without a mapping is read again; what lies nowhere yet, or in an inbox since the last night, is taken
    take = f"run `wrackline take` once the file lies in inbox/{partner}"
    then = f"run `wrackline retake --partner {partner}`" if taken else take
    if not open_still:
        return f"{said}Wrote {path}, confirmed. To have the file in, {then}.\n"
    asked = f" with {n_of(asks, 'question')}, marked ASK" if asks else ""
    return (
        f"{said}Wrote {path}{asked}. Nothing is taken in by it yet: look through it, answer what is asked, delete "
        f"`confirmed = false`, then {then}.\n"
    )


# --- at a terminal ------------------------------------------------------------------------------------------


def _ask_all(proposal: "Proposal") -> bool:
    """Ask what is to be asked, also what only an answer brings up. False when the input has ended: the rest stays open."""
    many, left_open, n = len(proposal.questions), set[tuple[str, ...]](), 0
    if many:
        print(f"{n_of(many, 'question')}. Enter takes what stands in [brackets]; {LEFT_OPEN} leaves a question open.\n")
    while question := next((q for q in proposal.questions if q.path not in left_open), None):
        n += 1
        print(f"{n}. {question.ask}")
        for line in _help(question, proposal):
            print(f"   {line}")
        if not _answered(question, proposal):
            print("\nThe input has ended, so what was not answered stays open.\n")
            return False
        if question in proposal.questions:
            left_open.add(question.path)
    return True


def _help(question: "Question", proposal: "Proposal") -> list[str]:
    """What may be answered, a line for each way."""
    path, table = question.path, question.path[-2:-1]
    lines = [" / ".join(question.choices)] if question.choices else []
    if table == ("columns",):
        several = "; several with commas between are joined, such as Year, Month, Day"
        lines += [f"the heading that is meant{several}", "or: none, or what it is instead, as column = heading"]
    elif table == ("fixed",):
        lines.append(f"or the heading of a column that tells it: {path[-1]} = heading")
    elif path == ("left",):
        lines.append("several headings of one column are joined: happened = Year, Month, Day")
        cells = dict.fromkeys(c for part in proposal.parts() for c in _cells(part))
        lines += [f"{c} = heading makes that column one more of the wide columns" for c in cells]
        lines.append("or: none")
    if table == ("units",) or path[-3:-2] == ("codes",):
        lines.append("or: none, and it stays as it is written")
    return lines


def _cells(part: dict[str, Any]) -> set[str]:
    from pipeline.suggest.feeding import wide_columns

    return wide_columns(part)[1]


def _answered(question: "Question", proposal: "Proposal") -> bool:
    """Ask until an answer can be taken or the question is left open; why one cannot be taken is told. False: no more input."""
    from pipeline.suggesting import answered

    while True:
        try:
            answer = input(f"   [{question.offered or LEFT_OPEN}] ").strip() or question.offered or LEFT_OPEN
        except EOFError:
            return False
        if answer == LEFT_OPEN:
            return True
        try:
            answered(proposal, question.path, answer)
            return True
        except BadUsage as why:
            print(f"   {why}")


def _confirmed(made: "Suggestion") -> bool:
    if any(p.questions for p in made.sheets):
        print("Questions are open, so it is not confirmed.\n")
        return False
    try:
        return input("Is this right, so that files may be taken in by it? (yes / no) [no] ").strip().casefold() == "yes"
    except EOFError:
        return False
