"""Entries on what was paid for what came of it."""

from pipeline.indicators.catalogue.entry import Indicator

_KINDS = (
    ("cash", "Cash cost", "money paid", "currency"),
    ("in kind", "In-kind cost", "gifts in kind at their stated value", "currency"),
    ("hours", "Hours given", "hours given", "hours"),
)
_EXACT = (
    "All that was paid until the last day told of, taken as exact. Cash, gifts in kind and hours are never added up."
)

ENTRIES = (
    *(
        Indicator(
            f"{form} per retained unit", f"{title} per unit that held", f"{unit} per retained unit",
            f"{what} for a method at a site, over the units put down times the fraction still attached at the end of the "
            "release window", "cost over the retention estimate; its limits and bounds turned over", "Turnbull 1976",
            f"{_EXACT} Where it may be that none held, there is no upper limit. Refused for loads without tags.",
        )
        for form, title, what, unit in _KINDS
    ),
    *(
        Indicator(
            f"{form} per recruit", f"{title} per recruit beyond control", f"{unit} per recruit",
            f"{what} at a site over its recruits beyond control in the first comparable round in which recruits can be expected: treated minus control density times "
            "treated area; of all sites, over the sum of theirs", "cost over the difference; its limits turned over, MOVER for sums",
            "Zou & Donner 2008, Stat. Med. 27:1693",
            f"{_EXACT} Refused where the difference may be nothing, where treated area is not that of plots, and without "
            "control plots. A recruit is not yet a plant that stays.",
        )
        for form, title, what, unit in _KINDS
    ),
    *(
        Indicator(
            f"{form} per hectare meeting the rule", f"{title} per hectare that meets the success rule", f"{unit} per ha",
            f"{what} at all sites over the area that meets the programme's success rule", "cost over area",
            "common practice, no source", f"{_EXACT} What did not succeed is paid for too, and is in it.",
        )
        for form, title, what, unit in _KINDS
    ),
)  # fmt: skip
