"""One figure: an indicator, what it is of, and its estimate."""

import hashlib
from dataclasses import dataclass

from pipeline.indicators.estimate import Estimate

Scope = tuple[tuple[str, str], ...]
SCOPE = (
    "site", "plot_kind", "species", "stage", "survey", "protocol", "placed", "method", "day",
    "against", "cohort", "since", "fixing", "substrate", "depth", "partner", "category", "key", "bed", "batch", "permit",
    "logger", "season", "rule", "material", "event", "phase", "step",
)  # fmt: skip


@dataclass(frozen=True)
class Figure:
    """One value of an indicator.

    indicator  its name in the catalogue.
    scope      what it is of, as (name, text) in the order of SCOPE; "all" where it speaks of all sites.
    """

    indicator: str
    scope: Scope
    estimate: Estimate

    @property
    def id(self) -> str:
        """Ten letters and digits, the same on every night and in every ledger that has the same scope."""
        told = "\x1f".join([self.indicator, *(f"{k}={v}" for k, v in self.scope)])
        return hashlib.sha256(told.encode()).hexdigest()[:10]

    def of(self, name: str) -> str:
        """One part of the scope, "" where it does not apply."""
        return dict(self.scope).get(name, "")


def scope(**parts: object) -> Scope:
    """A scope in the one order, without what does not apply."""
    return tuple((k, str(parts[k])) for k in SCOPE if parts.get(k) is not None)
