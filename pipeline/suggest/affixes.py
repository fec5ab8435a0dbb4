"""Species columns as ecologists head them: “ab_m2_Littorina_saxatilis”, “pc_Fucus_spiralis”, “Laminaria_digitata_cover”.

The affix that several headings share tells what their cells are; it is cut off, and the rest names the species.
"""

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from pipeline.suggest.seen import Seen
from pipeline.suggest.text import plain

COVER = r"pc|pct|perc|percent|percentage|cover|cov|cob|cobertura|dekning|dekn|recouvrement|recouv|porc|%"
COUNT = r"n|no|nb|nr|num|number|nombre|numero|count|counts|cnt|ct|ab|abun|abund|abundance|abundancia|ind|inds|ant|antall|conteo|contagem|comptage"
SIZE = r"m2|m3|m²|m³|cm2|0[.,]\d+"
GAP = r"[ _.:-]+"
BEFORE = re.compile(rf"((?:({COVER})|(?:{COUNT}))(?:{GAP}(?:{SIZE}))?){GAP}(.*)", re.IGNORECASE)
AFTER = re.compile(rf"(.*?){GAP}((?:({COVER})|(?:{COUNT}))(?:{GAP}(?:{SIZE}))?)", re.IGNORECASE)
NAMED = re.compile(r"[A-Za-z]{4,}[ _]+(?:x[ _]+)?[a-z]{4,}(?:[ _]+[a-z]+)?|[A-Za-z]{4,}[ _]+spp?\.?")
LATIN = re.compile(r"\w+[ _]\w*(?:us|um|is|a|i|ae|es|ens|ii|ata|osa|spp?)\.?(?:[ _]+\w+)?", re.IGNORECASE)
FEW = 3


@dataclass(frozen=True)
class Affixed:
    """Columns that share an affix: what their cells are, where they stand, and the species each names."""

    affixes: tuple[str, ...]
    cell: str
    before: bool
    species: Mapping[int, str]

    @property
    def pattern(self) -> str:
        """A regular expression that cuts the affix off; `_` and blanks around it do not count."""
        affix = "|".join(GAP.join(map(re.escape, re.split(GAP, a))) for a in self.affixes)
        return rf"(?i:{affix})[ _.:-]+(?P<species>.+)" if self.before else rf"(?P<species>.+?)[ _.:-]+(?i:{affix})"

    @property
    def volume(self) -> bool:
        """Whether it is told of a core, not of a frame."""
        return any(map(_volume, self.affixes))

    @property
    def per_area(self) -> bool:
        """Whether an affix names an area beside a count: it may be how many per m2."""
        return self.cell == "count" and any(re.search(r"m[2²]", a) for a in self.affixes)


def affixed(columns: Sequence[Seen], genera: Collection[str]) -> list[Affixed]:
    """The affixes of a sheet, the commonest first; none unless several headings share one and mostly name species."""
    found: dict[tuple[str, str, bool], dict[int, str]] = {}
    for c in columns:
        if c.filled and c.numeric < 0.6:
            continue
        before, after = BEFORE.fullmatch(c.heading), AFTER.fullmatch(c.heading)
        if before:
            key, rest = (_bare(before[1]), "cover_pct" if before[2] else "count", True), before[3]
        elif after:
            key, rest = (_bare(after[2]), "cover_pct" if after[3] else "count", False), after[1]
        else:
            continue
        if re.search(r"[^\W\d_]{3}", rest):
            found.setdefault(key, {})[c.at] = rest.strip(" _")
    named = [n for several in found.values() for n in several.values() if is_species(n, genera)]
    if len(named) < FEW or 2 * len(named) < sum(map(len, found.values())):
        return []
    kept = {k: v for k, v in found.items() if len(v) >= FEW or any(is_species(n, genera) for n in v.values())}
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
            made.append(Affixed((affix,), cell, side, species))
    return sorted(made, key=lambda m: m.volume)


def _volume(affix: str) -> bool:
    return bool(re.search(r"m[3³]", affix))


def is_species(text: str, genera: Collection[str]) -> bool:
    """Whether what is left reads like a species or a genus."""
    words = plain(text).split()
    return bool(words) and (words[0] in genera or (bool(NAMED.fullmatch(text)) and bool(LATIN.fullmatch(text))))


def species_name(text: str) -> str:
    """A name as it is written in science: “ascophyllum_nodosum” is “Ascophyllum nodosum”."""
    bare = re.sub(r"[\s_]+", " ", text).strip(" ?")
    bare = re.sub(r"\b(spp?)$", r"\1.", bare)
    return bare[:1].upper() + bare[1:]


def _bare(affix: str) -> str:
    return re.sub(GAP, "_", affix).casefold()
