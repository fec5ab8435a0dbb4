"""A programme's folder and its rules, read once from TOML into frozen values and handed down."""

import datetime as dt
import hashlib
import tomllib
from dataclasses import dataclass, field, replace
from decimal import Decimal
from itertools import pairwise
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from pipeline.errors import BadUsage
from pipeline.rules import night as of_nights
from pipeline.rules import planning as of_planning
from pipeline.rules import recruitment as of_recruitment
from pipeline.rules import retention as of_retention
from pipeline.rules import settling as of_settling
from pipeline.rules import temperature as of_temperature
from pipeline.rules.cost import CostRules, refuse_listed
from pipeline.rules.cost import parse as parse_cost
from pipeline.rules.donors import DonorRules
from pipeline.rules.donors import parse as donor_rules
from pipeline.rules.published import with_rates_read
from pipeline.rules.publishing import PublishingRules
from pipeline.rules.publishing import parse as publishing_rules
from pipeline.toml_read import Table
from pipeline.tongue import LANGUAGES


@dataclass(frozen=True)
class Places:
    """Where things stand in a programme's folder. Only these paths are ever written."""

    root: Path

    @property
    def rules_file(self) -> Path:
        """programme.toml"""
        return self.root / "programme.toml"

    @property
    def partners(self) -> Path:
        """One TOML a partner: how it writes."""
        return self.root / "partners"

    @property
    def inbox(self) -> Path:
        """One folder a partner: where drops land. Nothing here is moved or changed."""
        return self.root / "inbox"

    @property
    def ledger(self) -> Path:
        """The only truth."""
        return self.root / "ledger"

    @property
    def warehouse(self) -> Path:
        """The projection and the figures' cache: can be thrown away."""
        return self.root / "warehouse"

    @property
    def entries_cache(self) -> Path:
        """A cache of the ledger's entries; it may be gone at any time."""
        return self.warehouse / "entries"

    @property
    def out(self) -> Path:
        """What people and programs read."""
        return self.root / "out"


# Words of surveys that rules may use too; the models' own lists (a test holds the two together). A slip of the pen
# here would make zeros of a stage that nobody counts.
STAGES = ("recruit", "juvenile", "sub-canopy", "canopy", "any")
FRAMES = ("quadrat", "belt", "points", "photo", "timed search")
PLACEMENTS = ("random", "systematic", "fixed", "at unit", "chosen", "unknown")


@dataclass(frozen=True)
class Target:
    """A species and stage that a protocol searches for, and the smallest plant it counts."""

    species: str
    stage: str
    smallest_cm: Decimal


@dataclass(frozen=True)
class Protocol:
    """What is searched for and how, dated before the surveys that name it."""

    key: str
    dated: dt.date
    frame_type: str
    placement: str
    targets: tuple[Target, ...]


@dataclass(frozen=True)
class StageRule:
    """Plants of a species from `from_cm` up to, not including, `to_cm` are of this stage."""

    species: str
    stage: str
    from_cm: Decimal
    to_cm: Decimal


@dataclass(frozen=True)
class Rate:
    """Units of `currency` for one unit of the programme's currency, from `dated` on, with its source."""

    currency: str
    dated: dt.date
    per_unit: Decimal
    source: str


@dataclass(frozen=True)
class ListedSpecies:
    """A species that the programme lists beside those that come with the package, or its own words for one of them."""

    name: str
    aliases: tuple[str, ...] = ()
    aphia_id: int = 0


