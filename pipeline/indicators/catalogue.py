"""What each indicator means: title, unit, formula in words, estimator, source. Everything printed reads this."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Indicator:
    """One entry of the catalogue."""

    name: str
    title: str
    unit: str
    formula: str
    estimator: str
    source: str
    limits: str


_FRAMES = (
    "quasi-Poisson with Student's t on the log scale; with up to five frames and three or more comparable sites, "
    "negative binomial with pooled k; exact Poisson for one frame; a stated upper bound when none were found"
)
_FRAME_SOURCES = "McCullagh & Nelder 1989; Garwood 1936, Biometrika 28:437"

CATALOGUE: dict[str, Indicator] = {
    i.name: i
    for i in (
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
    )
}  # fmt: skip
