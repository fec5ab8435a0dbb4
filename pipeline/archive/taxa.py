"""A name as the ledger holds it, parted into what Darwin Core asks for."""

import re
from collections.abc import Iterable, Mapping

from pipeline.archive.codes import AUTHORS, KINGDOMS, LSID

_DOUBT = re.compile(r"^(?P<genus>\S+) (?P<doubt>(?:cf\.|aff\.|sp\.|spp\.).*)$")
Taxon = tuple[str, str, str, str, str, str, str]  # name as held, then the columns below
TAXON_COLUMNS = (
    "species, scientificName, scientificNameID, scientificNameAuthorship, taxonRank, kingdom, identificationQualifier"
)


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
            KINGDOMS.get(words[0] if words else "", ""), doubt["doubt"] if doubt else "")  # fmt: skip


def taxa(species: Iterable[str], aphia: Mapping[str, int]) -> list[Taxon]:
    """Every name once, in order."""
    return [taxon(s, aphia) for s in sorted(set(species))]
