"""What stands against public pages, and the places on them: the same as in archives, so that two roundings cannot be laid together."""

import datetime as dt
from collections.abc import Collection, Mapping

from pipeline import archive_events
from pipeline.archive_places import hidden_species, places_of
from pipeline.pages.told import Place
from pipeline.rules.publishing import PublishingRules
from warehouse.asking import Asking


def kept_back(told: PublishingRules, handed_in: Collection[str], as_of: dt.date, today: dt.date) -> list[str]:
    """Why public pages may not be made today, a sentence each; none: they may.

    handed_in: partners of which anything is in the figures. Pages tell of the figures of all of them together.
    """
    if not told.licence:
        return ["programme.toml names no licence under [publishing]"]
    until = dict(told.open_partners(today))
    closed = sorted(p for p in handed_in if p not in until or until[p] < as_of)
    hidden = sorted(hidden_species(told, today))
    why = (
        [f"{', '.join(closed)} did not agree to the licence, or asked to wait (under [[publishing.partner]])"]
        if closed
        else []
    )
    return [*why, *([f"{', '.join(hidden)} may not be told of (under [[publishing.sensitive]])"] if hidden else [])]


def as_published(con: Asking, told: PublishingRules, today: dt.date) -> Mapping[str, tuple[Place, str]]:
    """Every site that may be seen: its place as archives have it, and its name, "" where the name would lead there."""
    archive_events.open_views(con, told.open_partners(today))
    return {
        p.key: (Place(float(p.latitude), float(p.longitude), float(p.uncertainty_m) if p.uncertainty_m else None, p.level), p.locality)
        for p in places_of(con, told, today)
        if p.kind == "site"
    }  # fmt: skip