@dataclass(frozen=True)
class Rules:
    """The programme's rules. Limits are the programme's own; local permits outrank them.

    language: of letters to partners whose mapping names none; "" is English.
    """

    key: str
    name: str
    timezone: str
    currency: str
    treated_area_rule: str
    area_per_unit_m2: Decimal
    retention_days: tuple[int, ...]
    release_window_days: int
    survey_round_days: int
    trial_below_m2: Decimal
    first_meaningful_day: int
    zero_k: Decimal
    least_search_min: Decimal
    least_visibility_m: Decimal
    most_hours_to_release: Decimal
    warmest_degc: Decimal
    take_limit_pct: Decimal
    lowest_cut_cm: tuple[tuple[str, Decimal], ...]
    protocols: tuple[Protocol, ...] = ()
    stages: tuple[StageRule, ...] = ()
    stages_changed: tuple[tuple[str, dt.date], ...] = ()  # species whose rule was another before that day
    rates: tuple[Rate, ...] = ()
    species: tuple[ListedSpecies, ...] = ()
    species_must_be_known: bool = False
    language: str = ""
    recruitment: of_recruitment.RecruitmentRules = field(default_factory=of_recruitment.RecruitmentRules)
    retention: of_retention.RetentionRules = field(default_factory=of_retention.RetentionRules)
    temperature: of_temperature.TemperatureRules = field(default_factory=of_temperature.TemperatureRules)
    planning: of_planning.PlanningRules = field(default_factory=of_planning.PlanningRules)
    cost: CostRules = field(default_factory=CostRules)
    donors: DonorRules = field(default_factory=DonorRules)
    publishing: PublishingRules = field(default_factory=PublishingRules)
    night: of_nights.NightRules = field(default_factory=of_nights.NightRules)
    settling: tuple[of_settling.SettlingRule, ...] = ()
    raw: bytes = field(default=b"", repr=False)

    @property
    def zone(self) -> ZoneInfo:
        """The time zone; BadUsage when nobody knows one of that name."""
        try:
            return ZoneInfo(self.timezone)
        except (KeyError, ValueError, OSError):
            raise BadUsage(
                f'programme.toml, [programme]: `timezone` is {self.timezone!r}; the name of a zone such as "Europe/Lisbon" is wanted.'
            ) from None

    @property
    def hash(self) -> str:
        """SHA-256 of the file's bytes: how entries cite it."""
        return hashlib.sha256(self.raw).hexdigest()


def mapping_bytes(places: Places, partner: str) -> bytes:
    """The partner's TOML, or nothing: then only our own headings are known."""
    path = places.partners / f"{partner}.toml"
    return path.read_bytes() if path.is_file() else b""


