"""The programme's rules on what was put down: in which bands of depth it is told."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from pipeline.errors import BadUsage
from pipeline.toml_read import Table

STEP, DEEPEST = 5, 200  # metres; the model takes no greater depth

Band = tuple[str, int, int | None]  # what it is called, from, to but not including (None: without end)


@dataclass(frozen=True)
class RetentionRules:
    """depth_bands_m: where bands of depth begin and end, in metres, rising."""

    depth_bands_m: tuple[int, ...] = tuple(range(0, DEEPEST + 1, STEP))

    def bands(self) -> Sequence[Band]:
        """Every band; what is shallower than the first bound or deeper than the last is a band too."""
        bounds = self.depth_bands_m
        first: list[Band] = [(f"under {bounds[0]} m", 0, bounds[0])] if bounds[0] else []
        return [*first, *((f"{a}-{b} m", a, b) for a, b in pairwise(bounds)), (f"{bounds[-1]} m and deeper", bounds[-1], None)]  # fmt: skip


def parse(top: Table) -> RetentionRules:
    """The table [retention], which may be left out. BadUsage for bands that do not rise."""
    t = top.table("retention", {})
    made = RetentionRules(tuple(t.wholes("depth_bands_m", list(RetentionRules().depth_bands_m))))
    if not made.depth_bands_m or any(a >= b for a, b in pairwise(made.depth_bands_m)):
        raise BadUsage(f"{t.where}: `depth_bands_m` is {list(made.depth_bands_m)}; bounds that rise are wanted, such as [0, 5, 10].")  # fmt: skip
    t.refuse_unknown()
    return made
