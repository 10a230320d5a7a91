"""Which designs and which values of their parameters the tests try.

What depends on the design is tried for every design of the library, at few values. What depends on
the code alone is tried for the designs of SAMPLE.
"""

import itertools

import numpy as np

# A brilliant, a stone with a point, steps that meet in a keel, and a flat base without a table.
SAMPLE = ("oval", "pear", "cut-corner-rectangle", "round-rose")


def ends(design):
    """The two ends of every range, in as few places as hold each pair of ends."""
    known = list(design.parameters.values())
    signs = np.array(list(itertools.product((0, 1), repeat=3)))
    columns = [signs[:, 0], signs[:, 1], signs[:, 2], signs[:, :2].sum(axis=1) % 2]
    columns += [signs[:, 1:].sum(axis=1) % 2, signs.sum(axis=1) % 2]
    for row in range(len(signs)):
        chosen = ((p, columns[k % len(columns)][row]) for k, p in enumerate(known))
        yield {p.name: p.high if end else p.low for p, end in chosen}


def between(design, seed, count):
    """Random values inside the ranges."""
    rng = np.random.default_rng([seed, *design.name.encode()])
    for _ in range(count):
        yield {p.name: rng.uniform(p.low, p.high) for p in design.parameters.values()}
