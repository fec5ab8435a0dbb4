"""Entries on what grew beside densities: recruits by method and unit, survival, fertile plants, cover, lengths, grazers."""

from pipeline.indicators.catalogue.entry import Indicator

_MOVER = "MOVER from each arm's own interval, scaled"
_ZOU = "Zou & Donner 2008, Stat. Med. 27:1693"
_ALONE = "Of plots in which one method alone was put down. "
_SURVIVAL = (
    "fixed frames counted twice: ratio of totals, jackknife over frames, t on the log scale; frames laid anew: log ratio of "
    "densities, the wider of quasi-Poisson and Welch variances, t"
)
_SURVIVAL_SOURCES = (
    "Cochran 1977, Sampling Techniques, ch. 6; Tukey 1958; McCullagh & Nelder 1989; Welch 1947, Biometrika 34:28"
)
_APPARENT = (
    "Plants are not marked: who came in between and outgrew the recruits counts as a survivor, who was overlooked as lost. Says "
    "nothing of why. Refused where frames or the judging of stages differ, or not every stage was searched for."
)
_MEASURED = (
    "Of all stages that were measured; refused where less than half of the plants were, since the tallest are measured first. Young "
    "plants that come in shorten the mean: no measure of growth. Speaks of one site. Where frames differ very much (a log-sd of 0.6) the "
    "mean's interval holds the truth in about 90 of 100 cases only."
)

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
    Indicator(
        "apparent survival", "Apparent survival between two surveys", "fraction",
        "plants past the recruit stage in treated plots at the later survey, over all plants there at the first (the cohort): the "
        "next survey after the programme's recruit_days", _SURVIVAL, _SURVIVAL_SOURCES, _APPARENT,
    ),
    Indicator(
        "second-year survival", "Apparent survival into the next year", "fraction",
        "plants past the recruit stage in treated plots, over all plants there in the same season of the year before",
        _SURVIVAL, _SURVIVAL_SOURCES, _APPARENT,
    ),
    Indicator(
        "fertile plants", "Fertile plants", "per m2",
        "plants told as fertile in the frames of one site, kind of plot, stage and survey round, over the area of the frames of "
        "which it is known",
        "quasi-Poisson with Student's t on the log scale; a stated upper bound when none were fertile",
        "McCullagh & Nelder 1989; Garwood 1936, Biometrika 28:437",
        "Says that plants could breed, not that they did. Frames with plants of which nobody told it are left out, and a caution "
        "says how many: only those who look every time give a fair figure.",
    ),
    Indicator(
        "cover", "Cover", "fraction of the ground",
        "mean of the frames' cover, or points that hit the species over all points; nothing told of a species that the protocol "
        "lists is none of it, in rounds in which cover of it was told at all",
        "mean or ratio of totals with frames as clusters, Student's t on the logit; with less than one whole frame of it never "
        "inside Clopper and Pearson's limits of all-or-nothing frames",
        "Cochran 1977, Sampling Techniques, ch. 6; Clopper & Pearson 1934, Biometrika 26:404",
        "Cover estimated by eye differs between divers. Plants above each other hide each other. Points of one frame are no "
        "samples of their own.",
    ),
    Indicator(
        "mean length", "Mean length", "cm", "sum of the lengths of plants measured one by one over their number",
        "ratio of totals, jackknife over frames, t on the log scale", "Cochran 1977, Sampling Techniques, ch. 6; Tukey 1958",
        _MEASURED,
    ),
    Indicator(
        "median length", "Median length", "cm", "the length that half of the plants measured one by one do not exceed",
        "Woodruff's limits with frames as clusters, t", "Woodruff 1952, J. Am. Stat. Assoc. 47:635", _MEASURED,
    ),
    Indicator(
        "grazers", "Grazers against the programme's limit", "per m2",
        "density of the grazer, with its interval; its note begins with above, below or cannot tell",
        "above or below only where the whole interval lies on that side of the limit", "the programme's limit, with its own source",
        "What a limit means for kelp is the programme's word. One survey at one site.",
    ),
)  # fmt: skip
