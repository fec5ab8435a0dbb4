"""Texts as they are compared: without case, accents and punctuation; a heading apart from the unit written into it."""

import re
import unicodedata
from functools import cache

_LETTERS = str.maketrans(
    {"ø": "o", "Ø": "o", "æ": "ae", "Æ": "ae", "ß": "ss", "º": "o", "ª": "a", "№": "no", "œ": "oe"}
)
# small words that carry no meaning of their own
SMALL = frozenset(
    [
        "a",
        "o",
        "as",
        "os",
        "um",
        "uma",
        "the",
        "of",
        "de",
        "da",
        "do",
        "das",
        "dos",
        "del",
        "della",
        "la",
        "le",
        "les",
        "el",
        "los",
        "du",
        "des",
        "d",
        "l",
        "en",
        "em",
        "in",
        "i",
        "og",
        "och",
        "et",
        "y",
        "e",
        "at",
        "til",
        "på",
        "pa",
        "for",
        "par",
        "por",
        "per",
        "with",
        "av",
    ]
)


_SIMPLE = re.compile(r"[0-9a-z]+(?: [0-9a-z]+)*")
_NUMBER = re.compile(r"\b(?:n|nr|num|numero|number|nbr|no)\b(?= )|(?<= )\b(?:nr|num|numero|number|nbr|no)\b")


@cache
def plain(text: str) -> str:
    """A text as it is compared: “Nº de Indivíduos” is “no de individuos”, “siteCode” is “site code”."""
    words = text if _SIMPLE.fullmatch(text) else _bare(text)
    return _NUMBER.sub("no", words) if "n" in words else words


def _bare(text: str) -> str:
    apart = re.sub(r"\b[tT][°º]", " temp ", text)  # “T° fond” is the temperature at the bottom
    apart = re.sub(r"\b[nN]\. ?[ºo°](?![a-z])", " no ", apart)  # “N.º de pessoas”
    apart = re.sub(r"(?<![^\W\d_])[Øø⌀] ?(?=[^\W\d_]{3})", " diameter ", apart)  # “Ø stipe”, not “Ø”, which is east
    apart = re.sub(r"(?<=[a-zà-ÿ])(?=[A-Z][a-z])", " ", apart).replace("#", " no ").replace("%", " percent ")
    apart = re.sub(r"±|\+\s*/\s*-", " plus minus ", apart).translate(_LETTERS)
    if not apart.isascii():
        apart = "".join(c for c in unicodedata.normalize("NFKD", apart) if not unicodedata.combining(c))
    return re.sub(r"[^0-9a-z]+", " ", apart.casefold()).strip()


def tokens(text: str) -> list[str]:
    """The words of a plain text that mean something."""
    words = text.split()
    return [w for w in words if w not in SMALL] or words


def bracketed(heading: str) -> tuple[str, str]:
    """A heading and what stands in brackets behind it: “Depth (m)” is “Depth” and “m”."""
    found = re.fullmatch(r"\s*(.*?)\s*[(\[{]([^()\[\]{}]*)[)\]}]\s*[.:]?\s*", heading, re.DOTALL)
    return (found[1], found[2].strip()) if found and found[1] else (heading.strip(), "")
