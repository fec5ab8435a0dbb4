"""How each step of `bench.py` grows with the ledger: exponents between sizes, and a plot.

    python tests/bench/growth.py build/bench/results.jsonl [--of cpu] [--plot tests/bench/growth.svg]

An exponent is the slope of log(seconds) over log(events) between two sizes: 0 does not grow, 1 grows as the ledger.
--of: seconds of wall, or of computing, which tell on a busy machine too.
The last run of a size and step counts.
"""

import argparse
import json
import math
from itertools import pairwise
from pathlib import Path

WIDTH, HEIGHT, LEFT, TOP, KEY = 860, 470, 70, 20, 200
DRAWN = ("convert", "take", "analyst", "rebuild", "one drop", "quiet", "archive", "pages")
DASHES = ("", "8 4", "2 3", "12 3 2 3", "5 2", "1 4", "9 6", "3 2 1 2")


def main() -> None:
    """Print the exponents as a table, and draw the plot if one is asked for."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("results", type=Path)
    parser.add_argument("--of", choices=("wall", "cpu"), default="wall")
    parser.add_argument("--plot", type=Path)
    args = parser.parse_args()
    told: dict[str, dict[int, float]] = {}
    for line in args.results.read_text().splitlines():
        one = json.loads(line)
        told.setdefault(one["step"], {})[one["events"]] = max(one[args.of], 0.01)
    sizes = sorted({n for seen in told.values() for n in seen})
    if len(sizes) < 2:
        print("One size was run: how it grows shows between two.")
        return
    spans = list(pairwise(sizes))
    print("| step | " + " | ".join(f"{a:,} to {b:,}" for a, b in spans) + " |")
    print("| --- |" + " --- |" * len(spans))
    for step, seen in told.items():
        print(f"| {step} | " + " | ".join(exponent(seen, a, b) for a, b in spans) + " |")
    if args.plot:
        args.plot.write_text(plot({s: told[s] for s in DRAWN if len(told.get(s, {})) > 1}, sizes), encoding="utf-8")


def exponent(seen: dict[int, float], a: int, b: int) -> str:
    """The slope between two sizes, "" where one was not run."""
    return f"{math.log(seen[b] / seen[a]) / math.log(b / a):.2f}" if a in seen and b in seen else ""


def plot(told: dict[str, dict[int, float]], sizes: list[int]) -> str:
    """Seconds over events, both in powers of ten, a line a step: an SVG that needs nothing else and reads without colour."""
    least = math.floor(math.log10(min(min(seen.values()) for seen in told.values())))
    most = math.ceil(math.log10(max(max(seen.values()) for seen in told.values())))
    first, last = math.log10(sizes[0]), math.log10(sizes[-1])

    def x(events: float) -> float:
        return LEFT + (math.log10(events) - first) / (last - first) * (WIDTH - LEFT - KEY)

    def y(seconds: float) -> float:
        return TOP + (most - math.log10(seconds)) / (most - least) * (HEIGHT - TOP - 50)

    parts = []
    for power in range(least, most + 1):
        parts.append(
            f'<line x1="{LEFT}" x2="{WIDTH - KEY}" y1="{y(10**power):.0f}" y2="{y(10**power):.0f}" stroke="#ccc"/>'
        )
        parts.append(f'<text x="{LEFT - 8}" y="{y(10**power) + 4:.0f}" text-anchor="end">{10**power:g} s</text>')
    parts += [f'<text x="{x(n):.0f}" y="{HEIGHT - 26}" text-anchor="middle">{n:,}</text>' for n in sizes]
    parts.append(
        f'<text x="{(LEFT + WIDTH - KEY) / 2:.0f}" y="{HEIGHT - 6}" text-anchor="middle">events in the ledger</text>'
    )
    ends = sorted((max(seen), y(seen[max(seen)]), step) for step, seen in told.items())
    at = {}
    for n, (size, height, step) in enumerate(ends):  # names stand beside their lines' ends, and not upon each other
        before = ends[n - 1]
        at[step] = max(height, at[before[2]] + 18) if n and before[0] == size else height
    for (step, seen), dash in zip(told.items(), DASHES, strict=False):
        points = " ".join(f"{x(n):.1f},{y(s):.1f}" for n, s in sorted(seen.items()))
        parts.append(
            f'<polyline points="{points}" fill="none" stroke="#123" stroke-width="2" stroke-dasharray="{dash}"/>'
        )
        parts += [f'<circle cx="{x(n):.1f}" cy="{y(s):.1f}" r="3" fill="#123"/>' for n, s in seen.items()]
        parts.append(
            f'<text x="{x(max(seen)) + 10:.0f}" y="{at[step] + 4:.0f}" paint-order="stroke" stroke="#fff" stroke-width="5">{step}</text>'
        )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" font-family="sans-serif" font-size="13" role="img">'
        "<title>Seconds of each step over the events in the ledger</title>"
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#fff"/>' + "".join(parts) + "</svg>\n"
    )


if __name__ == "__main__":
    main()
