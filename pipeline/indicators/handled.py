"""Whether the handling of tissue goes with the recruits at the sites it went to. It says nothing of causes."""

import datetime as dt
from collections.abc import Iterable, Mapping
from functools import partial
from typing import NamedTuple

from pipeline.indicators.custody import Chain, Opening, hours_to, warmest
from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.figure import Figure, scope
from pipeline.indicators.rank import LEAST, kendall
from pipeline.indicators.remember import Memory

HOURS, WARMTH = "hours from cut to opening", "warmest tissue"
APART = "few batches: site and handling cannot be told apart"


class Seen(NamedTuple):
    """Recruits of a species counted in the treated plots of a site in one round, and the area searched."""

    site: str
    species: str
    protocol: str
    on: dt.date
    first_down: dt.date
    recruits: int
    area_m2: float


class Pair(NamedTuple):
    """How the tissue of a site was handled, None where it is not told, and the recruits per m2 that were seen."""

    site: str
    batches: tuple[str, ...]
    hours: float | None
    warmest: float | None
    density: float
    days: int


def handling_and_recruits(
    seen: Iterable[Seen], chains: Mapping[str, Chain], first_meaningful_day: int, memory: Memory
) -> list[Figure]:
    """For each species and protocol: hours from cut to opening, and warmest tissue, against recruits, over sites.

    Of each site counts its first round that is not too early after the first planting; and the batches put down as long before it.
    """
    rounds: dict[tuple[str, str], dict[str, Seen]] = {}
    for s in seen:
        if (s.on - s.first_down).days >= first_meaningful_day and s.area_m2 > 0:
            sites = rounds.setdefault((s.species, s.protocol), {})
            if s.site not in sites or s.on < sites[s.site].on:
                sites[s.site] = s
    figures = []
    for (species, protocol), sites in sorted(rounds.items()):
        pairs = [_pair(s, chains, first_meaningful_day) for _, s in sorted(sites.items())]
        for against in (HOURS, WARMTH):
            what = scope(site="all", species=species, protocol=protocol, against=against)
            estimate = memory.recall(
                "handling and recruits", what, [against, pairs], partial(_together, pairs, against)
            )
            figures.append(Figure("handling and recruits", what, estimate))
    return figures


def _pair(s: Seen, chains: Mapping[str, Chain], first_meaningful_day: int) -> Pair:
    mine: list[tuple[str, Chain, list[Opening]]] = []
    for batch, chain in chains.items():
        here = [o for o in chain.openings if o.site == s.site and (s.on - o.on).days >= first_meaningful_day]
        if here:
            mine.append((batch, chain, here))
    spans = [(hours_to(chain, [o]), o.units) for _, chain, here in mine for o in here]
    told = [(span, units) for span, units in spans if span is not None]
    cultured = any(chain.cultured for _, chain, _ in mine)
    whole = len(told) == len(spans) > 0 and not cultured
    hours = sum(units * sum(span) / 2 for span, units in told) / sum(units for _, units in told) if whole else None
    warmth = [warmest(Chain(chain.steps, here), 0.0).value for _, chain, here in mine]
    degrees = [w for w in warmth if w is not None]
    return Pair(
        s.site, tuple(batch for batch, _, _ in mine), hours,
        max(degrees) if len(degrees) == len(warmth) > 0 else None, s.recruits / s.area_m2, (s.on - s.first_down).days,
    )  # fmt: skip


def _together(pairs: list[Pair], against: str) -> Estimate:
    told = [(p, value) for p in pairs if (value := p.hours if against == HOURS else p.warmest) is not None]
    silent = sorted({p.site for p in pairs} - {p.site for p, _ in told})
    batches = {b for p, _ in told for b in p.batches}
    sharing = sorted({p.site for p, _ in told for q, _ in told if p.site != q.site and set(p.batches) & set(q.batches)})
    if len(batches) < LEAST:
        why = f"only {len(batches)} batches at {len(told)} sites; at least {LEAST} of each are wanted"
        estimate = not_estimable(why, unit="from -1 to 1", n=len(told), n_of="sites")
    else:
        estimate = kendall([value for _, value in told], [p.density for p, _ in told], "sites")
    days = [p.days for p, _ in told]
    return estimate.with_cautions(
        APART,
        f"sites left out, since it is not told of all their tissue: {', '.join(silent)}" if silent else "",
        f"sites with tissue of one batch, which are not independent: {', '.join(sharing)}" if sharing else "",
        f"looked at between {min(days)} and {max(days)} days after planting" if days and min(days) < max(days) else "",
    )
