"""Entries on what grows: densities and how they compare."""

from pipeline.indicators.catalogue.entry import Indicator

_FRAMES = (
    "quasi-Poisson with Student's t on the log scale; with up to five frames and three or more comparable sites, "
    "negative binomial with pooled k; exact Poisson for one frame; a stated upper bound when none were found"
)
_FRAME_SOURCES = "McCullagh & Nelder 1989; Garwood 1936, Biometrika 28:437"

ENTRIES = (
    Indicator(
        "density", "Density", "per m2",
        "plants of the species and stage counted in the frames of one site, kind of plot and survey round, over the area searched",
        _FRAMES, _FRAME_SOURCES,
        "Says what was there on that day, not whether it stays, nor who its parents were. Frames laid at units are left out.",
    ),
    Indicator(
        "density near units", "Density near units", "per m2",
        "as density, from frames laid at units", _FRAMES, _FRAME_SOURCES,
        "Holds near units only; never to be multiplied by the area of a plot.",
    ),
    Indicator(
        "treated over control", "Treated over control", "times control",
        "density in treated plots over density in control plots of the same site, round, species and stage",
        "log ratio of means, the wider of quasi-Poisson and Welch variances, t",
        "McCullagh & Nelder 1989; Welch 1947, Biometrika 34:28",
        "Refused when treated and control plots differ in more than planting. Explodes when the control is near zero: read the difference beside it.",
    ),
    Indicator(
        "treated minus control", "Treated minus control", "per m2",
        "density in treated plots minus density in control plots of the same site, round, species and stage",
        "MOVER from each arm's own interval", "Zou & Donner 2008, Stat. Med. 27:1693",
        "Refused when treated and control plots differ in more than planting.",
    ),
)  # fmt: skip
