"""Names of species however they are written -> the accepted one, by a packaged list that the programme extends.

A name that the list does not know stays as it is written: it may be right, and its owner knows better than we do. What
fits several species is `Unread`. “cf.”, “aff.”, “sp.” and “?” are kept, since they say how sure the finder was.
"""

import re
import tomllib
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache, cached_property
from importlib.resources import files
from typing import Any

from pipeline.intake.angles import LONGEST, Unread
from pipeline.programme import ListedSpecies

LANGUAGES = ("en", "es", "pt", "fr", "nb")
_LETTERS = str.maketrans({"ø": "o", "æ": "ae", "œ": "oe", "ß": "ss", "’": "", "'": ""})
_QUALIFIER = {"cf": "cf.", "aff": "aff."}
_RANKS = {"sp": "sp.", "spp": "spp.", "species": "sp."}
_BELOW = re.compile(r"\b(var|subsp|ssp|f|forma|form|subf|morph)\b", re.IGNORECASE)
_SCIENTIFIC = re.compile(
    r"(?:(?P<before>cf|aff)\.?\s+)?(?P<genus>[^\W\d_]{3,}|[^\W\d_]{1,3}\.|[^\W\d_])\s*(?:(?<=[.\s])(?P<within>cf|aff)\b\.?)?"
    r"\s*(?<=[.\s])(?P<epithet>[^\W\d_]+(?:-[^\W\d_]+)?)\.?\s*(?P<doubt>\(\?\)|\?)?\s*(?P<author>.*)",
    re.IGNORECASE,
)
_JOINTS = {"ex", "et", "in", "and", "de", "von", "van", "la", "le", "al"}


def _is_author(text: str) -> bool:
    """Whether what stands behind a name is who gave it, and not a stage, a state or a second species."""
    words, authors = re.findall(r"[^\W\d_]+\.?", text), _list()["authors"]
    names = [w for w in words if w.casefold() not in _JOINTS]
    known = any(w.casefold().rstrip(".") in authors or re.fullmatch(r"[^\W\d_]\.", w) for w in names)
    return (
        bool(names) and all(w[0].isupper() for w in names) and (known or re.search(r"\b1[789]\d\d\b", text) is not None)
    )


def folded(text: str) -> str:
    """A name as it is compared: without accents, case, hyphens, odd spaces."""
    low = text.casefold().translate(_LETTERS)
    bare = "".join(c for c in unicodedata.normalize("NFKD", low) if not unicodedata.combining(c))
    return " ".join(re.split(r"[\s_\-]+", bare.strip()))


def _spaced(text: str) -> str:
    return " ".join(re.split(r"[\s_]+", text.strip()))


@dataclass(frozen=True)
class Names:
    """The list: ours, then the programme's own species and aliases. must_be_known: whether a name outside it is held."""

    own: tuple[ListedSpecies, ...] = ()
    must_be_known: bool = False

    @cached_property
    def accepted(self) -> dict[str, int]:
        """Accepted name -> AphiaID, 0 where none was verified."""
        known = {name: int(told["aphia_id"]) for name, told in _packaged().items()}
        return known | {s.name: s.aphia_id or known.get(s.name, 0) for s in self.own}

    @cached_property
    def scientific(self) -> dict[str, str]:
        """Folded scientific name -> the accepted one. What the programme lists as accepted is no synonym to it."""
        pairs = [(old, name) for name, told in _packaged().items() for old in told.get("synonyms", ())]
        return {folded(old): new for old, new in (*pairs, *((n, n) for n in self.accepted))}

    @cached_property
    def everyday(self) -> dict[str, dict[str, set[str]]]:
        """Folded everyday name -> language -> accepted names; the programme's own words are of every language."""
        found: dict[str, dict[str, set[str]]] = {}
        for name, told in _packaged().items():
            for language in LANGUAGES:
                for word in told.get(language, ()):
                    found.setdefault(folded(word), {}).setdefault(language, set()).add(name)
        said: dict[str, dict[str, set[str]]] = {}
        for s in self.own:
            for alias in s.aliases:
                said.setdefault(folded(alias), {}).setdefault("", set()).add(s.name)
        return found | said

    @cached_property
    def _genera(self) -> dict[str, str]:
        return {folded(n.split()[0]): n.split()[0] for n in self.accepted}

    def read(self, text: str, language: str = "en") -> "str | Unread":
        """The accepted name; the text itself where the list does not know it; Unread where it fits several."""
        short = len(text) <= LONGEST
        told = self._everyday(folded(text), language) if short else None
        made = told or (self._scientific(_spaced(text)) if short else None)
        if made is not None:
            return made
        return self._unknown(text) if self.must_be_known else text

    def _everyday(self, low: str, language: str) -> "str | Unread | None":
        by_language = self.everyday.get(low)
        if by_language is None:
            return None
        here = {"no": "nb", "nn": "nb"}.get(language.casefold()[:2], language.casefold()[:2])
        return _only(by_language.get("") or by_language.get(here) or set().union(*by_language.values()))

    def _scientific(self, text: str) -> "str | Unread | None":
        whole = self.scientific.get(folded(text))
        if whole:
            return whole
        genera, found = self._genera, _SCIENTIFIC.fullmatch(text)
        if found is None or _BELOW.search(found["author"]):
            return genera.get(folded(text))
        genus, epithet = folded(found["genus"].rstrip(".")), folded(found["epithet"])
        if found["author"] and not _is_author(found["author"]):
            return None
        if epithet in _RANKS:
            return f"{genera[genus]} {_RANKS[epithet]}" if genus in genera and not found["author"] else None
        short = len(genus) < 3 or found["genus"].endswith(".")
        fits: set[str] = {
            name for old, name in self.scientific.items()
            if old.split()[1:] == [epithet] and (old.startswith(genus) if short else old.split()[0] == genus)
        }  # fmt: skip
        name = _only(fits) if fits else None
        if not isinstance(name, str):
            return name
        if found["before"]:
            return f"{_QUALIFIER[found['before'].casefold()]} {name}"
        within = _QUALIFIER.get((found["within"] or "").casefold()) or ("cf." if found["doubt"] else "")
        return " ".join([name.split()[0], within, *name.split()[1:]]) if within else name

    def _unknown(self, text: str) -> Unread:
        from rapidfuzz import fuzz, process

        spelled = {**{folded(n): n for n in self.accepted}, **self.scientific}
        spelled |= {
            w: next(iter(names)) for w, by in self.everyday.items() if len(names := set().union(*by.values())) == 1
        }
        near = process.extract(folded(text[:LONGEST]), spelled.keys(), scorer=fuzz.ratio, limit=5, score_cutoff=70)
        suggested = list(dict.fromkeys(spelled[word] for word, *_ in near))[:3]
        meant = f"Did you mean {' or '.join(suggested)}? " if suggested else ""
        return Unread(
            "a species that the programme's list knows",
            f"{meant}Write that name, or ask the programme to list this species.",
        )


def _only(names: Iterable[str]) -> "str | Unread":
    found = sorted(names)
    if len(found) == 1:
        return str(found[0])
    return Unread("the name of one species", f"This may be {', '.join(found[:-1])} or {found[-1]}: write which.")


@cache
def _list() -> dict[str, Any]:
    """The list that comes with the package."""
    return tomllib.loads((files("pipeline.intake") / "species.toml").read_text(encoding="utf-8"))


def _packaged() -> Mapping[str, dict[str, Any]]:
    """Its species."""
    return {name: told for name, told in _list().items() if isinstance(told, dict)}
