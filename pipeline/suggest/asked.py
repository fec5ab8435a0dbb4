"""Headings that are questions of a form: “How many young bull kelp did you count?” names a species, perhaps a stage, and what is told."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from pipeline.suggest.fit import Said
from pipeline.suggest.lexicon import NOTHING, STAMP, Lexicon
from pipeline.suggest.seen import Seen
from pipeline.suggest.shapes import WideSeen, one_of
from pipeline.suggest.text import plain

LONG = 3  # words: a shorter heading is none that asks
MOST_WORDS = 4  # of an everyday name
ADDRESS = re.compile(r"[^@\s]+@[^@\s]+\.[a-z]+", re.IGNORECASE)
COUNTED = re.compile(r"\b(how many|number of|count(ed)?|cuant[oa]s|contaste|quant[oa]s|contou|combien|nombre de|compte[sz]?|hvor mange|antall|talte)\b")  # fmt: skip
COVERED = re.compile(r"\b(percent|per cent|cover(ed)?|cobertura|cubiert[oa]|porcentaje|percentagem|couvert|recouvrement|pourcentage|dekning|dekket|prosent)\b")  # fmt: skip
# what was taken or planted is no survey
TAKEN = re.compile(r"\b(remov|cull|cut|collect|crush|smash|harvest|plant|retir|extra|tritur|cort|colh|cosech|enlev|coup|recolt|ramass|fjern|knus|kutt|host)")  # fmt: skip


@dataclass(frozen=True)
class Asked:
    """One such heading: the species and the stage ("" if none) as they stand in it, which comes first, and what is told."""

    at: int
    species: str
    stage: str
    stage_first: bool
    cell: str


def asked_seen(columns: Sequence[Seen], said: Sequence[Mapping[str, Said]], words: Lexicon) -> WideSeen | None:
    """The wide shape of a form that asks about one species after another, None when fewer than two columns do."""
    every = [a for c, says in zip(columns, said, strict=True) if (a := _asked(c, says, words))]
    for cell in ("count", "cover_pct"):
        here = [a for a in every if a.cell == cell]
        if len({(plain(a.species), plain(a.stage)) for a in here}) < 2:
            continue
        staged = [a for a in here if a.stage]
        first = 2 * sum(a.stage_first for a in staged) >= len(staged)
        told = [replace(a, stage=a.stage if a.stage_first == first else "") for a in here]
        return _shape(told, columns, words, first)
    return None


def _shape(here: Sequence[Asked], columns: Sequence[Seen], words: Lexicon, stage_first: bool) -> WideSeen:
    stages, names = [a.stage for a in here if a.stage], [a.species for a in here]
    species = rf"(?P<species>{one_of(names)})\b"
    stage = rf"\b(?P<stage>{one_of(stages)})\b" if stages else ""
    pattern = rf".*?\b{species}.*"
    if stages:
        pattern = rf".*?(?:{stage}.*?)?\b{species}.*" if stage_first else rf".*?\b{species}(?:.*?{stage})?.*"
    by_at = {c.at: c.heading for c in columns}
    headings = [by_at[a.at] for a in here]
    known, stage_words = words.values["species"], words.values["stage"]
    codes = {
        "species": {n: ours for n in names if (ours := known.get(_singular(plain(n), words), n)) != n},
        "stage": {s: ours for s in stages if (ours := stage_words[plain(s)]) != s.casefold()},
    }
    return WideSeen("survey", tuple(a.at for a in here), ("species", "stage") if stages else ("species",), here[0].cell,
                    {"headings": headings, "pattern": pattern, "cell": here[0].cell},
                    f"{len(here)} columns ask about a species each, such as “{headings[0]}”", codes)  # fmt: skip


def _asked(column: Seen, says: Mapping[str, Said], words: Lexicon) -> Asked | None:
    """What one heading asks, None when it asks nothing of a species or its cells are no numbers."""
    if column.words.count(" ") + 1 < LONG or (column.filled and column.counted < 0.6):
        return None
    if TAKEN.search(column.words) or says.get(NOTHING, Said()).surely >= 0.95:
        return None
    cell = "count" if COUNTED.search(column.words) else "cover_pct" if COVERED.search(column.words) else ""
    at = [m.span() for m in re.finditer(r"[^\W_]+", column.heading)]
    spans = [(a, b) for n in range(MOST_WORDS, 0, -1) for a, b in _runs(at, n)]
    name = next(((a, b) for a, b in spans if _singular(plain(column.heading[a:b]), words)), None)
    if not cell or name is None:
        return None
    rest = [(a, b) for a, b in spans if b - a > 2 and (b <= name[0] or a >= name[1])]
    grown = {w for w, stage in words.values["stage"].items() if stage != "any" and len(w) > 3}
    stage = next(((a, b) for a, b in rest if plain(column.heading[a:b]) in grown), None)
    told = column.heading[slice(*stage)] if stage else ""
    return Asked(column.at, column.heading[slice(*name)], told, bool(stage and stage < name), cell)


def _runs(at: Sequence[tuple[int, int]], n: int) -> list[tuple[int, int]]:
    """Where every run of n words begins and ends."""
    return [(at[k][0], at[k + n - 1][1]) for k in range(len(at) - n + 1)]


def _singular(name: str, words: Lexicon) -> str:
    """The name as the lists have it, of one or of many, “” when they have it not; two letters are no name."""
    ways = (name, name.removesuffix("s"), " ".join(w.removesuffix("s") for w in name.split()))
    known = words.values["species"]
    return next((w for w in ways if len(w) > 3 and (w in known or w in words.alive)), "")


def sent(columns: Sequence[Seen], said: Sequence[Mapping[str, Said]]) -> set[int]:
    """Which columns only tell who sent a form, by an address, and, where another column tells the day, when."""
    written = {n for n, c in enumerate(columns) if c.share(ADDRESS) > 0.7}
    told = {
        n
        for n, (c, says) in enumerate(zip(columns, said, strict=True))
        if c.dated > 0.7 and says.get(STAMP, Said()).surely >= 0.9
    }
    day = any(
        c.dated > 0.7 and n not in told and says.get("happened", Said()).surely >= 0.6
        for n, (c, says) in enumerate(zip(columns, said, strict=True))
    )
    return written | (told if day else set())
