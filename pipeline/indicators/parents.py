"""Who the parents were: how many plants gave the tissue of a batch or a site, and how far away they grew."""

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.figure import Figure, scope
from pipeline.indicators.geodesic import Place, distance


class Source(NamedTuple):
    """A cutting upstream of a site or a batch (the other is None), or a batch of which nobody told where it came from.

    parents: different plants that gave tissue, None where the cutting does not say; plants: how many were cut from.
    """

    site: str | None
    batch: str | None
    source: str
    bed: str | None
    parents: int | None
    plants: int | None
    known: bool


def parent_plants(sources: Iterable[Source], untold: Mapping[str, int]) -> list[Figure]:
    """Parent plants of every batch and of every site. untold: units at a site whose batch nobody wrote down."""
    batches: dict[str, list[Source]] = {}
    sites: dict[str, list[Source]] = {site: [] for site in untold}
    for s in sources:
        if s.site is not None:
            sites.setdefault(s.site, []).append(s)
        elif s.batch is not None:
            batches.setdefault(s.batch, []).append(s)
    return [
        *(Figure("parent plants of a batch", scope(batch=b), parents(told)) for b, told in sorted(batches.items())),
        *(
            Figure("parent plants of a site", scope(site=s), parents(told, untold.get(s, 0)))
            for s, told in sorted(sites.items())
        ),
    ]


def parents(sources: Sequence[Source], untold: int = 0) -> Estimate:
    """Different plants upstream.

    Cuttings of one bed may share plants: at least as many as its largest cutting, at most all together. A cutting that
    does not say how many gave tissue had one at least, and at most all it cut from. With an unknown batch upstream
    there is no upper end.
    """
    known, unknown = [s for s in sources if s.known], sorted(s.source for s in sources if not s.known)
    beside = (
        "parents not known of: " + ", ".join(unknown) if unknown else "",
        f"units whose batch nobody told: {untold}" if untold else "",
    )
    if not known:
        why = "no cutting upstream is known"
        return not_estimable(why, unit="plants", n=0, n_of="cuttings").with_cautions(*beside)
    beds: dict[str, list[Source]] = {}
    for s in known:
        beds.setdefault(s.bed or "", []).append(s)
    least = sum(max(s.parents or 1 for s in cuttings) for cuttings in beds.values())
    most = sum(s.parents or s.plants or 1 for s in known)
    silent = sorted(s.source for s in known if s.parents is None)
    note = f"{_number(len(known), 'cutting')} of {_number(len(beds), 'bed')}: {', '.join(sorted(beds))}"
    open_above = bool(unknown or untold)
    exact = least == most and not open_above
    estimate = Estimate(
        "estimated" if exact else "bounded", "plants", len(known), "cuttings", "plants counted",
        value=float(least) if exact else None, value_from=None if exact else float(least),
        value_to=None if exact or open_above else float(most), note=note,
    )  # fmt: skip
    return estimate.with_cautions(
        *beside,
        "cuttings of one bed may have given tissue of the same plants" if len(known) > len(beds) else "",
        "cuttings that do not say how many plants gave tissue: " + ", ".join(silent) if silent else "",
    )


def _number(n: int, what: str) -> str:
    return f"{n} {what}{'' if n == 1 else 's'}"


def donor_distances(
    pairs: Iterable[tuple[str, str]], sites: Mapping[str, Place], beds: Mapping[str, Place]
) -> list[Figure]:
    """How far every donor bed lies from every site that its tissue went to. pairs: (site, bed)."""
    figures = []
    for site, bed in sorted(pairs):
        if site in sites and bed in beds:
            estimate = distance(sites[site], beds[bed]).with_cautions(
                "" if sites[site].datum_told else f"the datum of site {site} was not told; EPSG:4326 is assumed",
                "" if beds[bed].datum_told else f"the datum of bed {bed} was not told; EPSG:4326 is assumed",
            )
        else:
            what = f"the bed {bed}" if bed not in beds else f"the site {site}"
            why = f"{what} is registered without a position"
            estimate = not_estimable(why, unit="km", n=1, n_of="pairs of places")
        figures.append(Figure("donor distance", scope(site=site, bed=bed), estimate))
    return figures
