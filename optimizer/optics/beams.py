"""Beams of light in a body: the face in regions whose rays meet the same facets in the same order.

An eye far away sees along parallel rays, so all rays of a region run in one direction on every leg
and bring the same shares from the same sides: a clear stone's face is of one brightness all over a
region. Regions are found exactly, as polygons (``kernels.beams``): a picture without noise.
"""

from dataclasses import dataclass
from functools import partial

import numpy as np

from optimizer.mesh import Floats, Ints
from optimizer.optics.kernels.beams import beam_chains, follow_beams
from optimizer.optics.paths import LEAST, MOST, Paths
from optimizer.placement.workers import workers

_PARTS = 6  # of the facets that rays enter by, followed apart: enough to share out among threads


@dataclass(frozen=True)
class Beams:
    """What enters a body from above the room, in r regions of its face and n nodes.

    A node is a meeting with a facet of all rays that have met the same so far.

    weight   (n,)       share that leaves there; where rays enter, the share that is mirrored
    leaving  (n, 3)     the way of that share, in the body's frame
    place    (n, 3, 3)  times (x, y, 1): where the ray at that place of the face meets the facet
    left     (r,)       share that was not followed to its end
    chain    (k,)       nodes of region i: ``chain[chain_start[i]:chain_start[i + 1]]``
    outline  (c, 2)     corners of region i likewise, anticlockwise, the room's x and y
    """

    weight: Floats
    leaving: Floats
    place: Floats
    left: Floats
    chain_start: Ints
    chain: Ints
    outline_start: Ints
    outline: Floats

    @property
    def entry(self) -> Ints:
        """(r,) the node where each region's rays enter."""
        return self.chain[self.chain_start[:-1]]

    @property
    def inside(self) -> Floats:
        """(r, 2) a place inside each region: the mean of its corners."""
        sums = np.add.reduceat(self.outline, self.outline_start[:-1])
        return np.asarray(sums / np.diff(self.outline_start)[:, None])

    def paths(self, region: Ints, places: Floats) -> tuple[Paths, Ints]:
        """(paths, nodes of their meetings (m,)) of the rays at ``places`` (k, 2), each in its
        ``region`` (k,)."""
        start = np.concatenate([[0], np.cumsum(np.diff(self.chain_start)[region])])
        points, node = np.empty((start[-1], 3)), np.empty(start[-1], np.int64)
        beam_chains(self.place, self.chain_start, self.chain, region, places, start, points, node)
        first, weight, leaving = node[start[:-1]], self.weight[node], self.leaving[node]
        weight[start[:-1]] = 0.0
        return (
            Paths(
                self.weight[first], leaving[start[:-1]], self.left[region],
                start, points, weight, leaving,
            ),
            node,
        )  # fmt: skip


def beams_of(
    normals: Floats, offsets: Floats, index: float, stone2room: Floats, low: Floats, high: Floats,
    *, finest: float, least: float = LEAST, threads: int = 2,
) -> Beams:  # fmt: skip
    """What an eye straight above sees of the convex body {x : normals·x <= offsets} between ``low``
    and ``high`` (2,) of the room, the body turned by ``stone2room`` (3, 3).

    Beams are followed until less than ``least`` of each is left. One whose share of light times its
    area is less than ``finest`` is split no more: all of it goes the way of its middle. Units,
    ``index`` and what is left out are as for ``paths.trace``; the same whatever ``threads``.
    """
    normals = np.ascontiguousarray(normals)
    places = np.column_stack([stone2room[0], stone2room[1], np.zeros(3)])
    down = -stone2room[2]
    away = normals @ places - np.outer(offsets, [0.0, 0.0, 1.0])
    box = np.array([low, [high[0], low[1]], high, [low[0], high[1]]])
    towards = normals @ down
    follow = partial(
        follow_beams, normals, normals @ normals.T, float(index), away, towards, places, down, box
    )
    front = np.array_split(np.flatnonzero(towards < 0.0), _PARTS)
    with workers(threads) as pool:
        parts = pool.map(lambda facets: follow(facets, finest, least, MOST), front)
        return _joined([Beams(*part) for part in parts])


def _joined(parts: list[Beams]) -> Beams:
    nodes = np.cumsum([0, *(len(part.weight) for part in parts)])

    def all_of(name: str) -> Floats:
        return np.concatenate([getattr(part, name) for part in parts])

    def starts(name: str) -> Ints:
        counts = [np.diff(getattr(part, name)) for part in parts]
        return np.concatenate([[0], np.cumsum(np.concatenate(counts))])

    chain = np.concatenate([part.chain + at for part, at in zip(parts, nodes[:-1], strict=True)])
    return Beams(
        all_of("weight"), all_of("leaving"), all_of("place"), all_of("left"),
        starts("chain_start"), chain, starts("outline_start"), all_of("outline"),
    )  # fmt: skip
