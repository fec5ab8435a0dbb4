"""The sheet that divers take along to one site, on one A4 that works in grey; and its positions as GPX 1.1.

It gives no gas, decompression or tide advice, and never says that anything is safe: the dive supervisor decides.
"""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from xml.etree import ElementTree as Tree

from pipeline.pages.plan import way
from pipeline.pages.shell import Shell, file_name
from pipeline.pages.told import Due, FrameCount, Place, Site, Unit

UNITS = 34  # rows on one A4 beside the frames
FRAMES, ROOMY = 30, 22  # rows of frames on one A4, and how many of them may be high
VISITS = 4
LOTS = 24  # named on it; the site's page has them all
GPX = "http://www.topografix.com/GPX/1/1"


@dataclass(frozen=True)
class Leg:
    """One unit on the way: bearing and metres from the one before, None where positions do not tell."""

    unit: Unit
    bearing: float | None
    metres: float | None


def dive_sheet(shell: Shell, site: Site) -> bytes:
    """The sheet of one site."""
    told = shell.told
    due = [d for d in told.due if d.site == site.key and d.what in ("check", "survey", "visit")]
    legs = route(site)
    frames = frames_to_count(site.frames)
    lots = [f"{u.key} ({u.pieces})" for u in sorted(site.units, key=lambda u: u.key) if u.pieces > 1 and u.may_be_there]
    return shell.page(
        "dive.html", f"dives/{file_name(site.key)}.html", site=site, due=due, legs=legs[:UNITS], lots=lots[:LOTS], lots_left=max(0, len(lots) - LOTS), units_left=max(0, len(legs) - UNITS),
        gone=sum(not u.may_be_there for u in site.units), frames=frames[:FRAMES], tight=len(frames) > ROOMY, frames_left=max(0, len(frames) - FRAMES),
        visits=sorted(site.visits, key=lambda v: v.day, reverse=True)[:VISITS], void=void_after(due, told.today),
        stages=_stages(shell), placed_on=sorted({leg.unit.down_on for leg in legs if leg.unit.place}), style=shell.style(), gpx=file_name(site.key) + ".gpx" if site.place else "",
    )  # fmt: skip


def void_after(due: Sequence[Due], today: dt.date) -> dt.date:
    """The day after which nobody should dive by the sheet: the last of the month after the one in which the first thing is due.

    What is overdue counts as due this month. That is 28 to 61 days (common practice, no source), and the sheet of a site
    of which nothing new is told stays the same for a month.
    """
    first = max(min((d.day for d in due), default=today), today)
    return (first.replace(day=1) + dt.timedelta(days=70)).replace(day=1) - dt.timedelta(days=1)


def route(site: Site) -> list[Leg]:
    """Units that may still be there: those with a position each nearest to the one before, beginning at the mark."""
    here = [u for u in site.units if u.may_be_there and u.pieces == 1]
    placed = sorted((u for u in here if u.place), key=lambda u: u.key)
    at, known, legs = site.place, site.place.uncertainty_m if site.place else None, []
    while placed:
        nearest = min(placed, key=lambda u: (_metres(at, u.place), u.key))
        placed.remove(nearest)
        legs.append(_leg(nearest, at, known))
        at, known = nearest.place, nearest.place.uncertainty_m if nearest.place else None
    return legs + [Leg(u, None, None) for u in sorted((u for u in here if not u.place), key=lambda u: u.key)]


def _metres(start: Place | None, end: Place | None) -> float:
    return way(start, end)[1] if start and end else 0.0


def _leg(unit: Unit, at: Place | None, known: float | None) -> Leg:
    if at is None or unit.place is None:
        return Leg(unit, None, None)
    bearing, metres = way(at, unit.place)
    # nearer than the positions are known, a bearing would be chance
    blind = metres < max(known or 0.0, unit.place.uncertainty_m or 0.0)
    return Leg(unit, None if blind else bearing, metres)


def frames_to_count(frames: Sequence[FrameCount]) -> list[tuple[str, str]]:
    """Plot and kind of every frame of each plot's own last round, as often as it was counted: as many are wanted again.

    A dive that reached one plot only must not take the others from the next sheet: treated is held against control.
    """
    plain = [f for f in frames if not f.near_units]
    last: dict[str, dt.date] = {}
    for f in plain:
        last[f.plot] = max(last.get(f.plot, f.round_on), f.round_on)
    times: dict[tuple[str, str, str, str], int] = {}
    for f in plain:
        if f.round_on == last[f.plot]:
            key = (f.plot, f.plot_kind, f.species, f.stage)
            times[key] = times.get(key, 0) + 1
    most: dict[tuple[str, str], int] = {}
    for (plot, kind, _, _), n in times.items():
        most[plot, kind] = max(most.get((plot, kind), 0), n)
    return [place for place, n in sorted(most.items(), key=lambda t: (t[0][1] != "treated", t[0])) for _ in range(n)]


def _stages(shell: Shell) -> list[tuple[str, str]]:
    """Species and stage that the random frames are searched for: the columns of the blank boxes."""
    found: list[tuple[str, str]] = []
    for t in shell.told.targets:
        if t.placement != "at unit":
            found += [(t.species, s) for s in t.stages if (t.species, s) not in found]
    return found[:6]


def gpx(shell: Shell, site: Site) -> bytes:
    """Waypoints of the site's mark and of units that may still be there. Topografix 2004, GPX 1.1."""
    Tree.register_namespace("", GPX)
    root = Tree.Element(f"{{{GPX}}}gpx", {"version": "1.1", "creator": "Wrackline"})
    meta = Tree.SubElement(root, f"{{{GPX}}}metadata")
    _put(meta, "name", _plain(f"{site.name} ({site.key})"))
    _put(meta, "desc", shell.words("Not for navigation. Exact places inside: not for publication."))
    spots: list[tuple[str, Place, dict[str, Any]]] = []
    if site.place:
        spots.append((site.key, site.place, {"what": shell.words("mark of the site")}))
    spots += [
        (
            leg.unit.key,
            leg.unit.place,
            {"what": f"{shell.words(leg.unit.method)} {shell.words(leg.unit.fixing)}".strip()},
        )
        for leg in route(site)
        if leg.unit.place
    ]
    for name, place, told in spots:
        point = Tree.SubElement(
            root, f"{{{GPX}}}wpt", {"lat": f"{place.latitude:.7f}", "lon": f"{place.longitude:.7f}"}
        )
        _put(point, "name", _plain(name))
        off = "" if place.uncertainty_m is None else f", ± {place.uncertainty_m:g} m"
        _put(point, "desc", _plain(told["what"] + off))
    text: bytes = Tree.tostring(root, encoding="utf-8", xml_declaration=True)
    return text + b"\n"


def _put(parent: Tree.Element, name: str, text: str) -> None:
    Tree.SubElement(parent, f"{{{GPX}}}{name}").text = text


def _plain(text: str) -> str:
    """Without characters that XML cannot hold."""
    return "".join(c if c.isprintable() else " " for c in text)
