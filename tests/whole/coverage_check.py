"""How often the 95 % intervals hold the truth, from partners' files through `run.py` to figures.

    python tests/whole/coverage_check.py --seeds 200

Each seed makes a world of 400 units whose truth is known. Figures of one world share sites and rounds, so a world,
not a figure, is the independent unit: the bounds printed are those of a binomial with the number of worlds, which
is stricter on us than one with the number of figures would be.
"""

import argparse
import json
import tempfile
from collections import defaultdict
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from scipy.stats import binom

from pipeline import run
from pipeline.indicators.figure import Figure
from seeds_demo import world
from seeds_demo.growth import STAGES

WANTED = (0.92, 0.99)  # of intervals that hold the truth
FIRST_SEED = 1


@dataclass
class Held:
    """How many intervals of a sort were given, and how many held the truth."""

    given: int = 0
    held: int = 0

    def add(self, low: float, high: float, truth: float) -> None:
        """One interval."""
        self.given += 1
        self.held += low <= truth <= high


def one_world(seed: int) -> dict[str, tuple[int, int]]:
    """Make a world, take its files in, measure, and compare with its truth."""
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        world.make(root, seed=seed, nights=False)
        (root / "night-1").rename(root / "inbox")
        run.take(root)
        run.project(root)
        figures, _ = run.figures_of(root)
        truth = json.loads((root / "truth.json").read_text())
    return {name: (h.given, h.held) for name, h in compare(figures, truth).items()}


def compare(figures: list[Figure], truth: dict) -> dict[str, Held]:
    """Intervals that hold the truth, by sort of figure."""
    found: dict[str, Held] = defaultdict(Held)
    per_m2 = {
        (d["site"], d["plot_kind"], d["species"], d["stage"], d["survey"], d["protocol"]): d["per_m2"]
        for d in truth["densities"]
    }
    units = truth["bags"]
    for f in figures:
        e = f.estimate
        if e.low is None or e.high is None:
            continue
        if f.indicator == "density":
            place = tuple(f.of(k) for k in ("site", "plot_kind", "species", "stage", "survey", "protocol"))
            if place in per_m2:
                found["density"].add(e.low, e.high, per_m2[place])
        elif f.indicator == "apparent survival":
            first, second = (
                [per_m2.get((f.of("site"), "treated", f.of("species"), stage, f.of(day), f.of("protocol")), 0) for stage in STAGES]
                for day in ("cohort", "survey")
            )  # fmt: skip
            found["apparent survival"].add(e.low, e.high, sum(second[1:]) / sum(first))
        elif f.indicator == "unit retention":
            expected = truth["retention"][f.of("site")][f.of("day")]["expected"]
            found["unit retention"].add(e.low, e.high, expected)
        elif f.indicator == "unit retention over sites":
            told = {s: r[f.of("day")]["expected"] for s, r in truth["retention"].items()}
            mean = sum(told[s] * units[s] for s in told) / sum(units.values())
            found["unit retention over sites"].add(e.low, e.high, mean)
    return found


def coverage(seeds: int, first: int = FIRST_SEED) -> dict[str, Held]:
    """The same over many worlds, two at a time."""
    total: dict[str, Held] = defaultdict(Held)
    with ProcessPoolExecutor(max_workers=2) as pool:
        for told in pool.map(one_world, range(first, first + seeds)):
            for name, (given, held) in told.items():
                total[name].given += given
                total[name].held += held
    return total


def bounds(worlds: int) -> tuple[float, float]:
    """Shares of held intervals that chance alone explains, were the true share at an end of what is wanted (99.9 %)."""
    low, high = WANTED
    return float(binom.ppf(0.0005, worlds, low) / worlds), float(
        min(1.0, (binom.ppf(0.9995, worlds, high) + 1) / worlds)
    )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, default=200)
    parser.add_argument("--json", action="store_true", help="for the tests")
    args = parser.parse_args()
    seeds = args.seeds
    low, high = bounds(seeds)
    if args.json:
        found = {name: (h.given, h.held) for name, h in coverage(seeds).items()}
        print(json.dumps({"bounds": (low, high), "found": found}))
        return
    print(f"{seeds} worlds; wanted {WANTED[0]:.0%} to {WANTED[1]:.0%}; chance alone explains {low:.3f} to {high:.3f}")
    for name, h in sorted(coverage(seeds).items()):
        print(f"{name:<28} {h.given:>7} intervals  {h.held / h.given:.3f} hold the truth")


if __name__ == "__main__":
    main()
