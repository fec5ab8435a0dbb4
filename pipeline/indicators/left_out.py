"""Sites that a figure over sites leaves out: how its cautions name them, and how they are read again."""

from collections.abc import Sequence

from pipeline.indicators.figure import Figure
from pipeline.indicators.site_means import SHOWN
from pipeline.plural import n_of

NOT_FAIR = "left out, since no comparison was fair there:"
TOO_EARLY = "too early for recruits to show at"


def named(sites: Sequence[str]) -> str:
    """Sites by their names; many of them by their number."""
    return ", ".join(sites) if len(sites) <= SHOWN else n_of(len(sites), "site")


def sites_left_out(figure: Figure) -> list[str]:
    """The sites that the figure's cautions say it leaves out; none where there were too many to name."""
    for text in figure.estimate.cautions:
        for why in (NOT_FAIR, TOO_EARLY):
            if text.startswith(f"{why} "):
                sites = text.removeprefix(f"{why} ").split(", ")
                return [] if len(sites) == 1 and sites[0].endswith(" sites") else sites
    return []
