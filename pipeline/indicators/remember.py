"""Estimates remembered by the hash of their inputs: a figure whose inputs did not change is not computed again."""

import hashlib
import json
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass, field
from typing import Any

from pipeline.indicators.estimate import Estimate
from pipeline.indicators.figure import Scope
from pipeline.plural import n_of

NEW, CHANGED, OTHER_CODE = "new", "inputs changed", "the code changed"


@dataclass(frozen=True)
class Computed:
    """A figure that was computed and not remembered: its indicator, what it is of, and why it was computed."""

    name: str
    of: str
    why: str

    def __str__(self) -> str:
        return f"{self.name} of {self.of}: {self.why}"


@dataclass
class Memory:
    """Remembered estimates, by the hash of their inputs; and which figure had which inputs.

    code        says which estimators these are: what others computed is not used again.
    known, had  what the last run kept: estimates, and the inputs' hash of every figure.
    used, have  what this run keeps for the next.
    """

    code: str = ""
    known: dict[str, Estimate] = field(default_factory=dict)
    had: dict[str, str] = field(default_factory=dict)
    used: dict[str, Estimate] = field(default_factory=dict)
    have: dict[str, str] = field(default_factory=dict)
    computed: list[Computed] = field(default_factory=list)

    def recall(self, name: str, scope: Scope, inputs: Any, compute: Callable[[], Estimate]) -> Estimate:
        """The estimate of these inputs, computed only when nobody had them yet. inputs: anything JSON can hold."""
        told = json.dumps([self.code, name, inputs], sort_keys=True, default=str, separators=(",", ":"))
        key, figure = hashlib.sha256(told.encode()).hexdigest(), json.dumps([name, scope])
        self.have[figure] = key
        if key not in self.used:
            if key in self.known:
                self.used[key] = self.known[key]
            else:
                self.used[key] = compute()
                why = NEW if figure not in self.had else CHANGED if self.known else OTHER_CODE
                self.computed.append(Computed(name, " ".join(v for _, v in scope), why))
        return self.used[key]

    def to_text(self) -> str:
        """What to keep for the next run."""
        estimates = {key: asdict(e) for key, e in sorted(self.used.items())}
        told = {"code": self.code, "figures": dict(sorted(self.have.items())), "estimates": estimates}
        return json.dumps(told, separators=(",", ":"))


def memory_from(text: bytes, code: str) -> Memory:
    """What the last run kept; anything unreadable is forgotten, since it can be computed again."""
    try:
        kept = json.loads(text)
        had = {str(figure): str(key) for figure, key in kept["figures"].items()}
        if kept["code"] != code:
            return Memory(code, had=had)
        return Memory(
            code, {k: Estimate(**{**e, "cautions": tuple(e["cautions"])}) for k, e in kept["estimates"].items()}, had
        )
    except (ValueError, TypeError, KeyError, AttributeError):
        return Memory(code)


def in_short(computed: Iterable[Computed]) -> str:
    """How many figures were computed, and why: `12 figures computed: 9 inputs changed, 3 new`."""
    whys = Counter(c.why for c in computed)
    told = ", ".join(f"{n:,} {why}" for why, n in sorted(whys.items()))
    return f"{n_of(whys.total(), 'figure')} computed: {told}" if whys else "no figure had to be computed"
