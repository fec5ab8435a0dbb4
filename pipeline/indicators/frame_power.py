"""How often so many frames an arm would show that one arm has more than the other, by simulation with the very test that figures use."""

import numpy as np

from .contrast import ratio

SEED, RUNS = 2014, 200  # 200 runs know a chance near 0.8 to within 0.06
MOST_FRAMES = 500  # an arm: bounds what a run costs


def power_by_frames(frames: int, mean: float, times: float, inv_k: float, runs: int = RUNS) -> float:
    """The share of simulated comparisons, 0..1, whose 95 % interval of the ratio leaves out "no difference".

    frames: in each arm, 2 to MOST_FRAMES. mean: plants expected in a control frame; the other arm has `times` as many. inv_k:
    spread between frames, variance = mean + inv_k mean^2; 0 for Poisson. Always the same for the same numbers. Raises ValueError
    where there is nothing to simulate.
    """
    if not (2 <= frames <= MOST_FRAMES and mean > 0 and times > 0 and inv_k >= 0):
        raise ValueError(f"nothing to simulate: {frames} frames of {mean} plants, times {times}, 1/k {inv_k}")
    dice, seen, areas = np.random.default_rng(SEED), 0, [1.0] * frames
    for _ in range(runs):
        treated, control = (
            dice.poisson(m * (dice.gamma(1 / inv_k, inv_k, frames) if inv_k else 1.0), frames)
            for m in (mean * times, mean)
        )
        told = ratio(treated.tolist(), areas, control.tolist(), areas)
        seen += told.low is not None and told.high is not None and not told.low <= 1 <= told.high
    return seen / runs