def parse_rules(raw: bytes, where: str = "programme.toml") -> Rules:
    """Rules from a programme.toml's bytes. BadUsage names the line of thought that is wrong and the cure."""
    try:
        data = tomllib.loads(raw.decode("utf-8"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as e:
        raise BadUsage(f"{where} cannot be read: {e}. Mend it there and run again.") from e
    top = Table(data, where)
    head, rules, limits = top.table("programme"), top.table("rules", {}), top.table("limits", {})
    window = rules.whole("release_window_days", 21)
    made = Rules(
        key=head.text("key"),
        name=head.text("name"),
        timezone=head.text("timezone", "UTC"),
        currency=head.text("currency", "EUR"),
        treated_area_rule=rules.one_of("treated_area_rule", ("plot area", "area per unit"), "plot area"),
        area_per_unit_m2=rules.decimal("area_per_unit_m2", "1"),
        retention_days=tuple(rules.wholes("retention_days", [window])),
        release_window_days=window,
        survey_round_days=rules.whole("survey_round_days", 7),
        trial_below_m2=rules.decimal("trial_below_m2", "1000"),
        first_meaningful_day=rules.whole("first_meaningful_day", 90),
        zero_k=rules.decimal("zero_k", "0.5"),
        least_search_min=rules.decimal("least_search_min", "0"),
        least_visibility_m=rules.decimal("least_visibility_m", "0"),
        most_hours_to_release=limits.decimal("most_hours_to_release", "48"),
        warmest_degc=limits.decimal("warmest_degc", "15"),
        take_limit_pct=limits.decimal("take_limit_pct", "10"),
        lowest_cut_cm=tuple(sorted(limits.table("lowest_cut_cm", {}).decimals().items())),
        protocols=tuple(_protocol(t) for t in top.tables("protocol")),
        stages=tuple(_stage(t) for t in top.tables("stage")),
        rates=tuple(_rate(t) for t in top.tables("rate")),
        species=_species(top),
        species_must_be_known=rules.yes_no("species_must_be_known", False),
        language=head.one_of("language", ("", *LANGUAGES), ""),
        recruitment=of_recruitment.parse(top, STAGES),
        retention=of_retention.parse(top),
        temperature=of_temperature.parse(top),
        planning=of_planning.parse(top),
        cost=parse_cost(top, head.text("currency", "EUR")),
        donors=donor_rules(top),
        publishing=publishing_rules(top),
        night=of_nights.parse(top),
        settling=of_settling.parse(top),
        raw=raw,
    )
    for table in (head, rules, limits, top):
        table.refuse_unknown()
    if made.zero_k <= 0:
        raise BadUsage(f"{where}, [rules]: `zero_k` is {made.zero_k}; a number above 0 is wanted, such as 0.5.")
    _refuse_doubles(made, where)
    refuse_listed(made.cost, (r.currency for r in made.rates), where)
    return made


def _refuse_doubles(rules: Rules, where: str) -> None:
    """What stands twice would count twice: a protocol's key, a species and stage in it, a rate's day, a length."""
    targets = [(p.key, t.species, t.stage) for p in rules.protocols for t in p.targets]
    told: tuple[tuple[str, list[Any]], ...] = (
        ("[[protocol]] key", [p.key for p in rules.protocols]),
        ("[[protocol.search]] species and stage", targets),
        ("[[rate]] currency and day", [(r.currency, r.dated) for r in rules.rates]),
    )
    for what, keys in told:
        doubles = sorted({str(k) for k in keys if keys.count(k) > 1})
        if doubles:
            raise BadUsage(f"{where}: {what} {doubles[0]} stands twice. A new version of a protocol needs a new key.")
    of_recruitment.refuse_unsearched(rules.recruitment, {(species, stage) for _, species, stage in targets}, where)
    stages = sorted(rules.stages, key=lambda s: (s.species, s.from_cm))
    for one, other in pairwise(stages):
        if one.species == other.species and one.to_cm > other.from_cm:
            raise BadUsage(f"{where}: [[stage]] lengths of {one.species} overlap at {other.from_cm} cm.")


def _protocol(t: Table) -> Protocol:
    targets = []
    for s in t.tables("search"):
        species, smallest = s.text("species"), s.decimal("smallest_cm", "0")
        targets += [Target(species, stage, smallest) for stage in s.some_of("stages", STAGES)]
        s.refuse_unknown()
    frame, placement = t.one_of("frame", FRAMES), t.one_of("placement", PLACEMENTS)
    made = Protocol(t.text("key"), t.day("dated"), frame, placement, tuple(targets))
    t.refuse_unknown()
    return made


def _stage(t: Table) -> StageRule:
    made = StageRule(t.text("species"), t.one_of("stage", STAGES), t.decimal("from_cm"), t.decimal("to_cm", "999999"))
    t.refuse_unknown()
    return made


def _rate(t: Table) -> Rate:
    made = Rate(t.text("currency"), t.day("dated"), t.decimal("per_unit"), t.text("source"))
    if made.per_unit <= 0:
        raise BadUsage(f"{t.where}: `per_unit` is {made.per_unit}; a number above 0 is wanted.")
    t.refuse_unknown()
    return made


def _species(top: Table) -> tuple[ListedSpecies, ...]:
    table = top.table("species", {})
    made, owner = [], dict[str, str]()
    for name in table.data:
        t = table.table(name)
        made.append(ListedSpecies(name, tuple(t.texts("aliases", [])), t.whole("aphia_id", 0)))
        t.refuse_unknown()
        for alias in made[-1].aliases:
            if owner.setdefault(alias.casefold(), name) != name:
                raise BadUsage(
                    f"{t.where}: the alias {alias!r} is also one of {owner[alias.casefold()]}. Take one away."
                )
    return tuple(made)


@dataclass(frozen=True)
class Programme:
    """A programme's folder with its rules as they stand in it now."""

    places: Places
    rules: Rules

    def under(self, rules: Rules) -> "Programme":
        """The same folder judged by other rules (those of an earlier day)."""
        return replace(self, rules=rules)


def open_programme(root: Path) -> Programme:
    """The programme in that folder; BadUsage if there is none."""
    places = Places(root)
    if not places.rules_file.is_file():
        raise BadUsage(
            f"{root} holds no programme.toml. Go to a programme's folder or name it with -p; "
            "`wrackline start NEWFOLDER` makes a new one."
        )
    return Programme(places, parse_rules(with_rates_read(places.rules_file.read_bytes(), root)))


def partner_names(places: Places) -> list[str]:
    """Partners that have an inbox, `programme` (the registers) first so that reports read in that order.

    A folder whose name cannot be written down as text is nobody's.
    """
    if not places.inbox.is_dir():
        return []
    names = sorted(
        p.name for p in places.inbox.iterdir() if p.is_dir() and p.name.isprintable() and not p.name.startswith(".")
    )
    return sorted(names, key=lambda n: (n != "programme", n))
