"""Entries on what grows: densities and how they compare."""

from pipeline.indicators.catalogue.entry import Indicator

_FRAMES = (
    "quasi-Poisson with Student's t on the log scale; with up to five frames and three or more comparable sites, "
    "negative binomial with pooled k; exact Poisson for one frame; a stated upper bound when none were found"
)
_FRAME_SOURCES = "McCullagh & Nelder 1989; Garwood 1936, Biometrika 28:437"
_RATIO = "log ratio of means, the wider of quasi-Poisson and Welch variances, t"
_RATIO_SOURCES = "McCullagh & Nelder 1989; Welch 1947, Biometrika 34:28"
_WIDE = "With few plants or few frames the interval is on the wide side: in simulation it held the truth in 97 to 100 of 100 cases."
_OF_SITES = "Speaks of sites like these, not of any one of them; needs three. "

ENTRIES = (
    Indicator(
        "density", "Density", "per m2",
        "plants of the species and stage counted in the frames of one site, kind of plot and survey round, over the area searched",
        _FRAMES, _FRAME_SOURCES,
        "Says what was there on that day, not whether it stays, nor who its parents were. Frames laid at units are left out. With "
        f"three frames of many, very clumped plants the interval holds the truth in about 90 of 100 cases only. {_WIDE}",
    ),
    Indicator(
        "density near units", "Density near units", "per m2",
        "as density, from frames laid at units", _FRAMES, _FRAME_SOURCES,
        "Holds near units only; never to be multiplied by the area of a plot.",
    ),
    Indicator(
        "treated over control", "Treated over control", "times control",
        "density in treated plots over density in control plots of the same site, round, species and stage",
        _RATIO, _RATIO_SOURCES,
        "Refused when treated and control plots differ in more than planting. Explodes when the control is near zero: read the difference beside it. " + _WIDE,
    ),
    Indicator(
        "treated minus control", "Treated minus control", "per m2",
        "density in treated plots minus density in control plots of the same site, round, species and stage",
        "MOVER from each arm's own interval", "Zou & Donner 2008, Stat. Med. 27:1693",
        "Refused when treated and control plots differ in more than planting. With three frames of many, very clumped plants "
        f"the interval holds the truth in about 91 of 100 cases only. {_WIDE}",
    ),
    Indicator(
        "treated over reference", "Share of the reference forest reached", "times reference",
        "density in treated plots over density in reference plots counted in the same season under the same protocol: those of "
        "the site, or of the nearest site that has any",
        _RATIO, _RATIO_SOURCES,
        "A forest varies from year to year, so an older survey of it is refused. The reference is where it is: at another site, "
        "planting and site cannot be told apart.",
    ),
    Indicator(
        "treated minus reference", "Treated minus reference", "per m2",
        "density in treated plots minus density in reference plots, as for the share reached",
        "MOVER from each arm's own interval", "Zou & Donner 2008, Stat. Med. 27:1693",
        "As for the share of the reference forest reached.",
    ),
    Indicator(
        "before-after ratio", "Change beyond control, as a ratio (before-after-control-impact)", "times the change in control",
        "density in treated plots after planting over before, divided by the same of the control plots; before is the last "
        "round before planting in the same season of the year",
        "log ratio of ratios, the wider of quasi-Poisson and Welch variances, t", _RATIO_SOURCES,
        "One site has no replicate of itself. Without a baseline in that season it is refused. Fixed frames give no interval "
        "at one site. Explodes when an arm is near zero: read the difference beside it.",
    ),
    Indicator(
        "before-after difference", "Change beyond control, as a difference", "per m2",
        "change of density in treated plots since before planting, minus that in control plots",
        "MOVER from the four arms' own intervals", "Zou & Donner 2008, Stat. Med. 27:1693",
        "As for the ratio.",
    ),
    Indicator(
        "density over sites", "Mean density over sites", "per m2",
        "mean of the sites' densities in their last round of a season, every site with the same weight",
        "Student's t on the log of the mean, the site as unit", "Student 1908, Biometrika 6:1",
        _OF_SITES + "Where sites differ very much (a log-sd of 1) the interval holds the truth in 88 to 93 of 100 cases only: "
        "read the sites' values.",
    ),
    Indicator(
        "geometric density over sites", "Geometric mean density over sites", "per m2",
        "geometric mean of the sites' densities in their last round of a season: what a typical site has",
        "Student's t on the logs, the site as unit", "Student 1908, Biometrika 6:1",
        _OF_SITES + "Not what all sites hold together, and refused where a site has nothing.",
    ),
    Indicator(
        "treated minus control over sites", "Mean of treated minus control over sites", "per m2",
        "mean of the sites' own differences in their last round of a season, every site with the same weight",
        "Student's t, the site as unit", "Student 1908, Biometrika 6:1",
        _OF_SITES + "Sites without a fair comparison are left out and named.",
    ),
    Indicator(
        "before-after ratio over sites", "Change beyond control over sites, as a ratio", "times the change in control",
        "geometric mean of the sites' own before-after ratios in their last round of a season",
        "Student's t on the sites' log ratios", "Stewart-Oaten & Bence 2001, Ecol. Monogr. 71:305",
        _OF_SITES + "Sites without a baseline or a fair comparison are left out and named.",
    ),
    Indicator(
        "before-after difference over sites", "Change beyond control over sites, as a difference", "per m2",
        "mean of the sites' own before-after differences in their last round of a season",
        "Student's t, the site as unit", "Stewart-Oaten & Bence 2001, Ecol. Monogr. 71:305",
        _OF_SITES + "Sites without a baseline or a fair comparison are left out and named.",
    ),
    Indicator(
        "success rule", "The programme's own rule of success", "that of the figure judged",
        "the figure that the rule names, with its interval; its note begins with met, not met or cannot tell",
        "met or not met only where the whole interval lies on one side of the rule's limit", "the programme's rule, by its date",
        "One survey at one site. Of many sites, stages and surveys some meet a rule by chance. A rule dated after the first "
        "survey it judges is marked as written afterwards.",
    ),
)  # fmt: skip
