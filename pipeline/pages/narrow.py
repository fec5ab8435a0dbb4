"""What one page may see of all that is told, so that a page whose own values stay is known to be as it was.

A page is made of its narrow values alone; whatever else changes cannot change it.
"""

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

from pipeline.indicators.figure import Figure
from pipeline.pages.told import Behind, Site, Told


def of_site(told: Told, site: Site) -> Told:
    """The values of a site's page and dive sheet. They know the month, not the day, and what was told of their site."""
    return replace(
        _bare(told), as_of=last_told(site), today=told.today.replace(day=1), sites=[site], figures=told.by_site.get(site.key, []),
        due=[d for d in told.due if d.site == site.key],
    )  # fmt: skip


def of_figures(told: Told, figures: Sequence[Figure], behind: Behind) -> Told:
    """The values of a page that tells of these figures in full, with the rows behind them and no others. behind: of these and more."""
    mine = {f.id: behind.places[f.id] for f in figures if f.id in behind.places}
    places = sorted({at for these in mine.values() for at in these})
    new = {at: n for n, at in enumerate(places)}
    own = Behind(
        {new[at]: behind.rows[at] for at in places}, {i: tuple(new[at] for at in these) for i, these in mine.items()},
        {f.id: behind.spans[f.id] for f in figures if f.id in behind.spans},
    )  # fmt: skip
    return replace(
        _bare(told), as_of=None, today=dt.date.min, sites=[], figures=figures, due=[], targets=[], stages=[], behind=own
    )


def last_told(site: Site) -> dt.date | None:
    """The last day on which anything is told of a site, None where nothing is."""
    return max([*(h.day for h in site.happenings), *(t.day for t in site.warmth)], default=None)


def _bare(told: Told) -> Told:
    return replace(
        told, receipt=0, beds=[], partners=[], permits=[], arrived=[], moved=[], held=0, waiting=0, land=None
    )  # fmt: skip
