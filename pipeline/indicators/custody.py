"""The custody of a batch: cut, cleaned, dried, held cool, carried sealed, opened on the bottom; its hours, warmth and gaps."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.figure import Figure, scope

WORDS = {
    "cut": "cut", "clean": "cleaned", "dry": "dried", "hold": "held cool", "carry": "carried sealed", "release": "let out",
    "culture": "cultured", "seed": "seeded", "split": "split", "merge": "mixed",
}  # fmt: skip
FRESH = ("clean", "dry", "hold", "carry", "release")  # steps in which tissue is on its way
EXPECTED = ("clean", "dry", "hold", "carry")
OPENED, PUT_DOWN = "opened on the bottom", "put down"
HOUR = dt.timedelta(hours=1)


class Step(NamedTuple):
    """A step told of a batch, or of one between a cutting and the batch.

    told: names the event, which lies on the way of several cuttings once they are mixed. readings: by a logger in its vessel.
    """

    batch: str
    cutting: str
    told: str
    step: str
    start: dt.datetime | None
    end: dt.datetime | None
    coolest: float | None
    warmest: float | None
    readings: int


class Opening(NamedTuple):
    """Units of a batch put down at a site on a day. opened: how many say when they were opened; timed: or put down."""

    batch: str
    site: str
    on: dt.date
    units: int
    opened: int
    timed: int
    first: dt.datetime | None
    last: dt.datetime | None
    boat_degc: float | None


class Limits(NamedTuple):
    """The programme's limits: hours to release and in each step, degrees, and hours without a record that are a gap."""

    most_hours_to_release: float
    most_hours: Mapping[str, float]
    coolest_degc: float
    warmest_degc: float
    most_gap_hours: float


class Chain(NamedTuple):
    """All that is told of one batch on its way."""

    steps: Sequence[Step]
    openings: Sequence[Opening]

    def of(self, cutting: str) -> list[Step]:
        """The steps of what came from one cutting, in order of time; those without a time are left out."""
        return sorted(
            (s for s in self.steps if s.cutting == cutting and s.start is not None),
            key=lambda s: (s.start, s.end or s.start, s.step, s.batch),
        )

    @property
    def cuttings(self) -> list[str]:
        """The cuttings that it came from."""
        return sorted({s.cutting for s in self.steps})

    @property
    def told(self) -> list[Step]:
        """Each step once, whichever cuttings it was of."""
        return list({s.told: s for s in self.steps}.values())

    @property
    def cultured(self) -> bool:
        """Whether it was kept in culture, so that its hours are not those of fresh tissue."""
        return any(s.step in ("culture", "seed") for s in self.steps)


def chains(steps: Iterable[Step], openings: Iterable[Opening]) -> dict[str, Chain]:
    """By batch: its steps and its openings."""
    told: dict[str, tuple[list[Step], list[Opening]]] = {}
    for s in steps:
        told.setdefault(s.batch, ([], []))[0].append(s)
    for o in openings:
        told.setdefault(o.batch, ([], []))[1].append(o)
    return {batch: Chain(*both) for batch, both in sorted(told.items())}


def custody(by_batch: Mapping[str, Chain], limits: Limits, around: Mapping[str, Sequence[str]]) -> list[Figure]:
    """Every figure on the keeping of each batch. around: what else is to be said of a batch (what waits or is held)."""
    figures = []
    for batch, chain in by_batch.items():
        made = [
            ("hours from cut to opening", scope(batch=batch), to_opening(chain, limits.most_hours_to_release)),
            ("hours without a record", scope(batch=batch), without_record(chain, limits.most_gap_hours)),
            ("warmest tissue", scope(batch=batch), warmest(chain, limits.warmest_degc)),
            ("coolest tissue", scope(batch=batch), coolest(chain, limits.coolest_degc)),
        ]
        for step in ("cut", *FRESH):
            if step in EXPECTED or any(s.step == step for s in chain.steps):
                limit = limits.most_hours.get(step)
                made.append(("hours of a step", scope(batch=batch, step=WORDS[step]), in_step(chain, step, limit)))
        figures += [Figure(name, what, e.with_cautions(*around.get(batch, ()))) for name, what, e in made]
    return figures


