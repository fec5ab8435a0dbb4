"""Entries on what a method cost where it can be told apart from others."""

from pipeline.indicators.catalogue.entry import Indicator

_KINDS = (("cash", "Cash cost", "money paid", "currency"), ("in kind", "In-kind cost", "gifts in kind", "currency"), ("hours", "Hours given", "hours given", "hours"))  # fmt: skip
_FAIR = (
    "Only over sites where every unit of the method lies in plots of its own; the others are named. What was for no single unit was "
    "parted over a site's methods by the number of units: a choice that moves the figure. Cash, gifts in kind and hours are never "
    "added up."
)

ENTRIES = (
    *(
        Indicator(
            f"{form} per hectare by method", f"{title} per treated hectare, by method", f"{unit} per ha",
            f"{what} for the method over the treated area of the plots where it alone was put down",
            "ratio of totals, linearised t over sites, Fieller's limits as a check; one site has no interval",
            "Cochran 1977, Sampling Techniques, ch. 6; Fieller 1954, J. R. Stat. Soc. B 16:175", _FAIR,
        )
        for form, title, what, unit in _KINDS
    ),
    *(
        Indicator(
            f"{form} per recruit by method", f"{title} per recruit beyond control, by method", f"{unit} per recruit",
            f"{what} for the method at the sites where its recruits beyond control can be told, over the sum of these recruits: of "
            "each site's first fair round",
            "cost over the sum of differences; its limits turned over, MOVER for sums", "Zou & Donner 2008, Stat. Med. 27:1693",
            f"{_FAIR} All that was paid until the last day told of, taken as exact. Refused where the recruits may be none. A recruit "
            "is not yet a plant that stays.",
        )
        for form, title, what, unit in _KINDS
    ),
)  # fmt: skip
