"""What was taken of a donor bed in a season, beside its limit, and how long it rested between cuttings."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import NamedTuple

from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.figure import Figure, scope

Cautions = Mapping[tuple[str, str], Mapping[str, int]]  # by (bed, season): what to beware of, how often
OLD_DAYS = 365  # an estimate older than this when cutting began is told of


class Counted(NamedTuple):
    """An estimate of a bed: how many there are, and its own low and high."""

    number: int
    low: int | None
    high: int | None


class Bed(NamedTuple):
    """A registered bed. limit_pct, limit_source and rest_days are None where the bed states none."""

    bed: str
    estimated_on: dt.date
    method: str | None
    fertile: Counted | None
    adults: Counted | None
    blades: Counted | None
    limit_pct: Decimal | None
    limit_source: str | None
    rest_days: int | None


class Taken(NamedTuple):
    """What one season's cuttings took of a bed. plants, blades, first_on: None where no cutting stands or tells."""

    bed: str
    season: str
    cuttings: int
    plants: int | None
    blades: int | None
    blades_untold: int
    waiting: int
    first_on: dt.date | None


class CuttingDay(NamedTuple):
    """A day on which a bed was cut, and the last one before it."""

    bed: str
    season: str
    on: dt.date
    before: dt.date | None


NAMES = {"fertile": "fertile plants", "adults": "adult plants", "blades": "fertile blades"}


def shares(
    taken: Iterable[Taken], beds: Mapping[str, Bed], limit_pct: Decimal, around: Cautions, held: int
) -> list[Figure]:
    """The share of fertile plants, and of adults and fertile blades where the bed has such an estimate, that was taken.

    limit_pct: the programme's limit, for beds that state none. held: rows of cuttings that are held, of whichever bed.
    """
    figures = []
    for t in taken:
        bed = beds.get(t.bed)
        told = [f"{what}: {n}" for what, n in sorted(around.get((t.bed, t.season), {}).items())]
        told += [f"cuttings that wait and are left out: {t.waiting}"] if t.waiting else []
        told += [f"rows of cuttings that are held, of whichever bed: {held}"] if held else []
        for of, name in NAMES.items():
            counted = None if bed is None else getattr(bed, of)
            if counted is None and of != "fertile":
                continue
            estimate = _share(of, t, bed, counted, limit_pct).with_cautions(*told)
            figures.append(Figure(f"share of {name} cut", scope(bed=t.bed, season=t.season), estimate))
    return figures


def _share(of: str, t: Taken, bed: Bed | None, counted: Counted | None, limit_pct: Decimal) -> Estimate:
    name, cut = NAMES[of], t.blades if of == "blades" else t.plants
    why = ""
    if bed is None:
        why = f"share not known: the bed {t.bed} is not registered"
    elif counted is None:
        why = f"share not known: the bed has no estimate of its {name}"
    elif not t.cuttings:
        why = "share not known: no cutting of that season stands"
    elif cut is None:
        why = f"share not known: no cutting says how many {name} were taken"
    elif counted.number == 0:
        why = f"share not known: the estimate is of no {name} at all, and yet {cut} were cut"
    if why or bed is None or counted is None or cut is None:
        return not_estimable(why, unit="%", n=t.cuttings, n_of="cuttings")
    value = 100 * cut / counted.number
    low, high, of_range = _range(cut, counted)
    of_what = "blades" if of == "blades" else "plants"
    note = (
        f"{cut} {of_what} of about {counted.number}{of_range}, estimated on {bed.estimated_on}"
        f"{f' by {bed.method}' if bed.method else ''}; {_limit(of, bed, limit_pct, value, low, high)}"
    )
    estimate = Estimate("estimated", "%", t.cuttings, "cuttings", "taken over estimate", value, low, high, note=note)
    return estimate.with_cautions(*_cautions(of, t, bed, value))


