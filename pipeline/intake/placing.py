"""What a mapping says of positions where the cells alone do not tell: `[position]`, for the whole file or one part."""

from dataclasses import dataclass, replace

from pipeline.errors import BadUsage
from pipeline.intake.grids import datum_code, is_grid, utm_zone
from pipeline.intake.radius import RECEIVERS
from pipeline.toml_read import Table

UTM = "UTM"  # the zone stands in the cells
AS_WRITTEN = "as written"


@dataclass(frozen=True)
class Position:
    """How positions are written.

    language         of the letters: O is west in Spanish and east in German.
    hemisphere       N, S, E or W of cells with neither sign nor letter, where the heading says it.
    crs              EPSG code of the datum or grid; UTM when each cell names its zone; "" for WGS 84.
    longitude_first  of two in one cell without letters.
    utm_letter       “band” or “hemisphere”: what S behind a zone's number means, "" when nobody said.
    uncertainty      where none is given: “as written” by the digits alone, or those and a sort of receiver; "" to leave it blank.
    estimated_error  whether a given uncertainty is the receiver's own estimate, which holds the place one time in two.
    """

    language: str = "en"
    hemisphere: tuple[str, ...] = ()
    crs: str = ""
    longitude_first: bool = False
    utm_letter: str = ""
    uncertainty: str = ""
    estimated_error: bool = False

    @property
    def every_row(self) -> bool:
        """Whether even plain decimal degrees need a look."""
        return bool(self.hemisphere or self.crs or self.uncertainty or self.estimated_error)


PLAIN = Position()


def position_in(t: Table, otherwise: Position) -> Position:
    """The table's [position] over what was said above it. BadUsage names the key and what it may be."""
    p = t.table("position", {})
    made = replace(
        otherwise,
        hemisphere=tuple(p.some_of("hemisphere", ("N", "S", "E", "W")))
        if "hemisphere" in p.data
        else otherwise.hemisphere,
        crs=_crs(p) if "crs" in p.data else otherwise.crs,
        longitude_first=p.one_of("order", ("lat lon", "lon lat"), "lon lat" if otherwise.longitude_first else "lat lon")
        == "lon lat",
        utm_letter=p.one_of("utm_letter", ("band", "hemisphere"), otherwise.utm_letter)
        if "utm_letter" in p.data
        else otherwise.utm_letter,
        uncertainty=p.one_of("uncertainty", (AS_WRITTEN, *RECEIVERS), None)
        if "uncertainty" in p.data
        else otherwise.uncertainty,
        estimated_error=p.yes_no("estimated_error", otherwise.estimated_error),
    )
    p.refuse_unknown("hemisphere", "crs", "utm_letter", "uncertainty")
    for pair in ("NS", "EW"):
        if set(pair) <= set(made.hemisphere):
            raise BadUsage(f"{p.where}: `hemisphere` says both {pair[0]} and {pair[1]}. Take one away.")
    return made


def _crs(p: Table) -> str:
    text = p.text("crs")
    code = UTM if text.strip().upper() == UTM else utm_zone(text) or datum_code(text)
    if code != UTM and (not code or is_grid(code) is None):
        raise BadUsage(
            f'{p.where}: `crs` is {text!r}; an EPSG code that PROJ knows such as "EPSG:27700", a zone such as "UTM 29N" or '
            '"UTM 56 south", or "UTM" where each cell names its zone is wanted.'
        )
    return code
