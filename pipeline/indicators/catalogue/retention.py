"""Entries on what was put down: whether it stays."""

from pipeline.indicators.catalogue.entry import Indicator

ENTRIES = (
    Indicator(
        "unit retention", "Units still attached", "fraction",
        "fraction of one site's tagged units of one method still attached that many days after they were put down",
        "Turnbull's curve for visit intervals, likelihood-ratio limits", "Turnbull 1976, J. R. Stat. Soc. B 38:290",
        "Speaks of this site only. Between two visits only bounds are known. Holding is not success: afterwards the gear must come home.",
    ),
    Indicator(
        "unit retention over sites", "Units still attached, all sites", "fraction",
        "as unit retention, over all sites of the method, every site put down counted",
        "Turnbull's curve, spread between sites on the log-odds scale, t with sites less one",
        "Turnbull 1976; cluster bootstrap standard error",
        "The site is the unit: six bags at each of a few sites cannot compare rates.",
    ),
)  # fmt: skip
