"""Names of months and weekdays in many languages, from the Unicode CLDR through babel.

A word that is a month's name in one language and another month's in the next is told by neither: better a question.
"""

import unicodedata
from functools import cache

LANGUAGES = (
    "en", "es", "pt", "fr", "nb", "nn", "de", "nl", "da", "sv", "it", "is", "fi", "ca", "gl", "eu", "ga", "cy", "et",
    "lv", "lt", "pl", "el", "tr", "ru", "id",
)  # fmt: skip
ALSO = {"maerz": 3, "sept": 9, "setem": 9, "sett": 9, "agto": 8, "marts": 3}  # written, but not in the CLDR


def bare(text: str) -> str:
    """A text without case, accents and dots: “Févr.” is “fevr”."""
    apart = unicodedata.normalize("NFKD", text.casefold().replace("ß", "ss").replace("ø", "o").replace("æ", "ae"))
    return "".join(c for c in apart if not unicodedata.combining(c)).replace(".", "")


@cache
def months() -> dict[str, int]:
    """Word -> month, 1 to 12."""
    found: dict[str, set[int]] = {}
    for word, number in _names("months"):
        found.setdefault(word, set()).add(number)
    sure = {w: next(iter(numbers)) for w, numbers in found.items() if len(numbers) == 1}
    return {**sure, **ALSO}


@cache
def weekdays() -> frozenset[str]:
    """Every word for a day of the week; some (“mar”) are a month's too."""
    words = {w for w, _ in _names("days")}
    return frozenset(words | {piece for w in words for piece in w.split("-")} - {""})


def _names(what: str) -> list[tuple[str, int]]:
    from babel import Locale

    found = []
    for language in LANGUAGES:
        table = getattr(Locale(language), what)
        for context in ("format", "stand-alone"):
            for width in ("wide", "abbreviated"):
                found += [(bare(name), number) for number, name in table.get(context, {}).get(width, {}).items()]
    return [(name, number) for name, number in found if len(name) > 1 and not name[0].isdigit()]
