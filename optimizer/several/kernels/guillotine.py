"""Compiled: the dynamic program over guillotine cuts of a block."""

import numpy as np

from optimizer.compiled import compiled


@compiled
def best_cuts(rests, first, worths, halves):
    """The most worth of bricks in every block whose edges are marks, and how it is cut.

    ``rests`` (3, m, m): the number of the greatest mark that is left of edge i once mark j is sawn
    off; ``first`` (b, 3): for each brick the least marks that hold it; ``worths`` (b,); ``halves``
    (3, m): the number of the last mark that is no more than half of each edge. Marks are in rising
    order, mark 0 is no edge at all. Returns the worths (m0, m1, m2) with how many marks there are
    along each axis in ``rests[:, 0, 0]``, and choices: -1 nothing, 3·mark + axis a cut there,
    -2 − b brick b.
    """
    size = rests[0, 0, 0], rests[1, 0, 0], rests[2, 0, 0]
    most = np.zeros(size)
    choice = np.full(size, -1)
    for i in range(1, size[0]):
        for j in range(1, size[1]):
            for k in range(1, size[2]):
                best, chosen = 0.0, -1
                for b in range(len(worths)):
                    fits = first[b, 0] <= i and first[b, 1] <= j and first[b, 2] <= k
                    if fits and worths[b] > best:
                        best, chosen = worths[b], -2 - b
                for m in range(1, halves[0, i] + 1):
                    worth = most[m, j, k] + most[rests[0, i, m], j, k]
                    if worth > best * (1.0 + 1e-12):
                        best, chosen = worth, 3 * m
                for m in range(1, halves[1, j] + 1):
                    worth = most[i, m, k] + most[i, rests[1, j, m], k]
                    if worth > best * (1.0 + 1e-12):
                        best, chosen = worth, 3 * m + 1
                for m in range(1, halves[2, k] + 1):
                    worth = most[i, j, m] + most[i, j, rests[2, k, m]]
                    if worth > best * (1.0 + 1e-12):
                        best, chosen = worth, 3 * m + 2
                most[i, j, k] = best
                choice[i, j, k] = chosen
    return most, choice
