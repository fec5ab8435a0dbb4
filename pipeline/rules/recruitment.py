"""The programme's rules on what grows: seasons, the day from which recruits can show, and what it calls success."""

import datetime as dt
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from decimal import Decimal

from pipeline.errors import BadUsage
from pipeline.toml_read import Table

# What a rule of success may judge.
JUDGED = (
    "density",
    "treated over control",
    "treated minus control",
    "treated over reference",
    "treated minus reference",
    "before-after ratio",
    "before-after difference",
)


@dataclass(frozen=True)
class FirstDay:
    """Days from putting down until recruits of a species planted by a method can show; "" means any."""

    species: str
    method: str
    day: int


@dataclass(frozen=True)
class SuccessRule:
    """A figure of treated plots and the limit it is held against, in the figure's own unit.

    dated      the day on which the programme wrote it down.
    protocol   only surveys under it are judged; "" means any.
    at_least, at_most   one of the two; the other is None.
    from_day, to_day    days since the first planting of the site between which surveys are judged.
    """

    key: str
    dated: dt.date
    indicator: str
    species: str
    stage: str
    protocol: str
    at_least: Decimal | None
    at_most: Decimal | None
    from_day: int
    to_day: int | None


@dataclass(frozen=True)
class GrazerLimit:
    """The most of a grazer per m2 that the programme bears, written down on a day, with where it has that from."""

    key: str
    dated: dt.date
    species: str
    stage: str
    most_per_m2: Decimal
    source: str


@dataclass(frozen=True)
class RecruitmentRules:
    """Months in which seasons begin, in order; first days; rules of success; days for which a recruit is one at most; grazers."""

    season_starts: tuple[int, ...] = (3, 6, 9, 12)
    first_days: tuple[FirstDay, ...] = ()
    success: tuple[SuccessRule, ...] = ()
    recruit_days: int = 120  # common practice, no source: the programme's own to set
    grazers: tuple[GrazerLimit, ...] = ()

    def began(self, month: int) -> tuple[int, int]:
        """The month in which the season of `month` began, and 1 when that was in the year before, else 0."""
        earlier = [start for start in self.season_starts if start <= month]
        return (earlier[-1], 0) if earlier else (self.season_starts[-1], 1)

    def first_day(self, species: str, method: str, otherwise: int) -> int:
        """Days from putting down until recruits of the species planted by the method can show; the closest rule holds."""
        told = {(d.species, d.method): d.day for d in self.first_days}
        ranked = ((species, method), (species, ""), ("", method))
        return next((told[key] for key in ranked if key in told), otherwise)


def parse(top: Table, stages: tuple[str, ...]) -> RecruitmentRules:
    """[recruitment] and [[success]] of programme.toml. BadUsage names what is wrong. stages: the words there are."""
    own = top.table("recruitment", {})
    starts = own.wholes("season_starts", [3, 6, 9, 12])
    if not starts or sorted(set(starts)) != starts or not 1 <= starts[0] <= starts[-1] <= 12:
        raise BadUsage(f"{own.where}: `season_starts` is {starts}; months in order, such as [3, 6, 9, 12], are wanted.")
    made = RecruitmentRules(
        tuple(starts),
        tuple(_first_day(t) for t in own.tables("first_meaningful_day")),
        tuple(_success(t, stages) for t in top.tables("success")),
        own.whole("recruit_days", 120),
        tuple(_grazer(t, stages) for t in top.tables("grazer_limit")),
    )
    own.refuse_unknown()
    _refuse_doubles("[[grazer_limit]] key", [limit.key for limit in made.grazers], top.where)
    _refuse_doubles("[[recruitment.first_meaningful_day]] species and method", [d[:2] for d in _told(made)], top.where)
    _refuse_doubles("[[success]] key", [rule.key for rule in made.success], top.where)
    return made


def refuse_unsearched(rules: RecruitmentRules, searched: Collection[tuple[str, str]], where: str) -> None:
    """A rule on a species and stage that no protocol searches for would never be judged: BadUsage."""
    judged = [("success", rule.key, rule.species, rule.stage) for rule in rules.success]
    judged += [("grazer_limit", limit.key, limit.species, limit.stage) for limit in rules.grazers]
    for name, key, species, stage in judged:
        if (species, stage) not in searched:
            raise BadUsage(
                f"{where}: [[{name}]] {key} speaks of {species}, {stage}, which no [[protocol]] "
                "searches for. Mend its species and stage, or add them to a protocol."
            )


def _told(rules: RecruitmentRules) -> list[tuple[str, str, int]]:
    return [(d.species, d.method, d.day) for d in rules.first_days]


def _refuse_doubles(what: str, keys: Sequence[object], where: str) -> None:
    doubles = [key for n, key in enumerate(keys) if key in keys[:n]]
    if doubles:
        raise BadUsage(f"{where}: {what} {doubles[0]} stands twice. Take one away.")


def _first_day(t: Table) -> FirstDay:
    made = FirstDay(t.text("species", ""), t.text("method", ""), t.whole("day"))
    t.refuse_unknown()
    if not made.species and not made.method:
        raise BadUsage(f"{t.where}: a `species`, a `method` or both are wanted; [rules] holds the day for all others.")
    return made


def _grazer(t: Table, stages: tuple[str, ...]) -> GrazerLimit:
    made = GrazerLimit(
        key=t.text("key"),
        dated=t.day("dated"),
        species=t.text("species"),
        stage=t.one_of("stage", stages, "any"),
        most_per_m2=t.decimal("most_per_m2"),
        source=t.text("source"),
    )
    t.refuse_unknown()
    if made.most_per_m2 <= 0:
        raise BadUsage(f"{t.where}: `most_per_m2` is {made.most_per_m2}; a number above 0 is wanted.")
    return made


def _success(t: Table, stages: tuple[str, ...]) -> SuccessRule:
    limits = {name: t.decimal(name) for name in ("at_least", "at_most") if name in t.data}
    made = SuccessRule(
        key=t.text("key"),
        dated=t.day("dated"),
        indicator=t.one_of("indicator", JUDGED),
        species=t.text("species"),
        stage=t.one_of("stage", stages),
        protocol=t.text("protocol", ""),
        at_least=limits.get("at_least"),
        at_most=limits.get("at_most"),
        from_day=t.whole("from_day"),
        to_day=t.whole("to_day") if "to_day" in t.data else None,
    )
    t.refuse_unknown("at_least", "at_most", "to_day")
    if len(limits) != 1:
        raise BadUsage(f"{t.where}: one of `at_least` and `at_most` is wanted.")
    if made.to_day is not None and made.to_day < made.from_day:
        raise BadUsage(f"{t.where}: `to_day` is {made.to_day}; a day not before `from_day` is wanted.")
    return made