def _range(cut: int, counted: Counted) -> tuple[float | None, float | None, str]:
    """The share by the estimate's own high and low, and what to say of them."""
    if counted.low is None or counted.high is None:
        return None, None, " (without a low and a high: no interval)"
    told = f" ({counted.low} to {counted.high}"
    if not counted.low <= counted.number <= counted.high:
        return None, None, f"{told}, which does not enclose it: no interval)"
    low = 100 * cut / counted.high
    if counted.low == 0:
        return low, None, f"{told}: no upper limit)"
    return low, 100 * cut / counted.low, f"{told}, the estimate's own range)"


def _limit(of: str, bed: Bed, limit_pct: Decimal, value: float, low: float | None, high: float | None) -> str:
    """The limit, who set it, and on which side of it the interval lies. It never says that all is well."""
    spoken_of = next(o for o in NAMES if getattr(bed, o) is not None)
    if of != spoken_of:
        return f"the limit speaks of {NAMES[spoken_of]}"
    limit = float(limit_pct if bed.limit_pct is None else bed.limit_pct)
    if bed.limit_pct is None or (bed.limit_source or "").strip().lower() == "programme":
        source = "set by the programme; no local limit is entered"
    else:
        source = f"set by: {bed.limit_source}" if bed.limit_source else "the bed's own, source not stated"
    if low is not None and low > limit:
        side = "the whole interval lies beyond it"
    elif high is not None and high <= limit:
        side = "the whole interval lies below it, by recorded cuttings"
    elif low is None:
        side = "beyond it by the estimate alone" if value > limit else "without an interval none can tell"
    else:
        side = "the interval holds it: cannot tell"
    return f"the limit is {limit:g} % ({source}): {side}"


def _cautions(of: str, t: Taken, bed: Bed, value: float) -> Sequence[str]:
    first = t.first_on or bed.estimated_on
    age = (first - bed.estimated_on).days
    return (
        "more was cut than the estimate holds" if value > 100 else "",
        f"the bed was estimated {-age} days after the cutting began" if age < 0 else "",
        f"the estimate was {age} days old when cutting began" if age > OLD_DAYS else "",
        "cut more than once: a plant cut twice counts twice" if t.cuttings > 1 and of != "blades" else "",
        f"cuttings that do not say how many blades: {t.blades_untold}" if of == "blades" and t.blades_untold else "",
    )


def rests(days: Iterable[CuttingDay], beds: Mapping[str, Bed], rest_days: int, around: Cautions) -> list[Figure]:
    """The shortest time between two days of cutting a bed, the later of them in the season.

    rest_days: the programme's rule for beds that state none; 0: it has none.
    """
    seasons: dict[tuple[str, str], list[CuttingDay]] = {}
    for d in days:
        seasons.setdefault((d.bed, d.season), []).append(d)
    figures = []
    for (bed, season), cut in sorted(seasons.items()):
        told = [f"{what}: {n}" for what, n in sorted(around.get((bed, season), {}).items())]
        estimate = _rest(cut, beds.get(bed), rest_days).with_cautions(*told)
        figures.append(Figure("rest between cuttings", scope(bed=bed, season=season), estimate))
    return figures


def _rest(cut: Sequence[CuttingDay], bed: Bed | None, rest_days: int) -> Estimate:
    gaps = sorted(((d.on - d.before).days, d.before, d.on) for d in cut if d.before is not None)
    if not gaps:
        return not_estimable(
            "no earlier cutting of this bed is recorded", unit="days", n=len(cut), n_of="days of cutting"
        )
    shortest, before, on = gaps[0]
    own = bed is not None and bed.rest_days is not None
    asked = bed.rest_days if bed is not None and bed.rest_days is not None else rest_days
    source = "the bed's own rule" if own else "set by the programme"
    rule = (
        f"it is to rest {asked} days ({source}; local rules outrank it)" if asked else "no rule on its rest is entered"
    )
    short = sum(gap < asked for gap, _, _ in gaps)
    return Estimate(
        "estimated", "days", len(cut), "days of cutting", "days counted", float(shortest),
        note=f"from {before} to {on}; {rule}; days are counted, so there is no interval",
    ).with_cautions(f"cut again before it had rested {asked} days: {short} times" if short else "")  # fmt: skip
