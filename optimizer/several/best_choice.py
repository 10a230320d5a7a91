"""The choice of most worth among kinds of stones that together use up no more than there is.

It is a relaxation of every division, solved by dynamic programming. What the stones of a division
share is for one the volume of the piece; ``takes`` are the least shares of it that stones take up.
For anything shared the best choice of stones is an upper bound, and so it is for the mean of two
things shared.
"""

from collections.abc import Sequence

import numpy as np

from optimizer.mesh import Floats, Ints

FINE, COARSE = 2000, 500  # steps into which the whole use is divided
MANY = 100  # of counts times counts by wish: from so many on, the coarse steps serve
NEVER = -np.inf
ROUNDING = 1e-9  # relative


def best_worths(
    wishes: Ints, worths: Floats, takes: Floats, counts: Sequence[int], most: int
) -> Floats:
    """The most worth of 0, 1, ... ``most`` stones, (most + 1,), whose ``takes``, shares of the
    whole, add up to 1 at most, of wish w no more than ``counts[w]``. Each stone is of one of c
    classes with their wishes, worths and takes, (c,) each. Infeasible counts have −infinity.

    Shares are rounded down to whole steps, so that the result is never too small.
    """
    if all(count >= most for count in counts):
        return _first_of_each(_multiples(_by_steps(worths, takes, FINE), most), most)
    steps = FINE if most * sum(min(count, most) for count in counts) < MANY else COARSE
    total = np.full((1, steps + 1), 0.0)
    for wish, count in enumerate(counts):
        of = wishes == wish
        own = _multiples(_by_steps(worths[of], takes[of], steps), min(count, most))
        total = _joined(total, own, most)
    return _first_of_each(total, most)


def _by_steps(worths: Floats, takes: Floats, steps: int) -> Floats:
    """The most worth of one stone that takes at most so many steps, (steps + 1,)."""
    best, fits = np.full(steps + 1, NEVER), takes <= 1.0 + ROUNDING
    whole = np.floor(np.minimum(takes[fits], 1.0) * steps * (1.0 - ROUNDING)).astype(int)
    np.maximum.at(best, whole, worths[fits])
    return np.maximum.accumulate(best)


def _multiples(one: Floats, most: int) -> Floats:
    """The most worth of 0, 1, ... ``most`` stones by the steps taken, (most + 1, steps + 1)."""
    rows = [np.zeros_like(one)]
    for _ in range(most):
        rows.append(_sum(rows[-1], one))
    return np.array(rows)


def _joined(some: Floats, others: Floats, most: int) -> Floats:
    """The most worth of stones of both, by their number and the steps taken."""
    found = np.full((min(len(some) + len(others) - 2, most) + 1, some.shape[1]), NEVER)
    for i, first in enumerate(some):
        for j, second in enumerate(others[: len(found) - i]):
            np.maximum(found[i + j], _sum(first, second), out=found[i + j])
    return found


def _sum(one: Floats, other: Floats) -> Floats:
    """max over k of one[k] + other[n − k], for rising worths by steps (steps + 1,): only where
    ``other`` rises can the greatest lie."""
    found = np.full_like(one, NEVER)
    rises = np.flatnonzero(other > np.append(NEVER, other[:-1]))
    for k in rises:
        np.maximum(found[k:], one[: len(one) - k] + other[k], out=found[k:])
    return found


def _first_of_each(by_steps: Floats, most: int) -> Floats:
    worths = np.full(most + 1, NEVER)
    worths[: len(by_steps)] = by_steps[:, -1]
    return worths
