"""Names of species however they are written -> the accepted one, by a packaged list that the programme extends.

A name unlike every known one stays as it is written: it may be right, and its owner knows better than we do. What fits
several species, is nearly a known name or has other words behind one is `Unread`: it would count as a species of its own.
“cf.”, “aff.”, “sp.” and “?” are kept, since they say how sure the finder was.
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
from pipeline.intake.near import near_to
from pipeline.programme import ListedSpecies, Rules

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
_ASKED = re.compile(r"\? ?([^?]+)|([^?]+?) ?(?:\(\?\)|\?)")
_TWICE = re.compile(r"(.+?) ?\((.+)\)")
_NUMBERED = re.compile(r"\w{1,2}")  # a kind that nobody named yet: “sp. 1”, “sp. A”
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
    """The list: ours, then the programme's own species and aliases.

    must_be_known  whether every name outside the list is held, not only one that is nearly in it.
    used           the names that the programme's rules use: where that is an old one, events take it over, so that
                   protocols, stages and earlier events keep meeting them.
    """

    own: tuple[ListedSpecies, ...] = ()
    must_be_known: bool = False
    used: tuple[str, ...] = ()

    @cached_property
    def accepted(self) -> dict[str, int]:
        """Accepted name -> AphiaID, 0 where none was verified."""
        known = {name: int(told["aphia_id"]) for name, told in _packaged().items()}
        return (
            known
            | {n: known.get(n, 0) for n in self.used}
            | {s.name: s.aphia_id or known.get(s.name, 0) for s in self.own}
        )

    @cached_property
    def _preferred(self) -> dict[str, str]:
        """Accepted name -> the old one that the programme goes by instead."""
        theirs = {*self.used, *(s.name for s in self.own)}
        return {
            name: old for name, told in _packaged().items() if name not in theirs
            for old in told.get("synonyms", ()) if old in theirs
        }  # fmt: skip

    @cached_property
    def scientific(self) -> dict[str, str]:
        """Folded scientific name -> the accepted one. What the programme lists as accepted is no synonym to it."""
        pairs = [(old, name) for name, told in _packaged().items() for old in told.get("synonyms", ())]
        kept = [(n, n) for n in self.accepted]
        return {folded(old): self._preferred.get(new, new) for old, new in (*pairs, *kept)}

    @cached_property
    def everyday(self) -> dict[str, dict[str, set[str]]]:
        """Folded everyday name -> language -> accepted names; the programme's own words are of every language."""
        found: dict[str, dict[str, set[str]]] = {}
        for name, told in _packaged().items():
            for language in LANGUAGES:
                for word in told.get(language, ()):
                    found.setdefault(folded(word), {}).setdefault(language, set()).add(self._preferred.get(name, name))
        said: dict[str, dict[str, set[str]]] = {}
        for s in self.own:
            for alias in s.aliases:
                said.setdefault(folded(alias), {}).setdefault("", set()).add(s.name)
        return found | said

    @cached_property
    def _genera(self) -> dict[str, str]:
        return {folded(n.split()[0]): n.split()[0] for n in self.accepted}

    @cached_property
    def _words(self) -> dict[str, tuple[str, ...]]:
        """Every folded word of the list -> the names that it may mean, in any language."""
        everyday = {w: tuple(sorted(set[str]().union(*by.values()))) for w, by in self.everyday.items()}
        genera = {folded(g): (g,) for g in self._genera.values()}
        return genera | everyday | {old: (new,) for old, new in self.scientific.items()}

    @cached_property
    def _closed(self) -> dict[str, str]:
        return {word.replace(" ", ""): word for word in self._words}

    def read(self, text: str, language: str = "en") -> "str | Unread":
        """The accepted name; the text itself where the list does not know it; Unread where nobody can tell."""
        short = len(text) <= LONGEST
        made = short and (
            self._known(text, language) or self._told_twice(text, language) or self._doubtful(text, language)
        )
        return made or (self._unknown(text) if self.must_be_known else text)

    def knows(self, text: str, language: str = "en") -> bool:
        """Whether the list has that name, in any way of writing it, for one species or several."""
        return len(text) <= LONGEST and bool(self._known(text, language) or self._told_twice(text, language))

    def _known(self, text: str, language: str) -> "str | Unread | None":
        """As it stands, or else with a question mark at either end, with points for gaps, in the plural, without gaps."""
        low = folded(text)
        if asked := _ASKED.fullmatch(_spaced(text)):
            read = self._known(asked[1] or asked[2], language)
            genus, _, epithet = read.partition(" ") if isinstance(read, str) else ("", "", "")
            return (
                f"{genus} cf. {epithet}" if epithet and epithet.isalpha() else read and f"{read} ?" if genus else read
            )
        return (
            self._everyday(low, language)
            or self._scientific(_spaced(text))
            or self._by_word(folded(text.replace(".", " ")), language)
            or self._by_word(low.removesuffix("s"), language)
            or self._by_word(self._closed.get(low.replace(" ", ""), ""), language)
        )

    def _by_word(self, low: str, language: str) -> "str | Unread | None":
        return self._everyday(low, language) or self.scientific.get(low) or self._genera.get(low)

    def _told_twice(self, text: str, language: str) -> "str | Unread | None":
        """A name and, in brackets, another of the same species."""
        told = _TWICE.fullmatch(_spaced(text))
        if not told or not (inner := self._known(told[2], language)) or not (outer := self._known(told[1], language)):
            return None
        both = sorted(self._meant(told[1], outer) & self._meant(told[2], inner))
        return (
            both[0]
            if len(both) == 1
            else Unread("one species", "These two are not the same species: write which is meant.")
        )

    def _meant(self, text: str, read: "str | Unread") -> set[str]:
        return {read} if isinstance(read, str) else set(self._words.get(folded(text), ()))

    def _doubtful(self, text: str, language: str) -> Unread | None:
        """A slip of the pen, or a known name with other words behind it."""
        words = _spaced(text).split(" ")
        for n in range(len(words) - 1, 0, -1):
            head, behind = " ".join(words[:n]), " ".join(words[n:])
            named = self._known(head, language) if n > 1 or folded(head) in self.everyday else None
            if isinstance(named, str) and not (_BELOW.match(behind) or _NUMBERED.fullmatch(behind)):
                return Unread(
                    f"the name of a species alone, such as {named}",
                    f"Put “{behind}” into a column of its own. If it belongs to the name, the programme lists that name.",
                )
        near = near_to(folded(text), self._words)
        return Unread(f"a name as it is known: is {_or(near)} meant?", ASK) if near else None

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

        near = process.extract(folded(text[:LONGEST]), self._words.keys(), scorer=fuzz.ratio, limit=5, score_cutoff=70)
        suggested = list(dict.fromkeys(name for word, *_ in near for name in self._words[word]))[:3]
        meant = f"Did you mean {_or(suggested)}? " if suggested else ""
        return Unread("a species that the programme's list knows", f"{meant}{ASK}")


ASK = "Write that name, or ask the programme to list this one (under [species] in programme.toml)."


def names_of(rules: Rules) -> Names:
    """The names that a programme's rules tell of."""
    used = [t.species for p in rules.protocols for t in p.targets] + [s.species for s in rules.stages]
    used += [name for name, _ in rules.lowest_cut_cm]
    return Names(rules.species, rules.species_must_be_known, tuple(dict.fromkeys(used)))


def same(one: Names, other: Names) -> bool:
    """Whether both read every name alike."""
    return one == other or (
        one.must_be_known == other.must_be_known
        and one.everyday == other.everyday
        and one.scientific == other.scientific
    )


def _or(names: Iterable[str]) -> str:
    return " or ".join(names)


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
