"""Species columns as ecologists head them: “ab_m2_Littorina_saxatilis”, “pc_Fucus_spiralis”, “Laminaria_digitata_cover”.

The affix that several headings share tells what their cells are; it is cut off, and the rest names the species.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from pipeline.suggest.lexicon import Lexicon
from pipeline.suggest.seen import Seen
from pipeline.suggest.shapes import one_of
from pipeline.suggest.text import plain

COVER = r"pc|pct|perc|percent|percentage|cover|cov|cob|cobertura|dekning|dekn|recouvrement|recouv|porc|%"
COUNT = r"n|no|nb|nr|num|number|nombre|numero|count|counts|cnt|ct|ab|abun|abund|abundance|abundancia|ind|inds|ant|antall|conteo|contagem|comptage"
SIZE = r"m2|m3|m²|m³|cm2|0[.,]\d+"
GAP = r"[ _.:-]+"
BEFORE = re.compile(rf"((?:({COVER})|(?:{COUNT}))(?:{GAP}(?:{SIZE}))?){GAP}(.*)", re.IGNORECASE)
AFTER = re.compile(rf"(.*?){GAP}((?:({COVER})|(?:{COUNT}))(?:{GAP}(?:{SIZE}))?)", re.IGNORECASE)
NAMED = re.compile(r"[A-Za-z]{4,}[ _]+(?:x[ _]+)?[a-z]{4,}(?:[ _]+[a-z]+)?|[A-Za-z]{4,}[ _]+spp?\.?")
LATIN = re.compile(r"\w+[ _]\w*(?:us|um|is|a|i|ae|es|ens|ii|ata|osa|spp?)\.?(?:[ _]+\w+)?", re.IGNORECASE)
UNNAMED = r"(?:unid(?:ent(?:ified)?)?|indet|sp|spp)\.?"
FEW = 3


@dataclass(frozen=True)
class Affixed:
    """Columns that share an affix: what their cells are, where they stand, the species each names, and the stages."""

    affixes: tuple[str, ...]
    cell: str
    before: bool
    species: Mapping[int, str]
    stages: Mapping[int, str]

    @property
    def pattern(self) -> str:
        """A regular expression that cuts the affix off; `_` and blanks around it do not count."""
        affix = "|".join(GAP.join(map(re.escape, re.split(GAP, a))) for a in self.affixes)
        stage = rf"(?:{GAP}(?P<stage>(?i:{one_of(list(self.stages.values()))})))?" if self.stages else ""
        name = rf"(?P<species>.+{'?' * (bool(stage) or not self.before)}){stage}"
        return rf"(?i:{affix})[ _.:-]+{name}" if self.before else rf"{name}[ _.:-]+(?i:{affix})"

    @property
    def volume(self) -> bool:
        """Whether it is told of a core, not of a frame."""
        return any(map(_volume, self.affixes))

    @property
    def per_area(self) -> bool:
        """Whether an affix names an area beside a count: it may be how many per m2."""
        return self.cell == "count" and any(re.search(r"m[2²]", a) for a in self.affixes)


def affixed(columns: Sequence[Seen], words: Lexicon) -> list[Affixed]:
    """The affixes of a sheet, the commonest first; none unless several headings share one and mostly name species."""
    found: dict[tuple[str, str, bool], dict[int, str]] = {}
    for c in columns:
        if c.filled and c.counted < 0.6:
            continue
        before, after = BEFORE.fullmatch(c.heading), AFTER.fullmatch(c.heading)
        if before:
            key, rest = (_bare(before[1]), "cover_pct" if before[2] else "count", True), before[3]
        elif after:
            key, rest = (_bare(after[2]), "cover_pct" if after[3] else "count", False), after[1]
        else:
            continue
        if re.search(r"[^\W\d_]{3}", rest) and plain(rest) not in words.nothing:
            found.setdefault(key, {})[c.at] = rest.strip(" _")
    named = [n for several in found.values() for n in several.values() if is_species(_staged(n, words)[0], words)]
    if len(named) < FEW or 2 * len(named) < sum(map(len, found.values())):
        return []
    kept = {
        k: v
        for k, v in found.items()
        if len(v) >= FEW or any(is_species(_staged(n, words)[0], words) for n in v.values())
    }
    made: list[Affixed] = []
    for (affix, cell, side), species in sorted(kept.items(), key=lambda kv: -len(kv[1])):
        # “ab_” beside “ab_m2_” says the same of another species
        alike = next((m for m in made if (m.cell, m.before, m.volume) == (cell, side, _volume(affix))
                      and not set(m.species.values()) & set(species.values())), None)  # fmt: skip
        if alike:
            made[made.index(alike)] = replace(
                alike, affixes=(*alike.affixes, affix), species={**alike.species, **species}
            )
        else:
            made.append(Affixed((affix,), cell, side, species, {}))
    return [_with_stages(m, words) for m in sorted(made, key=lambda m: m.volume)]


def _with_stages(one: Affixed, words: Lexicon) -> Affixed:
    """The same with the stages that stand behind its species, “n_Alaria_esculenta_juv”, told apart from them."""
    apart = {at: _staged(rest, words) for at, rest in one.species.items()}
    stages = {at: stage for at, (_, stage) in apart.items() if stage}
    return replace(one, species={at: name for at, (name, _) in apart.items()}, stages=stages)


def _staged(rest: str, words: Lexicon) -> tuple[str, str]:
    """What an affix leaves, as a name and the stage behind it ("" when there is none)."""
    pieces = re.split(rf"({GAP})", rest)
    for n in (2, 1):
        name, stage = "".join(pieces[: -2 * n]), "".join(pieces[-2 * n + 1 :])
        bare = plain(re.sub(rf"{GAP}{UNNAMED}$", "", stage, flags=re.IGNORECASE))
        if name and len(bare) > 2 and words.values["stage"].get(bare):
            return name, stage
    return rest, ""


def _volume(affix: str) -> bool:
    return bool(re.search(r"m[3³]", affix))


def is_species(text: str, words: Lexicon) -> bool:
    """Whether what is left reads like a species or a genus, or is known as one."""
    here = plain(text).split()
    known = bool(here) and (here[0] in words.genera or " ".join(here) in words.values["species"])
    return known or (bool(NAMED.fullmatch(text)) and bool(LATIN.fullmatch(text)))


def species_name(text: str) -> str:
    """A name as it is written in science: “ascophyllum_nodosum” is “Ascophyllum nodosum”."""
    bare = re.sub(r"[\s_]+", " ", text).strip(" ?")
    bare = re.sub(r"\b(spp?)$", r"\1.", bare)
    return bare[:1].upper() + bare[1:]


def _bare(affix: str) -> str:
    return re.sub(GAP, "_", affix).casefold()
