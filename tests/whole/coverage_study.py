"""How often the 95 % intervals hold the truth over a grid of truths, from partners' files through `run.py` to figures.

    python tests/whole/coverage_study.py [--replicates 300] [--only density|retention|cost]

Every line is one truth: how dense and how clumped the plants are, how many frames; how many sites, how unlike they are,
how bags go and how often a look at them is missed; how many sites a cost is told of. Replicates of one truth are sites (or groups
of sites that share nothing) of one programme. The table is kept in DEVELOPERS.md. Beside each share stands how often an
interval was given at all.
"""

import argparse
import math
import tempfile
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from itertools import product
from multiprocessing import get_context
from pathlib import Path

import numpy as np
from scipy.integrate import quad

from pipeline import run
from pipeline.indicators.figure import Figure
from pipeline.starter import start

RULES = """
[programme]
key = "study"
name = "Coverage study"
[rules]
retention_days = [60]
first_meaningful_day = 0
"""
PROTOCOL = """
[[protocol]]
key = "{key}"
dated = 2024-01-01
frame = "quadrat"
placement = "random"
[[protocol.search]]
species = "Saccharina latissima"
stages = ["recruit"]
"""
SITE = "site_key,name,latitude,longitude,datum,uncertainty_m,radius_m,country\n"
PLOT = "site_key,plot_key,plot_kind,area_m2,control_kind,assigned_by\n"
POOL = 6  # sites that share a protocol, and so the spread between few frames
FRAME_M2 = 0.25
BAGS = 10
LOOKS = (15, 30, 60, 90, 120, 180)  # days after the bags were put down
DAY = 60


@dataclass
class Tally:
    """Of one truth and sort of figure: how many figures, intervals, and intervals that hold the truth."""

    figures: int = 0
    given: int = 0
    held: int = 0
    widths: list[float] = field(default_factory=list)

    def add(self, figure: Figure, truth: float) -> None:
        """One figure."""
        e = figure.estimate
        self.figures += 1
        if e.low is not None and e.high is not None:
            self.given += 1
            self.held += e.low <= truth <= e.high
            self.widths.append(e.high - e.low)


Lines = dict[str, Tally]


@dataclass(frozen=True)
class Cell:
    """One truth: which study it belongs to, its numbers, how many replicates, and the seed."""

    study: str
    truth: tuple[float, ...]
    replicates: int
    seed: int

    def __str__(self) -> str:
        return NAMES[self.study].format(*("∞" if t == math.inf else f"{t:g}" for t in self.truth))


NAMES = {
    "density": "{0} plants a frame, k {1}, {2} frames",
    "retention": "{0} sites, spread {1}, shape {2}, {3} of looks missed",
    "cost": "{0} sites",
}


def grid(study: str, replicates: int) -> list[Cell]:
    """Every truth of a study."""
    truths: dict[str, Iterator[tuple[float, ...]]] = {
        "density": product((0.5, 2, 8), (0.5, 2, math.inf), (3, 6, 10, 20)),
        "retention": product((3, 5, 8), (0, 0.4), (0.8, 1.2), (0, 0.3)),
        "cost": product((4, 6, 10, 20)),
    }
    return [Cell(study, t, replicates, 1000 + n) for n, t in enumerate(truths[study])]


def measured(root: Path, indicator: str, files: dict[str, str], protocols: int = 0) -> list[Figure]:
    """The figures of that indicator's group, for a programme of these files."""
    start(root)
    rules = RULES + "".join(PROTOCOL.format(key=f"p{n}") for n in range(protocols))
    (root / "programme.toml").write_text(rules, encoding="utf-8")
    for name, text in files.items():
        path = root / "inbox" / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, encoding="utf-8")
    took = run.take(root)
    assert not took.held, took
    run.project(root)
    return run.figures_of(root, indicator=indicator)[0]


def site_rows(names: list[str]) -> str:
    """A register of sites, ten kilometres apart."""
    return SITE + "".join(
        f"{s},{s},{45 + n // 100 * 0.1:.2f},{-9 + n % 100 * 0.13:.2f},EPSG:4326,5,200,PT\n" for n, s in enumerate(names)
    )


def density(cell: Cell, root: Path) -> Lines:
    """Treated and control plots of many sites; the control has half the plants."""
    mean, k, frames = cell.truth
    rng = np.random.default_rng(cell.seed)
    sites = [f"S{n:04d}" for n in range(cell.replicates)]
    truth = {s: mean * math.exp(rng.normal(-0.125, 0.5)) for s in sites}
    counted = [
        "visit_key,happened,site_key,plot_key,frame_key,frame_type,placement,area_m2,protocol,species,stage,count\n"
    ]
    for n, s in enumerate(sites):
        for plot, share in (("T1", 1.0), ("C1", 0.5)):
            expected = truth[s] * share
            for frame in range(int(frames)):
                rate = expected if k == math.inf else expected * rng.gamma(k, 1 / k)
                counted.append(
                    f"{s}-1,2025-06-01,{s},{plot},{frame},quadrat,random,{FRAME_M2},p{n // POOL},Saccharina latissima,recruit,"
                    f"{rng.poisson(rate)}\n"
                )
    plots = PLOT + "".join(f"{s},T1,treated,50,,random\n{s},C1,control,50,untouched,random\n" for s in sites)
    figures = measured(
        root,
        "density",
        {"programme/site.csv": site_rows(sites), "programme/plot.csv": plots, "club/survey.csv": "".join(counted)},
        protocols=1 + len(sites) // POOL,
    )
    lines = {name: Tally() for name in ("density", "treated over control", "treated minus control")}
    for f in figures:
        per_m2 = truth.get(f.of("site"), 0) / FRAME_M2
        if f.indicator == "density":
            lines["density"].add(f, per_m2 if f.of("plot_kind") == "treated" else per_m2 / 2)
        elif f.indicator == "treated over control":
            lines[f.indicator].add(f, 2)
        elif f.indicator == "treated minus control":
            lines[f.indicator].add(f, per_m2 / 2)
    return lines


