"""What a cell of counts says: a counted zero, not counted, there but not counted, a number, about one, or a bound.

The words are English, Spanish, Portuguese, French and Norwegian; a mapping leads any other to one of these by `codes`.
A bound is kept as it was written and never becomes a count: at most 5 stays at most 5. Only of zero more is known of whole
plants: more than 0 is at least 1, and what is less than 0, or at least 0, says nothing. A number with an exponent (1e2, 1E+02)
is none: a spreadsheet shows 1E+02 for 104 as for 100.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass

from pipeline.intake.months import bare


def bare_words(text: str) -> str:
    """A cell without case and accents; the dots of numbers stay, those behind words go."""
    low = ".".join(bare(piece) for piece in text.replace("…", "..").split("."))
    return re.sub(r"\s+", " ", re.sub(r"(?<=[^\d.\s])\.(?=\s|$|\d)", " ", low)).strip()


def _words(listed: str) -> frozenset[str]:
    return frozenset(bare_words(w) for w in re.split(r"[|\n]", listed))


# not “empty”: of a frame it is a zero, of a cell it is none, and a wrong zero makes a density too low
ZERO = _words(
    """0|none|none seen|none found|none observed|none present|nil|zero|absent|not seen|not found|no plants|nothing
    ninguno|ninguna|ningún|ninguno visto|ninguna vista|nada|cero|ausente|no visto|no vistos|no encontrado|no se vio|no se vieron
    nenhum|nenhuma|nenhum visto|nenhuma vista|ausentes|não visto|não vistos|não encontrado
    aucun|aucune|aucun vu|aucune vue|néant|non vu|non vus|rien|pas vu|absente|zéro
    ingen|ingen sett|ingen funnet|ikke sett|ikke funnet|null|fraværende"""
)
NOT_COUNTED = _words(  # and not “#N/A”: a formula that went wrong may have counted something
    """-|–|—|−|--|---|n/a|na|n.a.|n. a.|nd|n.d.|n/d|nc|n.c.|n/c|nr|n/r|not counted|not recorded|not done|not surveyed
    not searched|no data|not applicable|not measured|not noted|not available|not rec|unknown|?|nm|tbc|tbd|nan
    no contado|no contada|no contados|sin datos|sin dato|no registrado|no medido|s/d|s/i
    no se midió|no se contó|sin registro|no aplica|no hay dato|no tomado|no anotado|desconocido
    não contado|não contada|não contados|sem dados|sem dado|não registado|não registrado|não medido
    não se mediu|não se contou|sem registo|não se aplica|não disponível|não anotado|desconhecido
    non compté|non comptée|non comptés|pas compté|sans données|non relevé|non mesuré|pas mesuré
    pas de données|pas de donnée|non renseigné|non noté|sans objet|s.o.|n.r.|non disponible|inconnu
    ikke talt|ikke telt|ikke registrert|ikke målt|ingen data|uten data|mangler|mangler data
    ukjent|i.m.|im|i.r.|i/a|ikke aktuelt|ikke notert|ikke tatt|ikke avlest"""
)
PRESENT = _words(  # and not “many” or “few”, which ask for a number
    """present|p|x|xx|xxx|+|++|+++|yes|seen|✓|✔
    presente|presentes|sí|visto|vistos|vista|vistas
    sim|presente|presentes
    présent|présente|présents|présentes|oui|vu|vue|vus|vues
    til stede|tilstede|ja|sett"""
)
_ABOUT = "c|ca|circa|approx|approximately|about|around|roughly|est|estimated|cerca de|aprox|aproximadamente|unos|unas|alrededor de|mas o menos|mais ou menos|uns|umas|por volta de|environ|env|vers|a peu pres|omtrent|cirka|rundt|om lag|omlag|ungefaer|ungefar"
_LEAST = "at least|more than|over|min|minimum|al menos|mas de|por lo menos|como minimo|minimo|pelo menos|mais de|no minimo|au moins|plus de|minst|over|mer enn|flere enn"
_MOST = "at most|less than|fewer than|under|up to|max|maximum|como mucho|menos de|como maximo|maximo|hasta|no maximo|ate|au plus|moins de|jusqu'a|hoyst|mindre enn|faerre enn|opptil|inntil"
_TO = "-|–|—|−|to|ate|hasta|til|and|et|og|\\.\\.|\\.\\.\\."
_LETTER = r"(?<=\s)[aey](?=\s)"  # a, à, e, y: only between blanks, since 1e2 is a hundred to machines

_N = r"(\d[\d.,'\u00a0\u202f ]*)"
_SAYS = (
    ("about", re.compile(rf"(?:[~≈∼±]|(?:{_ABOUT})(?![a-z]))\s*{_N}")),
    ("about", re.compile(rf"{_N}\s*(?:~|±|\?|(?:{_ABOUT})(?![a-z]))")),
    ("at least", re.compile(rf"(?:>|≥|>=|=>|(?:{_LEAST})(?![a-z]))\s*{_N}")),
    ("at least", re.compile(rf"{_N}\s*(?:\+|or more|and more|o mas|ou mais|ou plus|eller flere|eller mer)")),
    ("at most", re.compile(rf"(?:<|≤|<=|=<|(?:{_MOST})(?![a-z]))\s*{_N}")),
    ("at most", re.compile(rf"{_N}\s*(?:or less|or fewer|o menos|ou menos|ou moins|eller faerre|eller mindre)")),
)
# than zero; “over” and “under” are meant so too
_MORE_THAN = re.compile(r">(?!=)|more than|over|mas de|mais de|plus de|mer enn|flere enn")
_LESS_THAN = re.compile(r"<(?!=)|less than|fewer than|under|menos de|moins de|mindre enn|faerre enn")
_BETWEEN = re.compile(rf"(?:between|entre|mellom|de|from|fra)?\s*{_N}\s*(?:{_TO}|{_LETTER})\s*{_N}")


@dataclass(frozen=True)
class Count:
    """What a cell says. count: None where none was made; most: the greater of two numbers; word: a count_qualifier, "" if exact."""

    count: int | None
    word: str = ""
    most: int | None = None


def count_said(text: str, whole: Callable[[str], int | None]) -> Count | None:
    """What a cell says of a count, None if nobody can tell. whole: reads a number as the partner writes it."""
    if any(c.isdigit() and not c.isascii() for c in text):
        return None
    said = bare_words(text)
    if said in ZERO:
        return Count(0)
    if said in NOT_COUNTED:
        return Count(None)
    if said in PRESENT:
        return Count(None, "present")
    for word, pattern in _SAYS:
        if found := pattern.fullmatch(said):
            number = whole(found[1].strip())
            if number == 0 and word == "at least":
                return Count(1, word) if _MORE_THAN.match(said) else None
            if number == 0 and _LESS_THAN.match(said):
                return None
            return None if number is None or number < 0 else Count(number, word)
    if found := _BETWEEN.fullmatch(said):
        low, high = whole(found[1].strip()), whole(found[2].strip())
        return Count(low, "between", high) if low is not None and high is not None and 0 <= low < high else None
    return None
