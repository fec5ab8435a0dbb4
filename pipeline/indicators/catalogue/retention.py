"""Entries on what was put down: whether it stays."""

from pipeline.indicators.catalogue.entry import Indicator

_CURVE = "Turnbull's curve, spread between sites on the log-odds scale, t with sites less one"
_SOURCE = "Turnbull 1976; cluster bootstrap standard error"

ENTRIES = (
    Indicator(
        "unit retention", "Units still attached", "fraction",
        "fraction of one site's tagged units of one method still attached that many days after they were put down",
        "Turnbull's curve for visit intervals, likelihood-ratio limits", "Turnbull 1976, J. R. Stat. Soc. B 38:290",
        "Speaks of this site only. Between two visits only bounds are known. Holding is not success: afterwards the gear must come home. "
        "In simulation the interval held the truth in 92 to 98 of 100 cases.",
    ),
    Indicator(
        "unit retention over sites", "Units still attached, all sites", "fraction",
        "as unit retention, over all sites of the method, every site put down counted", _CURVE, _SOURCE,
        "The site is the unit: six bags at each of a few sites cannot compare rates. "
        "Of few sites the interval is on the wide side: in simulations of three and five it held the truth in more than 98 of 100.",
    ),
    Indicator(
        "unit retention, Weibull", "Units still attached, all sites, by a smooth curve", "fraction",
        "as unit retention over sites, by one curve exp(-(day / scale)^shape) through all units",
        "Weibull, interval-censored likelihood; delete-one-site jackknife on log(-log), t with sites less one",
        "Kalbfleisch & Prentice 2002, ch. 3; Tukey 1958, Ann. Math. Stat. 29:614",
        "Takes losses to follow one smooth curve: a storm is no such thing, so read the figure without a shape beside it. Never told after the last look.",
    ),
    *(
        Indicator(
            f"unit retention by {sort}", f"Units still attached, by {sort}", "fraction",
            f"as unit retention over sites, of the units of one {what}", _CURVE, _SOURCE,
            f"{what.capitalize()}s may differ in much else: sites, days, hands. Only where more than one was used; compare only within the same sites.",
        )
        for sort, what in (("fixing", "fixing"), ("substrate", "substrate"), ("depth", "depth band"), ("partner", "partner"))
    ),
    Indicator(
        "fixings told apart", "Whether fixings held differently", "chance",
        "how often units would differ by fixing so much or more if every fixing held alike (two-sided)",
        "interval-censored score test, fixings dealt out anew within sites, or over sites where each has one",
        "Finkelstein 1986, Biometrics 42:845; Fay & Shaw 2010, J. Stat. Softw. 36(2)",
        "A small chance says that fixings differ, not by how much: read retention by fixing. A large one does not say that they are alike. "
        "Takes it that units of a site were looked at alike, whatever held them.",
    ),
    Indicator(
        "working retention", "Units attached and whole", "fraction",
        "fraction of one site's tagged units of one method that were neither gone nor seen torn or empty that many days after they were put down",
        "Turnbull's curve for visit intervals, likelihood-ratio limits", "Turnbull 1976, J. R. Stat. Soc. B 38:290",
        "Told where some unit of the method was seen torn or empty. Who does not look at a bag's state calls it attached. Once torn, a unit counts as torn.",
    ),
    Indicator(
        "working retention over sites", "Units attached and whole, all sites", "fraction",
        "as working retention, over all sites of the method", _CURVE, _SOURCE,
        "The site is the unit. Never to be mixed with units still attached, which may be torn.",
    ),
    Indicator(
        "unit retention if last absences were misses", "Units still attached, if last absences were misses", "fraction",
        "as unit retention over sites, with units that one look, the last at them, did not find taken as still there",
        _CURVE, _SOURCE,
        "The other end of what a single look can mean; the truth lies between this and unit retention over sites.",
    ),
    Indicator(
        "unit retention if not found", "Units still attached, whatever became of sites not found", "fraction",
        "the least if all units of sites that were not found again went by then, and the most if all stayed",
        "Turnbull's curve fitted to either coding", "Turnbull 1976, J. R. Stat. Soc. B 38:290",
        "Bounds without a 95 % interval. A site may not be found because a storm took marks and units alike.",
    ),
    Indicator(
        "day half are gone", "Day by which half are gone", "days",
        "first day since units were put down on which at most half of them were still attached",
        "Turnbull's curve", "Turnbull 1976, J. R. Stat. Soc. B 38:290",
        "As near as visits tell. Not reached is not never.",
    ),
    Indicator(
        "missed though there", "Units called missing though they were there", "fraction",
        "looks that called a unit missing which was seen later, over these and the sightings before each unit's last",
        "fraction of looks, exact binomial limits", "Clopper & Pearson 1934, Biometrika 26:404",
        "Of units seen again only: a unit never seen again may have been missed too. Looks of one dive are not independent.",
    ),
)  # fmt: skip
