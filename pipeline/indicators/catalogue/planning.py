"""Entries on what is planned, from what the programme's own data told so far."""

from pipeline.indicators.catalogue.entry import Indicator

_PLAN = "A plan, not a measurement: as good as the figures it starts from, which stand in its note."
_FRAMES = "Zhu & Lakkis 2014, Stat. Med. 33:376; spread between frames: Bliss & Owen 1958 (from memory)"
_SITE = "design effect: Kish 1965; intraclass correlation by analysis of variance: Donner 1986 (both from memory)"

ENTRIES = (
    Indicator(
        "frames for a doubling", "Frames to see a doubling at one site", "frames an arm",
        "frames in each of the treated and control plots of one site, so that twice the control's density is seen; control mean and "
        "spread are those of the last season in which three sites had control frames, or else of the last",
        "sample size for a ratio of negative-binomial means", _FRAMES,
        f"{_PLAN} Holds for frames of the same size and placement.",
    ),
    Indicator(
        "frames for a doubling over sites", "Frames to see a doubling over sites", "frames an arm",
        "as frames for a doubling, over all sites together, times the design effect of frames of one site",
        "sample size for a ratio of negative-binomial means, times the design effect", f"{_FRAMES}; {_SITE}",
        f"{_PLAN} More sites help more than more frames at each.",
    ),
    Indicator(
        "units to know retention", "Units to know retention to 10 points", "units",
        "units of a method, over all sites, so that the share attached on that day is known to 10 points either way",
        "Wald's and Wilson's interval, the larger, times the design effect", f"Wilson 1927, J. Am. Stat. Assoc. 22:209; {_SITE}",
        f"{_PLAN} Units that nobody finds again are not among them.",
    ),
    Indicator(
        "units to tell fixings apart", "Units to tell two fixings apart", "units a fixing",
        "units of each of two fixings, so that a difference of the programme's stated points in the share attached on that day is seen",
        "normal test of two shares, no continuity correction", "Fleiss 1981 (from memory); arcsine: Cohen 1988 (from memory)",
        f"{_PLAN} Both fixings at every site; if whole sites get one fixing, the larger number in the note.",
    ),
    Indicator(
        "losses to tell fixings apart", "Losses to tell two fixings apart", "losses in all",
        "losses of two fixings together that a comparison of times of loss needs, for hazards that give those two shares",
        "number of events for a hazard ratio", "Schoenfeld 1981, Biometrika 68:316",
        f"{_PLAN} Coarse visits cost more: see the power of the planned checks.",
    ),
    Indicator(
        "power of the planned checks", "Chance that the planned checks tell two fixings apart", "chance",
        "share of simulated seasons, with the programme's visit plan and its missed visits, in which the units that the formula asks for "
        "tell two fixings apart",
        "seeded simulation, Wilcoxon-type score for visit intervals", "Fay & Shaw 2010, J. Stat. Softw. 36(2)",
        f"{_PLAN} Losses at a steady rate are assumed; storms are not steady.",
    ),
    *(
        Indicator(
            f"next {what}", f"Next {what} planned", "days after planting",
            f"the next day of the programme's plan on which a site gets {of}, counted from its last planting", "the programme's plan", "none",
            "Due when conditions and your supervisor allow; a visit not made is never scored. Does not know what is left to look at.",
        )
        for what, of in (("visit", "a visit"), ("check", "a check of its units"), ("survey", "a survey"))
    ),
    *(
        Indicator(
            f"{what} for next season", f"{title} for next season", unit,
            f"{what} so far over all units put down, times the units planned", "rate of the programme, times units",
            "common practice, no source",
            f"{_PLAN} As if every cost grew with the units. Under the programme's stated area: a trial cost, do not scale.",
        )
        for what, title, unit in (
            ("cash", "Cash", "currency"), ("gifts in kind", "Gifts in kind", "currency"), ("hours", "Hours", "hours")
        )
    ),
)  # fmt: skip
