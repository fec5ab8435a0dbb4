"""The one shape every estimator returns: a value with its interval, or a stated reason why there is none."""

from dataclasses import dataclass, replace
from typing import Literal

State = Literal["estimated", "bounded", "not estimable"]


@dataclass(frozen=True)
class Estimate:
    """One estimated quantity, honest about what is not known.

    state      estimated: `value` holds. bounded: only `value_from`..`value_to` is known (inside a Turnbull
               interval, or a site never found again). not estimable: neither; `note` says why.
    value      the point estimate, or None.
    low, high  limits of the 95 % interval, or None where none can honestly be given (`note` says why).
    n          the number of sampling units behind it (frames, units or sites: `n_of` names them).
    estimator  the published method used, in a few words.
    note       plain words a reader must see beside the number, "" if none.
    cautions   short sentences that travel with the figure, sorted, without repeats.
    """

    state: State
    unit: str
    n: int
    n_of: str
    estimator: str
    value: float | None = None
    low: float | None = None
    high: float | None = None
    value_from: float | None = None
    value_to: float | None = None
    note: str = ""
    cautions: tuple[str, ...] = ()

    def with_cautions(self, *more: str) -> "Estimate":
        """The same estimate with further cautions, sorted and without repeats."""
        told = tuple(sorted({*self.cautions, *(m for m in more if m)}))
        return self if told == self.cautions else replace(self, cautions=told)


def not_estimable(why: str, *, unit: str, n: int, n_of: str, estimator: str = "none") -> Estimate:
    """A stated refusal: never 0, never NaN."""
    return Estimate(state="not estimable", unit=unit, n=n, n_of=n_of, estimator=estimator, note=why)
