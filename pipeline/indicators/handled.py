"""Whether the handling of tissue goes with the recruits at the sites it went to. It says nothing of causes."""

import datetime as dt
import math
from collections.abc import Iterable, Mapping
from functools import partial
from typing import NamedTuple

from pipeline.indicators.custody import Chain, hours_to, warmest
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
    """How the tissue of a site was handled, by (value, units it is told of), and the recruits per m2 that were seen.

    units: all that were put down with tissue. A value told of less than half of them is None.
    """

    site: str
    batches: tuple[str, ...]
    units: int
    hours: tuple[float | None, int]
    warmest: tuple[float | None, int]
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
    units, batches, hours, warmth = 0, [], [], []
    for batch, chain in chains.items():
        here = [o for o in chain.openings if o.site == s.site and (s.on - o.on).days >= first_meaningful_day]
        if not here:
            continue
        batches.append(batch)
        for o in here:
            units += o.units
            span = None if chain.cultured else hours_to(chain, [o])
            if span is not None:
                hours.append((sum(span) / 2, o.units))
            warm = warmest(Chain(chain.steps, [o]), 0.0).value
            if warm is not None:
                warmth.append((warm, o.units))
    of_hours, of_warmth = sum(n for _, n in hours), sum(n for _, n in warmth)
    mean = math.fsum(h * n for h, n in hours) / of_hours if 2 * of_hours > units else None
    top = max(w for w, _ in warmth) if 2 * of_warmth > units else None
    density = s.recruits / s.area_m2
    days = (s.on - s.first_down).days
    return Pair(s.site, tuple(batches), units, (mean, of_hours), (top, of_warmth), density, days)


def _together(pairs: list[Pair], against: str) -> Estimate:
    of = {p.site: p.hours if against == HOURS else p.warmest for p in pairs}
    told = [p for p in pairs if of[p.site][0] is not None]
    silent = sorted(p.site for p in pairs if p not in told)
    batches = {b for p in told for b in p.batches}
    sharing = sorted({p.site for p in told for q in told if p.site != q.site and set(p.batches) & set(q.batches)})
    if len(batches) < LEAST:
        why = f"only {len(batches)} batches at {len(told)} sites; at least {LEAST} of each are wanted"
        estimate = not_estimable(why, unit="from -1 to 1", n=len(told), n_of="sites")
    else:
        handled = [value for p in told if (value := of[p.site][0]) is not None]
        estimate = kendall(handled, [p.density for p in told], "sites")
    days, untold = [p.days for p in told], sum(p.units - of[p.site][1] for p in told)
    return estimate.with_cautions(
        APART,
        f"sites left out, since it is not told of most of their tissue: {', '.join(silent)}" if silent else "",
        f"units of the other sites of whose tissue it is not told: {untold}" if untold else "",
        f"sites with tissue of one batch, which are not independent: {', '.join(sharing)}" if sharing else "",
        f"looked at between {min(days)} and {max(days)} days after planting" if days and min(days) < max(days) else "",
    )
