"""Blank sheets for the next visit to a site: its units and frames are given as on the dive sheet, with boxes beside them.

Frames stand a row each, with a box for each species and stage, as on the slate: a box left blank beside one that is filled
is a stage nobody counted, and a frame without any is no frame.
"""

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

from pipeline.blanking import Desk, Way, bound, code_of, said_in, sheet, way
from pipeline.blanks.boxes import Sheet
from pipeline.errors import BadUsage
from pipeline.gathering import sites
from pipeline.gathering_beside import targets
from pipeline.intake.units import exact_conversion
from pipeline.intake.ways import PartMap
from pipeline.pages.dive_sheet import frames_to_count, route
from pipeline.pages.told import Site, Target
from pipeline.pages.words import words as page_words
from pipeline.session import session

VISIT = ("visit", "check", "survey")
ONCE = ("happened", "visit_key", "dive_number", "recorded_by")  # one dive: written once, above the table
OF_ONE_COUNT = ("species", "stage", "count", "count_qualifier", "count_most", "cover_pct", "length_cm", "fertile_count", "plant_no",
                "qualifier", "counted_as", "stage_basis", "alive")  # fmt: skip
NEW_ROWS = 6  # frames for a site where none was counted yet, a plot


def blank_visit(root: Path, at: Desk, site: str, kinds: Sequence[str]) -> bytes:
    """A workbook for the next visit to a site. BadUsage when the site is not registered or a kind is not of visits."""
    for kind in kinds:
        if kind not in VISIT:
            raise BadUsage(f"A visit has sheets of {', '.join(VISIT)}; not of {kind!r}.")
    with session(root) as (con, rules):
        told, searched = {s.key: s for s in sites(con, page_words("en"), {})}, targets(rules)
    if site not in told:
        raise BadUsage(f"{site!r} is no registered site. There are: {', '.join(told) or 'none'}.")
    here = told[site]
    made = {
        "visit": lambda: _dive(at, here),
        "check": lambda: _units(at, here),
        "survey": lambda: _frames(at, here, [t for t in searched if t.placement != "at unit"]),
    }
    return bound(at, [made[k]() for k in VISIT if k in kinds], f"{here.name} ({here.key})")


def _numbered(at: Desk, w: Way, part: PartMap, given: Sequence[str], also: Sequence[str] = ()) -> Way:
    """The way with numbers for given rows. given: our columns that are filled in beforehand; all others are boxes."""
    headings = _headings([part])
    asked = tuple(h for c, h in part.headings.items() if c not in given)
    made = replace(w.sheet, parts=(part,), number=_free(at.said("No."), headings), boxes=asked)
    return replace(w, sheet=made, also=tuple(_free(a, headings) for a in also))


def _headings(parts: Sequence[PartMap]) -> set[str]:
    return {h for p in parts for h in p.needs()}


def _free(heading: str, taken: set[str]) -> str:
    """A heading that no column of the sheet has."""
    return heading if heading not in taken else _free(f"{heading} *", taken)


def _own_part(w: Way, kind: str) -> PartMap:
    """The part of a way that tells of a kind, the first where a row tells of several; every row of it is meant."""
    part = next(p for p in w.sheet.parts if p.kind == kind)
    told = part.only_if in part.headings.values()
    return replace(part, only_if="", only_words=()) if told else part


def _place(at: Desk, part: PartMap, site: Site, **more: Any) -> dict[str, Any]:
    """What is known of a row, under the partner's headings; columns that it does not have are left out."""
    known = {"site_key": code_of(at, "site_key", site.key), **more}
    return {part.headings[c]: v for c, v in known.items() if c in part.headings and v is not None}


def _dive(at: Desk, site: Site) -> Sheet:
    w = way(at, "visit")
    part = _own_part(w, "visit")
    made = _numbered(at, w, part, ("site_key",))
    return sheet(at, made, [{made.sheet.number: 1, **_place(at, part, site)}])