def retention(cell: Cell, root: Path) -> Lines:
    """Groups of sites, a method each, ten bags a site; bags go by a Weibull law whose scale differs from site to site."""
    per_group, spread, shape, missed = cell.truth
    rng = np.random.default_rng(cell.seed)
    groups, names, scale = cell.replicates, [], {}
    downs, looks = (
        ["unit_key,method,site_key,plot_key,happened\n"],
        ["site_key,unit_key,happened,state,search_time_min\n"],
    )
    for g, n in product(range(groups), range(int(per_group))):
        s = f"S{g:04d}x{n}"
        names.append(s)
        scale[s] = 100 * math.exp(rng.normal(0, spread))
        seen = [d for d in LOOKS if rng.random() >= missed]
        for b in range(BAGS):
            gone = scale[s] * rng.weibull(shape)
            downs.append(f"{s}-{b},bags {g},{s},T1,2025-01-01\n")
            for day in seen:
                when = np.datetime64("2025-01-01") + np.timedelta64(day, "D")
                looks.append(f"{s},{s}-{b},{when},{'attached' if gone > day else 'absent'},10\n")
                if gone <= day:
                    break  # what is known to be gone is not looked for again
    plots = PLOT + "".join(f"{s},T1,treated,50,,random\n" for s in names)
    figures = measured(
        root,
        "unit retention",
        {
            "programme/site.csv": site_rows(names), "programme/plot.csv": plots, "club/deployment.csv": "".join(downs),
            "club/check.csv": "".join(looks),
        },
    )  # fmt: skip

    def left(s: float) -> float:
        return math.exp(-((DAY / s) ** shape))

    # what a site not yet seen may expect: over all sites that there could be
    over = left(100) if not spread else quad(
        lambda z: left(100 * math.exp(spread * z)) * math.exp(-z * z / 2) / math.sqrt(2 * math.pi), -8, 8
    )[0]  # fmt: skip
    lines = {name: Tally() for name in ("unit retention", "unit retention over sites")}
    for f in figures:
        if f.indicator == "unit retention" and f.of("day") == str(DAY):
            lines[f.indicator].add(f, left(scale[f.of("site")]))
        elif f.indicator == "unit retention over sites" and f.of("day") == str(DAY):
            lines[f.indicator].add(f, over)
    return lines


def cost(cell: Cell, root: Path) -> Lines:
    """Programmes of a few sites: a fixed cost a site and a cost a square metre, on areas that differ."""
    [n] = cell.truth
    rng = np.random.default_rng(cell.seed)
    tally = Tally()
    # cost = 500 + 4 area, times a spread of its own; areas lognormal with a mean of 100 m2
    truth = (500 / 100 + 4) * 10_000
    for r in range(max(20, cell.replicates // 3)):
        sites = [f"S{i:02d}" for i in range(int(n))]
        area = {s: 100 * math.exp(rng.normal(-0.125, 0.5)) for s in sites}
        spent = {s: (500 + 4 * area[s]) * math.exp(rng.normal(-0.02, 0.2)) for s in sites}
        files = {
            "programme/site.csv": site_rows(sites),
            "programme/plot.csv": PLOT + "".join(f"{s},T1,treated,{area[s]:.4f},,random\n" for s in sites),
            "club/deployment.csv": "unit_key,method,site_key,plot_key,happened\n"
            + "".join(f"{s}-1,spore bag,{s},T1,2025-01-01\n" for s in sites),
            "club/cost.csv": "record_key,happened,form,amount,currency,category,phase,for_kind,for_key\n"
            + "".join(f"c{s},2025-01-01,cash,{spent[s]:.2f},EUR,boat,deploy,site,{s}\n" for s in sites),
        }
        for f in measured(root / str(r), "cash per hectare", files):
            if f.indicator == "cash per hectare" and f.of("site") == "all":
                tally.add(f, truth)
    return {"cash per hectare": tally}


STUDIES: dict[str, Callable[[Cell, Path], Lines]] = {"density": density, "retention": retention, "cost": cost}


def studied(cell: Cell) -> tuple[Cell, Lines]:
    """One cell, in a folder of its own."""
    with tempfile.TemporaryDirectory() as folder:
        return cell, STUDIES[cell.study](cell, Path(folder) / "p")


def study(cells: list[Cell]) -> Iterator[tuple[Cell, Lines]]:
    """Every cell, two at a time, in order."""
    with ProcessPoolExecutor(2, get_context("spawn")) as pool:
        yield from pool.map(studied, cells)


def main() -> None:
    """Print the table, a line as soon as it is known."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--replicates", type=int, default=300)
    parser.add_argument("--only", choices=STUDIES)
    args = parser.parse_args()
    print(
        "| truth | figure | intervals given | held the truth, % | median width |\n| --- | --- | --- | --- | --- |",
        flush=True,
    )
    for name in [args.only] if args.only else STUDIES:
        for cell, lines in study(grid(name, args.replicates)):
            for figure, t in lines.items():
                share = f"{100 * t.held / t.given:.1f}" if t.given else "-"
                width = f"{np.median(t.widths):.3g}" if t.widths else "-"
                print(f"| {cell} | {figure} | {t.given} of {t.figures} | {share} | {width} |", flush=True)


if __name__ == "__main__":
    main()
