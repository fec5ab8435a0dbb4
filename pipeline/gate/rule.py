"""What a rule of the gate is, what a hit tells, and the verdict: frozen values without behaviour of their own."""

from dataclasses import dataclass
from enum import IntEnum


class Effect(IntEnum):
    """What a repository does when a rule is hit, in our words; the greater, the worse."""

    LOWERS = 1
    FLAGS = 2
    DROPS = 3
    REFUSES = 4


EFFECT_WORDS = {
    Effect.LOWERS: "kept, of less use",
    Effect.FLAGS: "kept and flagged",
    Effect.DROPS: "row dropped",
    Effect.REFUSES: "dataset refused",
}
OBIS, GBIF = "OBIS", "GBIF"
REPOSITORIES = (OBIS, GBIF)


@dataclass(frozen=True)
class Rule:
    """One thing that is wanted of an archive.

    name    short, stable, and about what is wrong: findings are known by it.
    wanted  what should be there, and so what to do.
    obis, gbif  what each repository does when it is hit; None where it does not mind.
    source  where that stands.
    """

    name: str
    wanted: str
    obis: Effect | None
    gbif: Effect | None
    source: str

    def effects(self, repositories: tuple[str, ...] = REPOSITORIES) -> tuple[tuple[str, Effect], ...]:
        """Each of these repositories that minds, and what it does."""
        told = {OBIS: self.obis, GBIF: self.gbif}
        return tuple((r, e) for r in repositories if (e := told[r]) is not None)


@dataclass(frozen=True, kw_only=True)
class RowRule(Rule):
    """A rule that single rows break.

    of     the views (see `tables.py`) whose rows are asked.
    where  SQL that is true for a row at fault; columns are named by their terms, empty cells are null.
    value  SQL of the text to show.
    """

    of: tuple[str, ...]
    where: str
    value: str


@dataclass(frozen=True)
class Example:
    """One place where a rule is hit: file, row (1 is the first line; None: all of it), the row's id, what stands there."""

    file: str
    row: int | None
    id: str
    value: str


@dataclass(frozen=True)
class Finding:
    """A rule that was hit, in how many rows (or things), and the first of them."""

    rule: Rule
    rows: int
    example: Example


@dataclass(frozen=True)
class Verdict:
    """What the gate says of an archive.

    findings   worst first, then by rule.
    rows       how many rows each data file has.
    unchecked  a sentence for each thing that was not looked at, and why.
    """

    path: str
    repositories: tuple[str, ...]
    findings: tuple[Finding, ...]
    rows: tuple[tuple[str, int], ...]
    unchecked: tuple[str, ...]

    def worst(self, finding: Finding) -> Effect:
        """The worst that any of the asked repositories does about a finding."""
        return max(effect for _, effect in finding.rule.effects(self.repositories))

    @property
    def stops(self) -> tuple[Finding, ...]:
        """The findings for which a repository drops rows or refuses the dataset."""
        return tuple(f for f in self.findings if self.worst(f) >= Effect.DROPS)

    @property
    def may_leave(self) -> bool:
        """Whether it may be handed to the repositories that were asked about: nothing would be dropped or refused."""
        return not self.stops


class Hits:
    """Findings as they come: each rule once a file, with its first example and how often it was hit."""

    def __init__(self) -> None:
        self._found: dict[tuple[str, str], Finding] = {}

    def add(self, rule: Rule, file: str, value: str = "", row: int | None = None, id: str = "", rows: int = 1) -> None:
        """Note a hit."""
        before = self._found.get((rule.name, file))
        example = before.example if before else Example(file, row, id, value)
        self._found[rule.name, file] = Finding(rule, rows + (before.rows if before else 0), example)

    def take(self, others: "Hits") -> None:
        """Take over what others found, of rules and files that were not hit yet."""
        self._found = others._found | self._found

    def findings(self) -> tuple[Finding, ...]:
        """All of them, as they came."""
        return tuple(self._found.values())

    def any(self, effect: Effect) -> bool:
        """Whether anything so bad was found."""
        return any(e >= effect for f in self._found.values() for _, e in f.rule.effects())
