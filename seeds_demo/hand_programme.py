"""The programme's own desk: registers of sites, plots, beds and permits under our own headings, so without a mapping."""

import datetime as dt
from collections.abc import Iterator
from decimal import Decimal

from seeds_demo.coast import DATUMLESS, LATE, OARWEED, Site
from seeds_demo.desk import Desk
from seeds_demo.forms import Form, Hand, Part, Values
from seeds_demo.tissue import COLLECT, PLACE, REMOVE, beds

_SITE = ("site_key", "name", "latitude", "longitude", "datum", "uncertainty_m", "radius_m", "country", "sensitive",
         "depth_min_m", "depth_max_m", "habitat", "marks")  # fmt: skip
_PLOT = ("site_key", "plot_key", "plot_kind", "area_m2", "paired_with", "control_kind", "assigned_by", "substrate")
_BED = ("bed_key", "latitude", "longitude", "datum", "uncertainty_m", "species", "estimated_on", "adults", "fertile",
        "fertile_low", "fertile_high", "estimate_method", "take_limit_pct", "limit_source", "sensitive")  # fmt: skip
_PERMIT = ("permit_key", "authority", "holder", "activity", "valid_from", "valid_to", "species", "quota", "quota_unit", "conditions",
           "report_due", "status")  # fmt: skip


def _own(kind: str, columns: tuple[str, ...], name: str = "") -> Form:
    return Form(name or f"{kind}.csv", (Part(kind, {c: c for c in columns}),), own=True)


SITES, PLOTS, BEDS, PERMITS = _own("site", _SITE), _own("plot", _PLOT), _own("bed", _BED), _own("permit", _PERMIT)
LATE_SITES, LATE_PLOTS = _own("site", _SITE, "site-late.csv"), _own("plot", _PLOT, "plot-late.csv")

HAND = Hand("programme", "", (SITES, PLOTS, BEDS, PERMITS, LATE_SITES, LATE_PLOTS))


def write_once(sites: int, desk: Desk) -> None:
    """Beds and permits."""
    for bed in beds(sites):
        desk.write(HAND, BEDS, bed, 1)
    for permit in _permits():
        desk.write(HAND, PERMITS, permit, 1)


def write(site: Site, desk: Desk) -> None:
    """A site and its plots; those of one site are only told on the second night."""
    late = site.index == LATE and desk.nights
    night = 2 if late else 1
    desk.write(HAND, LATE_SITES if late else SITES, _site(site), night)
    for plot in _plots(site):
        desk.write(HAND, LATE_PLOTS if late else PLOTS, plot, night)


def _site(site: Site) -> Values:
    return {
        "site_key": site.key, "name": site.name, "latitude": site.latitude, "longitude": site.longitude,
        "datum": None if site.index == DATUMLESS else "EPSG:4326", "uncertainty_m": 10, "radius_m": 150, "country": "XZ",
        "sensitive": "0.01", "depth_min_m": 4, "depth_max_m": Decimal("9.5"), "habitat": "rock with urchins",
        "marks": "two bolts and a mark buoy",
    }  # fmt: skip


def _plots(site: Site) -> Iterator[Values]:
    for plot in site.plots:
        control = plot.kind == "control"
        yield {
            "site_key": site.key, "plot_key": plot.key, "plot_kind": plot.kind, "area_m2": plot.area_m2,
            "paired_with": "T1" if control else None, "control_kind": "untouched" if control else None,
            "assigned_by": None if plot.kind == "reference" else "random", "substrate": "pitted rock",
        }  # fmt: skip


def _permits() -> Iterator[Values]:
    day = dt.date
    for key, activity, species, quota, unit in (
        (COLLECT, "collect", "Saccharina latissima", 200, "plants"),
        (PLACE, "place on seabed", OARWEED, None, None),
        (REMOVE, "remove grazers", None, None, None),
    ):
        yield {
            "permit_key": key, "authority": "Harbour Office of the Outer Reach", "holder": "Outer Reach kelp programme",
            "activity": activity, "valid_from": day(2022, 1, 1), "valid_to": day(2025, 12, 31),
            "species": species if activity == "collect" else None, "quota": quota, "quota_unit": unit,
            "conditions": "gear to be brought home" if activity == "place on seabed" else None,
            "report_due": day(2026, 3, 31), "status": "in force",
        }  # fmt: skip
