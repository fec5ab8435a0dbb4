"""Planted is never wild: what is said of a plant's origin, and the block on whatever would say otherwise.

The case table follows the TDWG vocabularies establishmentMeans, degreeOfEstablishment and pathway (2026-05-26), which
have no word for planting where the species still lives: such a plant is native, and released.
"""

from pipeline.rules.publishing import Origin

MANAGED = "conservationOrWildlifeManagement"
MEANS = {
    "lost here": "nativeReintroduced",
    "living here": "native",
    "outside its range": "introducedAssistedColonisation",
}
Told = tuple[str, str, str]  # establishmentMeans, degreeOfEstablishment, pathway; "" where nothing is said


def origin_told(rule: Origin | None, how: str, method: str) -> Told:
    """What is said of a plant. how: natural, planted or uncertain; method: of the planting it may be of."""
    if how == "uncertain" or (how == "planted" and (rule is None or rule.planted not in MEANS)):
        return "uncertain", "", ""
    if rule is None:
        return "", "", ""
    if how == "planted":
        return MEANS[rule.planted], "cultivated" if method in rule.tended else rule.degree, MANAGED
    return rule.natural, "native" if rule.natural == "native" else "", ""


def rule_for(rules: tuple[Origin, ...], species: str, site: str) -> Origin | None:
    """The programme's rule for a species at a site, else for it anywhere; None when there is none."""
    by = {(o.species, o.site): o for o in rules}
    return by.get((species, site), by.get((species, "")))


# SQL over columns `means` and `degree`: a plant in a planted plot that is told as wild, or as planted without saying how far.
TOLD_AS_WILD = "coalesce(degree, '') = 'native' or (coalesce(means, '') <> 'uncertain' and coalesce(degree, '') = '')"
