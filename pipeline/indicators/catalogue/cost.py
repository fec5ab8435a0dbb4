"""Entries on what it cost."""

from pipeline.indicators.catalogue.entry import Indicator

ENTRIES = (
    Indicator(
        "treated area", "Treated area", "m2",
        "area of the planted plots, or area per unit, by the programme's treated_area_rule; a plot planted twice counts once",
        "sum", "the programme's rule", "Not the area where kelp grew.",
    ),
    *(
        Indicator(
            f"{form} per hectare", f"{title} per treated hectare", unit,
            f"{what} over treated area; shared costs parted by their stated key in whole hundredths",
            "ratio of totals, linearised t over sites; one site has no interval", "Cochran 1977, Sampling Techniques, ch. 6",
            "Cash, gifts in kind and hours are never added up. The interval leaves out exchange and hour rates. Under the programme's stated area: a trial cost, do not scale.",
        )
        for form, title, what, unit in (
            ("cash", "Cash cost", "money paid", "currency per ha"),
            ("in kind", "In-kind cost", "gifts in kind at their stated value", "currency per ha"),
            ("hours", "Hours given", "hours given", "hours per ha"),
        )
    ),
)  # fmt: skip
