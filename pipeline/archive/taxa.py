"""A name as the ledger holds it, parted into what Darwin Core asks for."""

import re
from collections.abc import Iterable, Mapping

from pipeline.archive.codes import AUTHORS, KINGDOMS, LSID

_DOUBT = re.compile(r"^(?P<genus>\S+) (?P<doubt>(?:cf\.|aff\.|sp\.|spp\.).*)$")
_SHAPED = re.compile(r"\w+( (cf|aff)\.)?( [a-z-]+)?( spp?\.( \w{1,2})?)?( \?)?")
Taxon = tuple[str, str, str, str, str, str, str, str]  # name as held, then the columns below
TAXON_COLUMNS = "species, scientificName, scientificNameID, scientificNameAuthorship, taxonRank, kingdom, genus, identificationQualifier"


def taxon(species: str, aphia: Mapping[str, int]) -> Taxon:
    """The columns of TAXON_COLUMNS; "" where nothing was verified. aphia: accepted name -> AphiaID, 0 for none.

    A doubtful name becomes its genus, and what made it doubtful the qualifier (OBIS manual): the identifier of a
    species is never put on what only may be it.
    """
    doubt = _DOUBT.match(species)
    name = doubt["genus"] if doubt else species
    number = 0 if doubt else aphia.get(species, 0)
    words = name.split()
    rank = "species" if len(words) == 2 else "genus" if len(words) == 1 and name in KINGDOMS else ""
    return (species, name, f"{LSID}{number}" if number else "", "" if doubt else AUTHORS.get(name, ""), rank,
            KINGDOMS.get(words[0] if words else "", ""), words[0] if rank else "", doubt["doubt"] if doubt else "")  # fmt: skip


def is_of(species: str, accepted: Iterable[str]) -> bool:
    """Whether it is one of those names, or of a genus of theirs and shaped as names are: not words that anybody wrote."""
    known = set(accepted)
    return species in known or (
        species.partition(" ")[0] in {n.partition(" ")[0] for n in known} and _SHAPED.fullmatch(species) is not None
    )


def taxa(species: Iterable[str], aphia: Mapping[str, int]) -> list[Taxon]:
    """Every name once, in order."""
    return [taxon(s, aphia) for s in sorted(set(species))]