def _units(at: Desk, site: Site) -> Sheet:
    """Units that may still be there, in the order of the dive sheet, with what was seen of them last."""
    w = way(at, "check")
    part = _own_part(w, "check")
    state, seen = at.said("Last state"), at.said("Last looked at")
    made = _numbered(at, w, part, ("site_key", "unit_key", *ONCE), (at.said("Fixing"), state, seen))
    fixing, state, seen = made.also
    rows = [
        {
            made.sheet.number: n,
            **_place(at, part, site, unit_key=code_of(at, "unit_key", leg.unit.key)),
            fixing: said_in(at, "fixing", leg.unit.fixing),
            state: said_in(at, "state", leg.unit.last_state) or at.said("not looked at again"),
            seen: leg.unit.last_on.isoformat() if leg.unit.last_on else None,
        }
        for n, leg in enumerate(route(site), 1)
    ]
    return sheet(at, made, rows, _once([part]) if rows else ())


def _frames(at: Desk, site: Site, searched: Sequence[Target]) -> Sheet:
    """As many frames a plot as in the last round, and a box for each species and stage that is searched for."""
    w = way(at, "survey")
    counts = _counted(at, w, searched)
    first, taken = counts[0], _headings(counts)
    shared = {c: h for c, h in first.headings.items() if all(p.headings.get(c) == h for p in counts)}
    given = {"site_key", "plot_key", "frame_key", "area_m2", *ONCE}
    boxes = dict.fromkeys(h for p in counts for c, h in p.headings.items() if not (c in shared and c in given))
    number, kind = _free(at.said("No."), taken), _free(at.said("Kind of plot"), taken)
    made = replace(w, sheet=replace(w.sheet, parts=tuple(counts), number=number, boxes=tuple(boxes)), also=(kind,))
    areas = {f.plot: f.area_m2 for f in site.frames if not f.near_units}
    rows, of_plot = [], dict[str, int]()
    for n, (plot, sort) in enumerate(frames_to_count(site.frames) or _as_planned(site), 1):
        of_plot[plot] = of_plot.get(plot, 0) + 1
        known = {
            "plot_key": code_of(at, "plot_key", plot),
            "frame_key": str(of_plot[plot]),
            "area_m2": _area(first, areas.get(plot)),
        }
        rows.append({number: n, kind: at.said(sort), **_place(at, first, site, **known)})
    return sheet(at, made, rows, _once(counts) if rows else ())


def _as_planned(site: Site) -> list[tuple[str, str]]:
    """Where nothing was counted yet, some frames for each plot."""
    return [(p.key, p.kind) for p in site.plots for _ in range(NEW_ROWS)]


def _counted(at: Desk, w: Way, searched: Sequence[Target]) -> list[PartMap]:
    """A part for each species and stage: the partner's own where its headings tell them, else made from its long rows."""
    own = [p for p in w.sheet.parts if p.kind == "survey"]
    told = [p for p in own if {"species", "stage"} <= {*p.fixed} and "count" in p.headings]
    if told or not searched:
        return told or [_own_part(w, "survey")]
    long = _own_part(w, "survey")
    drop = {*OF_ONE_COUNT, "frame_type", "placement", "protocol"}  # these the protocol tells
    kept = {c: h for c, h in long.headings.items() if c not in drop}
    made = []
    for t in searched:
        for stage in t.stages:
            heading = _free(f"{said_in(at, 'species', t.species)}: {said_in(at, 'stage', stage)}", {*kept.values()})
            how = {"frame_type": t.frame, "placement": t.placement, "protocol": t.protocol}
            fixed = {**long.fixed, **how, "species": t.species, "stage": stage}
            codes = {c: w for c, w in long.codes.items() if c not in drop}
            made.append(replace(long, headings={**kept, "count": heading}, fixed=fixed, codes=codes))
    return made


def _area(part: PartMap, area_m2: float | None) -> Decimal | None:
    """A frame's area as the partner writes it."""
    if area_m2 is None:
        return None
    factor = (exact_conversion(part.units.get("area_m2", "m2"), "m2") or (Fraction(1),))[0]
    value = Fraction(str(area_m2)) / factor
    return Decimal(f"{float(value):.6g}")


def _once(parts: Sequence[PartMap]) -> list[str]:
    return [parts[0].headings[c] for c in ONCE if c in parts[0].headings]
