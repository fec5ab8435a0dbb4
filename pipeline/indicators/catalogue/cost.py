"""Entries on what it cost: in all, per hectare, per unit, at the prices of one year."""

from pipeline.indicators.catalogue.entry import Indicator

_RATIO = "ratio of totals, linearised t over sites, Fieller's limits as a check; one site has no interval"
_COCHRAN = "Cochran 1977, Sampling Techniques, ch. 6; Fieller 1954, J. R. Stat. Soc. B 16:175"
_APART = "Cash, gifts in kind and hours are never added up."
_SHARED = "shared costs parted by their stated key in whole hundredths, largest remainder"
_LASTING = "Of things with a useful life only what is used up by the last day told of counts."
_AREA = (
    "The interval leaves out exchange and hour rates. In simulation the interval held the truth in 91 to 95 of 100 cases. "
    "Under the programme's stated area: a trial cost, do not scale."
)
_KINDS = (
    ("cash", "Cash cost", "money paid", "currency"),
    ("in kind", "In-kind cost", "gifts in kind at their stated value", "currency"),
    ("hours", "Hours given", "hours given", "hours"),
)

ENTRIES = (
    Indicator(
        "treated area", "Treated area", "m2",
        "area of the planted plots, or area per unit, by the programme's treated_area_rule; a plot planted twice counts once",
        "sum", "the programme's rule", "Not the area where kelp grew.",
    ),
    *(
        Indicator(
            f"{form} per hectare", f"{title} per treated hectare", f"{unit} per ha",
            f"{what} over treated area; {_SHARED}", _RATIO, _COCHRAN, f"{_APART} {_LASTING} {_AREA}",
        )
        for form, title, what, unit in _KINDS
    ),
    *(
        Indicator(
            f"{form} per hectare without monitoring", f"{title} per treated hectare, without monitoring and research",
            f"{unit} per ha", f"{what} over treated area, the programme's monitoring_phases left out; {_SHARED}", _RATIO,
            _COCHRAN, f"{_APART} What is planted and not looked at again is not cheaper, it is unknown. {_AREA}",
        )
        for form, title, what, unit in _KINDS
    ),
    *(
        Indicator(
            f"{form} per unit", f"{title} per unit put down", f"{unit} per unit",
            f"{what}, at a site and for a method, over the pieces put down; {_SHARED}; what was for no single unit is "
            "parted over a site's methods by the number of units", _RATIO, _COCHRAN,
            f"{_APART} Says nothing of whether units held. A load without tags counts by its pieces.",
        )
        for form, title, what, unit in _KINDS
    ),
    *(
        Indicator(
            f"{form} in all", f"{title} in all", unit,
            f"{what}, of a site, partner, category, phase, sharing key (or direct) or method; of a site: {_SHARED}", "sum",
            "cost accounting, common practice, no source", f"{_APART} {_LASTING} Only what was told of: see what is not costed.",
        )
        for form, title, what, unit in _KINDS
    ),
    *(
        Indicator(
            f"{form} by any sharing key", f"{title}, by any sharing key", unit,
            f"{what} at a site, from least to most, were all shared costs parted by units, area, equal parts, hours or "
            "direct costs", "each key in turn, largest remainder", "common practice, no source",
            "Says how much the choice of a key matters, not which is right. Not an interval.",
        )
        for form, title, what, unit in _KINDS
    ),
    *(
        Indicator(
            f"{form} budgeted", f"{title}, planned", unit, f"{what}, as planned: rows whose actual_or_budget is budget", "sum",
            "common practice, no source", "Never part of any other figure.",
        )
        for form, title, what, unit in _KINDS
    ),
    Indicator(
        "value of hours", "Hours given, in money", "currency", "hours given times the programme's stated [hour_value]",
        "hours times a stated rate", "the programme's stated source",
        "A layer of its own, added to nothing. What an hour is worth is a choice.",
    ),
    *(
        Indicator(
            f"{form}{per} in base-year prices", f"{title}{per}, in base-year prices", f"{unit}{short}",
            f"{what}{over}: each cost in its own currency times that currency's price index of the base year over that of its "
            "month or year; then changed at the base year's mean rate", _RATIO if per else "sum",
            _COCHRAN if per else "common practice, no source",
            "Only as good as the index that the programme names. Changing first and deflating after gives another figure.",
        )
        for form, title, what, unit in _KINDS[:2]
        for per, short, over in (("", "", ""), (" per hectare", " per ha", " over treated area"))
    ),
)  # fmt: skip
