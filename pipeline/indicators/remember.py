"""Estimates remembered by the hash of their inputs: a figure whose inputs did not change is not computed again."""

import hashlib
import json
from collections.abc import Callable
from dataclasses import asdict, dataclass, field
from typing import Any

from pipeline.indicators.estimate import Estimate

METHODS = 1  # raise when any estimator changes its answer; everything is then computed anew


@dataclass
class Memory:
    """Remembered estimates. `used` holds those of this run, which are all that is kept for the next."""

    known: dict[str, Estimate] = field(default_factory=dict)
    used: dict[str, Estimate] = field(default_factory=dict)
    computed: list[str] = field(default_factory=list)

    def recall(self, name: str, inputs: Any, compute: Callable[[], Estimate]) -> Estimate:
        """The estimate for these inputs, computed only when they are new. inputs: anything JSON can hold."""
        told = json.dumps([METHODS, name, inputs], sort_keys=True, default=str, separators=(",", ":"))
        key = hashlib.sha256(told.encode()).hexdigest()
        if key not in self.used:
            if key in self.known:
                self.used[key] = self.known[key]
            else:
                self.used[key] = compute()
                self.computed.append(name)
        return self.used[key]

    def to_text(self) -> str:
        """What to keep for the next run."""
        return json.dumps({k: asdict(e) for k, e in sorted(self.used.items())}, separators=(",", ":"))


def memory_from(text: str) -> Memory:
    """What the last run kept; anything unreadable is forgotten, since it can be computed again."""
    try:
        kept = json.loads(text)
        return Memory({k: Estimate(**{**e, "cautions": tuple(e["cautions"])}) for k, e in kept.items()})
    except (ValueError, TypeError, KeyError, AttributeError):
        return Memory()
