"""Codes of vocabularies by others, as far as somebody verified them; "" is an honest blank.

NERC Vocabulary Server, collections P01, P06 and S11, as used in the OBIS manual (examples.md, vocabulary.md, snapshot of
2026-06-22), RCOV7736 aside. Names: AphiaIDs stand in our species list; kingdoms are those of the OBIS species list of
2023-10-17 (iobis/mpaeu_sdm); authors as AlgaeBase, MarLIN and museum lists give them.
"""

from dataclasses import dataclass

_NERC = "http://vocab.nerc.ac.uk/collection"


@dataclass(frozen=True)
class Measure:
    """A measured quantity as archives tell it: what it is called, its unit, and their codes ("" where none was verified)."""

    type: str
    type_id: str = ""
    unit: str = ""
    unit_id: str = ""


def _p01(code: str) -> str:
    return f"{_NERC}/P01/current/{code}/"


def _p06(code: str) -> str:
    return f"{_NERC}/P06/current/{code}/"


_M2 = ("square metres", _p06("UMSQ"))
_M = ("metres", _p06("ULAA"))
_NUMBER = ("dimensionless", _p06("UUUU"))
_DEGC = ("degrees Celsius", _p06("UPAA"))

# our column, or a word for what is worked out -> what it is published as
MEASURES: dict[str, Measure] = {
    "density": Measure("abundance per unit area of the bed", _p01("SDBIOL02"), "number per square metre", _p06("UPMS")),
    "cover_pct": Measure("coverage of the bed", _p01("SDBIOL10"), "percent", _p06("UPCT")),
    "length_cm": Measure("length of the individual", _p01("OBSINDLX"), "centimetres", _p06("ULCM")),
    "stage": Measure("life stage", _p01("LSTAGE01")),
    "frame_area_m2": Measure("sampled area of seabed", _p01("AREABEDS"), *_M2),
    "depth_m": Measure("depth below the water surface", _p01("ADEPZZ01"), *_M),
    "max_depth_m": Measure("greatest depth below the water surface", _p01("MAXWDIST"), *_M),
    "water_temp_degc": Measure("water temperature", _p01("TEMPPR01"), *_DEGC),
    "mean_degc": Measure("water temperature, mean of a day", _p01("TEMPPR01"), *_DEGC),
    # no code was found for these; they may be asked for at the vocabulary's own tracker
    "zero_density": Measure("abundance of a life stage per unit area of the bed", "", "number per square metre", _p06("UPMS")),
    "fertile_count": Measure("number of fertile individuals", "", *_NUMBER),
    "visibility_m": Measure("underwater visibility", "", *_M),
    "surge": Measure("surge"),
    "current": Measure("current"),
    "team": Measure("number of divers", "", *_NUMBER),
    "bottom_time_min": Measure("time on the bottom", "", "minutes"),
    "unit_count": Measure("number of units put down", "", *_NUMBER),
    "area_treated_m2": Measure("area meant to be treated", "", *_M2),
    "area_m2": Measure("area prepared", "", *_M2),
    "amount": Measure("amount removed"),
    "mass_kg": Measure("mass of gear put down", "", "kilograms"),
    "fixing": Measure("fixing of the unit"),
    "seed_density_per_cm2": Measure("seed density", "", "number per square centimetre"),
    "plants_cut": Measure("number of plants cut from", "", *_NUMBER),
    "blades_cut": Measure("number of fertile blades cut", "", *_NUMBER),
    "fertile_mass_kg": Measure("wet mass of fertile tissue taken", "", "kilograms"),
    "parents": Measure("number of parent plants", "", *_NUMBER),
    "cut_height_cm": Measure("height of the cut above the meristem", "", "centimetres", _p06("ULCM")),
    "state": Measure("state of the unit when looked for"),
    "count_found": Measure("pieces found of an untagged lot", "", *_NUMBER),
    "how_known": Measure("how the loss of the unit is known"),
    "cause": Measure("cause of the loss of the unit"),
}  # fmt: skip

# our stages -> lifeStage (GBIF's list has neither recruit nor canopy; sub-canopy plants may be either), and S11's code
LIFE_STAGES = {"recruit": "juvenile", "juvenile": "juvenile", "canopy": "adult"}
STAGE_IDS = {
    "recruit": f"{_NERC}/S11/current/S1127/",
    "juvenile": f"{_NERC}/S11/current/S1127/",
    "canopy": f"{_NERC}/S11/current/S1116/",
}
LICENCE_URLS = {
    "CC0-1.0": "http://creativecommons.org/publicdomain/zero/1.0/legalcode",
    "CC-BY-4.0": "http://creativecommons.org/licenses/by/4.0/legalcode",
    "CC-BY-NC-4.0": "http://creativecommons.org/licenses/by-nc/4.0/legalcode",
}
LICENCE_NAMES = {
    "CC0-1.0": "Creative Commons Zero v1.0 Universal",
    "CC-BY-4.0": "Creative Commons Attribution 4.0 International",
    "CC-BY-NC-4.0": "Creative Commons Attribution Non Commercial 4.0 International",
}
LSID = "urn:lsid:marinespecies.org:taxname:"

_GENERA = {
    "Chromista": "Saccharina Laminaria Alaria Saccorhiza Macrocystis Undaria Ecklonia Nereocystis Chorda Sargassum Fucus Ascophyllum",
    "Animalia": "Echinus Paracentrotus Strongylocentrotus Centrostephanus Psammechinus Sphaerechinus Arbacia Sparus Sarpa "
    "Diplodus Labrus Ctenolabrus Pollachius Gadus Homarus Cancer Asterias Patella Steromphala Haliotis Membranipora",
    "Plantae": "Ulva",
}  # fmt: skip
KINGDOMS = {genus: kingdom for kingdom, genera in _GENERA.items() for genus in genera.split()}
AUTHORS = {
    "Saccharina latissima": "(Linnaeus) C.E.Lane, C.Mayes, Druehl & G.W.Saunders, 2006",
    "Laminaria hyperborea": "(Gunnerus) Foslie",
    "Laminaria digitata": "(Hudson) J.V.Lamouroux",
    "Alaria esculenta": "(Linnaeus) Greville, 1830",
    "Macrocystis pyrifera": "(Linnaeus) C.Agardh, 1820",
    "Undaria pinnatifida": "(Harvey) Suringar, 1873",
    "Ecklonia radiata": "(C.Agardh) J.Agardh, 1848",
    "Nereocystis luetkeana": "(K.Mertens) Postels & Ruprecht, 1840",
    "Echinus esculentus": "Linnaeus, 1758",
    "Paracentrotus lividus": "(Lamarck, 1816)",
    "Strongylocentrotus purpuratus": "(Stimpson, 1857)",
    "Centrostephanus rodgersii": "(A. Agassiz, 1864)",
}
