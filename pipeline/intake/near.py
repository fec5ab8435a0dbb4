"""Whether a name is nearly one that is known: a slip of the pen would otherwise be a species of its own, with zeros of the right one."""

import re
from collections.abc import Mapping, Sequence

SHORTEST, LONGEST = 6, 80  # letters: shorter words are too easily like another, longer texts are no name


def near_to(word: str, known: Mapping[str, Sequence[str]]) -> list[str]:
    """The names that a folded word nearly is. known: folded word -> names that it means.

    Genus and epithet are compared each by its own length; other names as a whole.
    """
    if not SHORTEST <= len(word) <= LONGEST or re.search(r"\d", word):
        return []
    pieces, found = word.split(), dict[str, None]()
    for other, names in known.items():
        theirs = other.split()
        if len(pieces) == len(theirs) == 2:
            near = _near(pieces[0], theirs[0], 5) and _near(pieces[1], theirs[1], 4)
        else:
            near = len(other) >= SHORTEST and _near(word, other, 6)
        if near:
            found.update(dict.fromkeys(names))
    return list(found)


def _near(word: str, other: str, share: int) -> bool:
    """Whether at most one letter in `share` of the other is missing, too much, wrong or in the wrong place."""
    from rapidfuzz.distance import OSA

    most = max(1, len(other) // share)
    return bool(OSA.distance(word, other, score_cutoff=most) <= most)