def hours_to(chain: Chain, openings: Sequence[Opening]) -> tuple[float, float] | None:
    """Fewest and most hours from the end of cutting to these openings; None where a time is missing."""
    cut = [s.end for s in chain.steps if s.step == "cut" and s.end is not None]
    first = [o.first for o in openings if o.first is not None]
    last = [o.last for o in openings if o.last is not None]
    if not cut or not last or any(s.step == "cut" and s.end is None for s in chain.steps):
        return None
    return (min(first) - max(cut)) / HOUR, (max(last) - min(cut)) / HOUR


def to_opening(chain: Chain, limit: float) -> Estimate:
    """The longest that any tissue of the batch waited from the end of its cutting to its opening on the bottom."""
    units, timed = sum(o.units for o in chain.openings), sum(o.timed for o in chain.openings)
    told = hours_to(chain, chain.openings)
    why = ""
    if not units:
        why = "no unit of it was put down"
    elif not timed:
        why = "nobody told at what time it was opened or put down"
    elif told is None:
        why = "nobody told at what time it was cut"
    elif told[0] < 0:
        why = "units are told to have been opened before it was cut"
    if why or told is None:
        return not_estimable(why, unit="h", n=units, n_of="units")
    fewest, most = told
    spread = f"from {fewest:.1f} to {most:.1f} h over its units; " if most - fewest >= 0.05 else ""
    if chain.cultured:
        note, beyond = f"{spread}its stock was cultured, so the limit for fresh tissue does not speak of it", False
    else:
        beyond = most > limit
        note = f"{spread}{_limit('at most', limit, 'h', beyond)}"
    opened = sum(o.opened for o in chain.openings)
    return Estimate("estimated", "h", units, "units", "longest of its units", most, note=note).with_cautions(
        f"longer than the {limit:g} h that the programme sets" if beyond else "",
        f"units that do not say when they were opened, so that the time put down stands in: {timed - opened}"
        if timed > opened else "",
        f"units without any time, left out: {units - timed}" if units > timed else "",
    )  # fmt: skip


def in_step(chain: Chain, step: str, limit: float | None) -> Estimate:
    """Hours in one step: of the cutting whose tissue was longest in it, times told twice counted once."""
    mine = [s for s in chain.steps if s.step == step]
    whole = [s for s in mine if s.start is not None and s.end is not None]
    times, endless = len({s.told for s in whole}), len({s.told for s in mine}) - len({s.told for s in whole})
    if not whole:
        why = "nobody told of it" if not mine else "nobody told when it began and ended"
        return not_estimable(why, unit="h", n=endless, n_of="steps told")
    hours = max(_covered([s for s in whole if s.cutting == cutting]) for cutting in {s.cutting for s in whole})
    beyond = limit is not None and hours > limit
    note = "no limit for this step is entered" if limit is None else _limit("at most", limit, "h", beyond)
    without = sorted(set(chain.cuttings) - {s.cutting for s in whole})
    return Estimate("estimated", "h", times, "steps told", "time told", hours, note=note).with_cautions(
        f"longer than the {limit:g} h that the programme sets" if beyond else "",
        f"times it was begun, and nobody told its end: {endless}" if endless else "",
        f"not told of the tissue of {', '.join(without)}" if without else "",
    )


def _covered(steps: Sequence[Step]) -> float:
    """Hours that lie in at least one of the steps."""
    spans = sorted((s.start, s.end) for s in steps if s.start is not None and s.end is not None)
    total, frontier = dt.timedelta(0), spans[0][0]
    for start, end in spans:
        total += max(end - max(start, frontier), dt.timedelta(0))
        frontier = max(frontier, end)
    return total / HOUR


