"""Whose a cost is: direct costs by site, shared ones parted by a key, and by method; in whole hundredths."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from pipeline.indicators.cost import share_out
from pipeline.indicators.paid import Amount, Books

KEYS = ("units", "area", "equal", "hours", "direct costs")


@dataclass(frozen=True)
class Sums:
    """Hundredths by planted site, direct ones and all; what could not be given to one; keys that gave nothing to part by."""

    direct: Mapping[str, int]
    by_site: Mapping[str, int]
    unallocated: int
    empty_keys: tuple[str, ...] = ()


def by_site(books: Books, amounts: Iterable[Amount], key: str | None = None) -> Sums:
    """Direct costs first; then each shared pool is parted by its own key, or all of them by the one that is asked for."""
    direct: dict[str, int] = defaultdict(int)
    pools: dict[str, int] = defaultdict(int)
    for p, cents in amounts:
        if p.share_key is not None:
            pools[key or p.share_key] += cents
        elif p.parted:
            for site, part in (share_out(cents, dict(p.parted)) or {}).items():
                direct[site] += part
        else:
            direct[p.site or ""] += cents
    totals, unallocated, empty = dict(direct), 0, []
    for shared_by, cents in sorted(pools.items()):
        parts = share_out(cents, weights(books, shared_by, direct))
        if parts is None:
            unallocated += cents
            empty.append(shared_by)
        for site, part in (parts or {}).items():
            totals[site] = totals.get(site, 0) + part
    unallocated += sum(cents for site, cents in totals.items() if site not in books.areas)
    sites = sorted(books.areas)
    return Sums({s: direct.get(s, 0) for s in sites}, {s: totals.get(s, 0) for s in sites}, unallocated, tuple(empty))


def weights(books: Books, key: str, direct: Mapping[str, int]) -> dict[str, int | Fraction]:
    """What each planted site weighs under a key. direct: its own costs of the form that is parted, in hundredths."""
    sites = books.areas
    if key == "units":
        return {s: a.units for s, a in sites.items()}
    if key == "area":
        return {s: Fraction(a.area_m2) for s, a in sites.items()}
    if key == "equal":
        return dict.fromkeys(sites, 1)
    if key == "direct costs":
        return {s: max(direct.get(s, 0), 0) for s in sites}
    hours: dict[str, int | Fraction] = dict.fromkeys(sites, 0)
    for p in books.paid:
        if p.form == "hours" and p.site in hours:
            hours[p.site] += p.hundredths
    return {s: max(h, 0) for s, h in hours.items()}  # more taken back than given is no share to carry


def by_method(books: Books, amounts: Sequence[Amount], sums: Sums) -> dict[tuple[str, str], int]:
    """Each site's costs by method: what was for one unit goes to its method, the rest by the number of units."""
    units: dict[str, dict[str, int | Fraction]] = defaultdict(dict)
    for d in books.put_down:
        units[d.site][d.method] = d.units
    told: dict[tuple[str, str], int] = defaultdict(int)
    rest = dict(sums.by_site)
    for p, cents in amounts:
        site, method = p.site or "", p.method or ""
        if site in books.areas and method in units[site]:
            told[site, method] += cents
            rest[site] -= cents
    for site, cents in sorted(rest.items()):
        for method, part in (share_out(cents, units[site]) or {}).items():
            told[site, method] += part
    return dict(told)
