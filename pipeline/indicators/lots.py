"""What was found of lots without tags: never a curve, since nobody knows which piece was seen."""

import datetime as dt
from collections.abc import Iterable
from typing import NamedTuple

from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.figure import Figure, scope
from pipeline.plural import n_of

NAME, UNIT, LOTS, METHOD = "pieces found of lots", "fraction", "lots", "pieces found over pieces put down"


class LotLook(NamedTuple):
    """Lots of one site and method searched for on one day.

    lots: those counted, of lots_down put down by then; pieces, found: of the counted; area_m2: searched, as far as told.
    """

    site: str
    method: str
    day: dt.date
    lots: int
    lots_down: int
    pieces: int
    found: int
    area_m2: float | None
    without_area: int
    too_many: int
    uncounted: int
    youngest: int
    oldest: int


def fraction_found(look: LotLook) -> Estimate:
    """Pieces found over pieces put down, of the lots counted; n: lots. No interval: pieces not found may still be there.

    not estimable: no lot was counted.
    """
    if not look.lots:
        why = f"{look.uncounted} lots were looked at and none counted"
        return not_estimable(why, unit=UNIT, n=0, n_of=LOTS)
    age = f"{look.youngest}" if look.youngest == look.oldest else f"{look.youngest} to {look.oldest}"
    area = "an area that nobody told" if look.area_m2 is None else f"{look.area_m2:g} m2"
    note = (
        f"{look.found} of {n_of(look.pieces, 'piece')}, of {look.lots} of {n_of(look.lots_down, 'lot')}, found in {area} searched, {age} days after "
        "they were put down; a piece not found may lie beyond the search, be buried or grown over: this is no retention, "
        "and no interval can be given"
    )
    made = Estimate("estimated", UNIT, look.lots, LOTS, METHOD, value=look.found / look.pieces, note=note)
    return made.with_cautions(
        f"lots counted without the area searched: {look.without_area}" if look.without_area else "",
        f"lots of which more pieces were found than put down: {look.too_many}" if look.too_many else "",
        f"lots looked at and not counted, left out: {look.uncounted}" if look.uncounted else "",
    )


def lots(looks: Iterable[LotLook]) -> list[Figure]:
    """A figure for each site, method and day on which lots were looked at."""
    return [Figure(NAME, scope(site=k.site, method=k.method, survey=k.day), fraction_found(k)) for k in looks]
