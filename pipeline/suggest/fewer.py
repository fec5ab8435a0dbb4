"""Fewer questions: those of one sort are asked as one, so that a person reads ten, not forty."""

from typing import Any

from pipeline.suggest.proposal import Proposal
from pipeline.suggest.write import Path, Question

MOST = 10
KEEP = "all are right"


def fewer(p: Proposal) -> None:
    """Ask a question that several parts share once, and, where there are too many, one for all that is likely."""
    p.questions = list({_what(p, q): q for q in reversed(p.questions)}.values())[::-1]
    likely = [q for q in p.questions if _likely(q)]
    if len(p.questions) > MOST and len(likely) > 1:
        each = "; ".join(f"{q.path[-1]} is “{q.offered}”" for q in likely)
        ask = f"These {len(likely)} are likely, not sure: {each}. Write the headings that are wrong, with ; between."
        p.questions = [q for q in p.questions if not _likely(q)] + [Question(("likely",), ask, KEEP)]


def _what(p: Proposal, q: Question) -> Path:
    """What is asked of a kind, whichever of its parts it is asked of."""
    if q.path[:1] != ("part",):
        return q.path
    return (p.parts()[int(q.path[1])]["kind"], *q.path[2:])


def _likely(q: Question) -> bool:
    return q.path[-2:-1] == ("columns",) and bool(q.offered)


def shared(p: Proposal, path: Path, value: str) -> None:
    """Put an answer that holds for every part of a kind into all of them."""
    if path[:1] != ("part",) or len(path) < 4:
        return
    *tables, key = path[2:]
    asked = p.parts()[int(path[1])]
    for part in p.parts():
        node: Any = part if part is not asked and part["kind"] == asked["kind"] else None
        for table in tables:
            node = node.get(table) if isinstance(node, dict) else None
        if isinstance(node, dict) and (isinstance(node.get(key), str) or tables[0] == "codes"):
            node.update({key: value} if value else {})
            if not value:
                node.pop(key, None)
