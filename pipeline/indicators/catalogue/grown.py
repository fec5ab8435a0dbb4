"""Entries on what became of what was put down: recruits of a method and of a unit."""

from pipeline.indicators.catalogue.entry import Indicator

_MOVER = "MOVER from each arm's own interval, scaled"
_ZOU = "Zou & Donner 2008, Stat. Med. 27:1693"
_ALONE = "Of plots in which one method alone was put down. "

ENTRIES = (
    Indicator(
        "recruits beyond control", "Recruits of a method beyond control", "recruits",
        "density of recruits in the counted treated plots where the method alone was put down, minus that in control plots of "
        "the same round, times the area of those treated plots",
        _MOVER, _ZOU,
        _ALONE + "Holds only if frames lie over the whole of these plots; area is taken as exact. Recruits of the plots counted, "
        "not of the reef.",
    ),
    Indicator(
        "recruits per unit", "Recruits per unit put down", "recruits per unit",
        "recruits of a method beyond control over the units put down in the same plots by then; a load without tags counts by "
        "its pieces",
        _MOVER, _ZOU,
        _ALONE + "Refused where the interval of recruits beyond control holds 0. Of one round: later ones hold fewer recruits, since "
        "these die or grow on.",
    ),
    Indicator(
        "recruits beyond control by method", "Recruits beyond control over sites, by method", "per m2",
        "mean of the sites' own differences between plots where the method alone was put down and control plots, each in its "
        "first round in which recruits can be expected and the comparison is fair; every site with the same weight",
        "Student's t, the site as unit", "Student 1908, Biometrika 6:1",
        _ALONE + "Speaks of sites like these, not of any one of them; needs three. Methods side by side share their control frames.",
    ),
)  # fmt: skip
