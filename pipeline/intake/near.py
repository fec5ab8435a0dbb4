"""Whether a name is nearly one that is known: a slip of the pen would otherwise be a species of its own, with zeros of the right one,
or a site that nobody knows."""

import re
import unicodedata
from collections.abc import Mapping, Sequence

SHORTEST, LONGEST = 6, 80  # letters: shorter words are too easily like another, longer texts are no name
SHORTEST_KEY = 3  # of two words the longer one: shorter ones are all one letter apart


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


def names_of(known: Mapping[str, Sequence[str]]) -> dict[str, list[str]]:
    """What `meant` looks through. known: key -> what its thing is called besides."""
    names: dict[str, list[str]] = {}
    for key, called in known.items():
        for name in (key, *called):
            names.setdefault(_bare(name), []).append(key)
    return names


def meant(word: str, names: Mapping[str, Sequence[str]]) -> str:
    """The key that a word is nearly, "" where it is none or several. names: as `names_of` gives them.

    Looked for in this order: a key or name alike but for case, accents, blanks and signs; a long name that is nearly the same; a key
    or name in which one letter is missing, too much, wrong or in the wrong place. Digits are never taken for a slip: CB-1 is not CB-2.
    """
    from rapidfuzz import process
    from rapidfuzz.distance import OSA

    alike = _bare(word)
    near = [name for name, *_ in process.extract(alike, names.keys(), scorer=OSA.distance, score_cutoff=1, limit=None)]
    off = [key for name in near if _one_off(alike, name) for key in names[name]]
    for found in (names.get(alike, []), near_to(alike, names), off):
        if several := set(found):
            return several.pop() if len(several) == 1 else ""
    return ""


def _bare(text: str) -> str:
    """Letters and digits alone, as they are compared."""
    low = text.casefold().replace("ø", "o").replace("æ", "ae").replace("œ", "oe")
    return "".join(c for c in unicodedata.normalize("NFKD", low) if c.isalnum())


def _one_off(word: str, name: str) -> bool:
    """Whether two words one letter apart may be the same."""
    same_digits = re.sub(r"\D", "", word) == re.sub(r"\D", "", name)
    return same_digits and max(len(word), len(name)) >= SHORTEST_KEY


def _near(word: str, other: str, share: int) -> bool:
    """Whether at most one letter in `share` of the other is missing, too much, wrong or in the wrong place."""
    from rapidfuzz.distance import OSA

    most = max(1, len(other) // share)
    return bool(OSA.distance(word, other, score_cutoff=most) <= most)
