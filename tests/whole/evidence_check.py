"""A programme of only a figure's rows gives the same figure, for many figures of the demo chosen by lot.

python tests/whole/evidence_check.py --figures 100
"""

import argparse
import random
import shutil
import tempfile
from pathlib import Path

from pipeline import demo, look


def differing(root: Path, folder: Path, figures: int, seed: int = 1) -> tuple[list[str], int]:
    """Ids of the figures whose evidence gives another figure, and how many were tried. root: a programme measured."""
    published = look.published(root)
    sorts = sorted({f.indicator for f in published})
    dice, wrong = random.Random(seed), []
    dice.shuffle(sorts)  # few figures are of sorts far apart
    chosen = [dice.choice([f for f in published if f.indicator == sorts[n % len(sorts)]]) for n in range(figures)]
    for figure in chosen:
        into = folder / figure.id
        if not look.evidence(root, figure, into):
            wrong.append(figure.id)
        shutil.rmtree(into, ignore_errors=True)
    return wrong, len(chosen)


def main() -> None:
    """Play the demo, then try so many figures."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--figures", type=int, default=100)
    figures = parser.parse_args().figures
    with tempfile.TemporaryDirectory() as folder:
        demo.play(Path(folder) / "demo")
        wrong, tried = differing(Path(folder) / "demo", Path(folder), figures)
    print(f"{tried} figures tried, {len(wrong)} differ: {', '.join(wrong) or 'none'}")


if __name__ == "__main__":
    main()