def without_record(chain: Chain, most_gap_hours: float) -> Estimate:
    """Hours between the cutting and the opening of which nobody wrote anything, times up to the programme's gap left out.

    Of the cutting whose tissue has most of them.
    """
    opened = max((o.last for o in chain.openings if o.last is not None), default=None)
    kept = [s for s in chain.told if s.step != "cut"]
    if not any(s.step == "cut" and s.start is not None for s in chain.steps):
        return not_estimable("nobody told at what time it was cut", unit="h", n=len(kept), n_of="steps told")
    if not kept and opened is None:
        why = "nobody told how it was kept, nor when it was opened"
        return not_estimable(why, unit="h", n=0, n_of="steps told")
    end = OPENED if sum(o.opened for o in chain.openings) == sum(o.timed for o in chain.openings) else PUT_DOWN
    worst: tuple[float, list[str]] = (0.0, [])
    for cutting in chain.cuttings:
        worst = max(worst, _gaps(chain.of(cutting), opened, end, most_gap_hours))
    hours, gaps = worst
    silent = [WORDS[e] for e in EXPECTED if not any(s.step == e for s in chain.steps)]
    endless = sorted({WORDS[s.step] for s in kept if s.end is None and s.step not in ("split", "merge", "seed")})
    note = "; ".join(gaps) if gaps else f"no time of more than {most_gap_hours:g} h without a record"
    return Estimate("estimated", "h", len(kept), "steps told", "time not told of", hours, note=note).with_cautions(
        "steps that nobody told of: " + ", ".join(silent) if silent else "",
        "nobody told when these ended: " + ", ".join(endless) if endless else "",
        "nobody told at what time it was opened, so what came after the last step is not known"
        if opened is None
        else "",
    )


def _gaps(steps: Sequence[Step], opened: dt.datetime | None, end_word: str, most: float) -> tuple[float, list[str]]:
    """Hours in gaps, and each of them in words."""
    told = [(s.start, s.end or s.start, WORDS[s.step]) for s in steps if s.start is not None]
    if opened is not None:
        told = [t for t in told if t[0] <= opened] + [(opened, opened, end_word)]
    if not told:
        return 0.0, []
    total, gaps = 0.0, []
    _, frontier, last = told[0]
    for start, end, word in told[1:]:
        hours = (start - frontier) / HOUR
        if hours > most:
            total += hours
            gaps.append(f"no record between {last} and {word}: {hours:.1f} h from {frontier:%Y-%m-%d %H:%M} UTC")
        if end >= frontier:
            frontier, last = end, word
    return total, gaps


def warmest(chain: Chain, limit: float) -> Estimate:
    """The warmest that tissue became on its way: steps, loggers in its vessels, and the boat."""
    told = [(s.warmest, WORDS[s.step]) for s in chain.told if s.step in FRESH and s.warmest is not None]
    told += [(o.boat_degc, "on the boat") for o in chain.openings if o.boat_degc is not None]
    if not told:
        return not_estimable("nobody told how warm it was", unit="degC", n=0, n_of="temperatures told")
    value, where = max(told)
    note = f"{where}; {_limit('at most', limit, 'degC', value > limit)}"
    estimate = Estimate("estimated", "degC", len(told), "temperatures told", "highest told", value, note=note)
    beyond = f"warmer than the {limit:g} degC that the programme sets" if value > limit else ""
    return estimate.with_cautions(beyond, _unmeasured(chain), _loggers(chain))


def coolest(chain: Chain, limit: float) -> Estimate:
    """The coolest that tissue became on its way."""
    told = [(s.coolest, WORDS[s.step]) for s in chain.told if s.step in FRESH and s.coolest is not None]
    if not told:
        return not_estimable("nobody told how cool it was", unit="degC", n=0, n_of="temperatures told")
    value, where = min(told)
    note = f"{where}; {_limit('at least', limit, 'degC', value < limit)}"
    estimate = Estimate("estimated", "degC", len(told), "temperatures told", "lowest told", value, note=note)
    beyond = f"cooler than the {limit:g} degC that the programme sets" if value < limit else ""
    return estimate.with_cautions(beyond, _unmeasured(chain), _loggers(chain))


def _unmeasured(chain: Chain) -> str:
    """The steps of which nobody told a temperature: it may have been warmer or cooler there."""
    told = {s.step for s in chain.steps if s.warmest is not None or s.coolest is not None}
    silent = [WORDS[step] for step in EXPECTED if step not in told]
    return "no temperature is told of: " + ", ".join(silent) if silent else ""


def _loggers(chain: Chain) -> str:
    readings = sum(s.readings for s in chain.told)
    return f"readings of a logger named like the vessel or the batch: {readings}" if readings else ""


def _limit(word: str, limit: float, unit: str, beyond: bool) -> str:
    side = "beyond it" if beyond else "not beyond it by what is told"
    return f"{word} {limit:g} {unit} is the programme's limit (local rules outrank it): {side}"
