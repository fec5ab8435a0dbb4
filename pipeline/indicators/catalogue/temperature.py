"""Entries on how warm it was."""

from pipeline.indicators.catalogue.entry import Indicator

_DAY = (
    "a day counts when it has the programme's share of the logger's usual readings; readings out of the water, flagged "
    "or impossible are left out, and days that jumped as in air"
)
_ONE_LOGGER = "Speaks of one logger at its depth. No interval: every full day is told, none is drawn."
_LIMIT = "The limit is set by the programme; that days lie above it does not say what became of the kelp."
_HOBDAY = "Hobday et al. 2016, Prog. Oceanogr. 141:227; categories Hobday et al. 2018, Oceanography 31(2):162"
_EVENT = "five days or more above the 90th percentile for the day of the year; events two days apart or less are one"

ENTRIES = (
    Indicator(
        "mean temperature", "Mean temperature", "degC", f"mean of a logger's daily means in a season; {_DAY}", "mean",
        "daily means: common practice, no source", _ONE_LOGGER,
    ),
    Indicator(
        "warmest day", "Warmest day", "degC", f"greatest daily mean of a logger in a season; {_DAY}", "greatest",
        "daily means: common practice, no source", _ONE_LOGGER,
    ),
    Indicator(
        "days above limit", "Days above the species' limit", "days",
        f"days of a season whose mean lies above the limit; {_DAY}; bounds where days are missing", "count",
        "the programme's limit, with its source", f"{_ONE_LOGGER} {_LIMIT}",
    ),
    Indicator(
        "longest run above limit", "Longest run of days above the species' limit", "days",
        f"the longest run of days in a season whose means all lie above the limit; {_DAY}; bounds where days are missing",
        "count", "the programme's limit, with its source", f"{_ONE_LOGGER} {_LIMIT} A run over the turn of a season is cut.",
    ),
    Indicator(
        "degree-days above limit", "Degree-days above the species' limit", "degC days",
        f"what the daily means of a season lie above the limit, added up; {_DAY}",
        "sum over daily means; a single sine where only each day's lowest and highest are told",
        "the programme's limit, with its source; sine: Baskerville & Emin 1969, Ecology 50:514 (from memory)",
        f"{_ONE_LOGGER} {_LIMIT} Missing days add nothing, so it is the least it can be.",
    ),
    Indicator(
        "heatwaves", "Marine heatwaves", "events", f"events that began in a season: {_EVENT}",
        "climatology of thirty years or more, supplied or of the logger's own record", _HOBDAY,
        "Refused without such a climatology: a short logger cannot show a heatwave. A missing day counts as an ordinary one.",
    ),
    Indicator(
        "heatwave length", "Length of a marine heatwave", "days", f"first to last day, gaps counted: {_EVENT}",
        "as heatwaves", _HOBDAY, "As heatwaves.",
    ),
    *(
        Indicator(
            f"heatwave {which} intensity", f"{title} of a marine heatwave", unit,
            f"{what} of daily mean less seasonal mean over the event", "as heatwaves", _HOBDAY, "As heatwaves.",
        )
        for which, title, unit, what in (
            ("greatest", "Greatest intensity", "degC", "the greatest"),
            ("mean", "Mean intensity", "degC", "the mean"),
            ("cumulative", "Cumulative intensity", "degC days", "the sum"),
        )
    ),
    Indicator(
        "heatwave category", "Category of a marine heatwave", "1 to 4",
        "1 moderate, 2 strong, 3 severe, 4 extreme: how many times the distance of the threshold from the seasonal mean was reached",
        "as heatwaves", _HOBDAY, "As heatwaves.",
    ),
)  # fmt: skip
