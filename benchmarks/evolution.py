"""The general methods to compare with, each over the exact test of ``containment``.

Both get the best chance that their libraries allow: six unknowns (a rotation vector and the place
of the stone's origin), two threads to judge a generation, as many as the placement uses, and a new
start whenever a population has come together, until time is up.

- scipy's differential evolution, from the next seed at each start.
- CMA-ES (the library `cma`): unknowns scaled to the piece, each start from the best of some random
  poses, with twice the population of the start before, as Auger and Hansen do (A Restart CMA
  Evolution Strategy With Increasing Population Size, CEC 2005), and small again after the largest.
"""

import warnings
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import numpy as np
from scipy.optimize import differential_evolution

from benchmarks.containment import Judge

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # that it can't plot
    import cma  # here, so that loading it is not counted

THREADS = 2
TOGETHER = 1e-3  # spread of sizes (relative; in mm for CMA-ES) at which a population is together
DRAWS = 30  # random poses, of which CMA-ES starts from the best
SMALLEST, DOUBLINGS = 9, 5  # of the population of CMA-ES: its usual one for six unknowns


def evolve(judge: Judge) -> None:
    """Differential evolution until the time is up."""
    bounds = [(-np.pi, np.pi)] * 3 + list(zip(judge.piece.low, judge.piece.high, strict=True))
    seed = 0
    with ThreadPoolExecutor(THREADS) as pool:
        while not judge.time_is_up():
            differential_evolution(
                judge.loss,
                bounds,
                rng=seed,
                maxiter=10**6,
                tol=TOGETHER,
                polish=False,
                updating="deferred",
                workers=pool.map,
                callback=lambda *_, **__: judge.time_is_up(),
            )
            seed += 1


def adapt(judge: Judge) -> None:
    """CMA-ES until the time is up."""
    low, high = judge.piece.low, judge.piece.high
    rng, start = np.random.default_rng(0), 0
    with ThreadPoolExecutor(THREADS) as pool:
        while not judge.time_is_up():
            turns = rng.uniform(-np.pi, np.pi, (DRAWS, 3))
            poses = np.hstack([turns, rng.uniform(low, high, (DRAWS, 3))])
            first = poses[int(np.argmin(list(pool.map(judge.loss, poses))))]
            options = {
                "popsize": SMALLEST * 2 ** (start % (DOUBLINGS + 1)),
                "CMA_stds": [1.0] * 3 + list((high - low) / 5.0),
                "bounds": [[None] * 3 + list(low), [None] * 3 + list(high)],
                "tolfun": TOGETHER,
                "seed": start + 1,  # it takes 0 for the time
                "verbose": -9,
            }
            strategy = cma.CMAEvolutionStrategy(first, 1.0, options)
            while not strategy.stop() and not judge.time_is_up():
                asked = strategy.ask()
                strategy.tell(asked, list(pool.map(judge.loss, asked)))
            start += 1


METHODS: dict[str, Callable[[Judge], None]] = {"differential evolution": evolve, "CMA-ES": adapt}
