"""Beams of light in a body: regions of the face whose rays meet the same facets in one order.

An eye far away sees along parallel rays. So all rays of a region run in one direction on every leg
and bring the same shares of light from the same sides: all over a region, the face of a clear stone
has one brightness. Regions are polygons and found exactly (``kernels.beams``), so that pictures
have no noise.
"""

from dataclasses import dataclass
from functools import partial

import numpy as np

from optimizer.mesh import Floats, Ints
from optimizer.optics.kernels.beams import Beam, beam_points, follow_beams
from optimizer.optics.kernels.rays import RefractingBody
from optimizer.optics.paths import LEAST, MOST, Paths
from optimizer.running.workers import workers

_JOBS = 6  # groups of the facets that rays enter by: enough to share out among threads


@dataclass(frozen=True)
class Beams:
    """The rays that enter a body from straight above, in r regions of its face and n nodes.

    A node is one meeting with a facet, shared by all rays that have met the same facets so far.

    weight    (n,)       share that leaves there; where rays enter, the share that is mirrored
    leaving   (n, 3)     the direction of that share, in the body's frame
    place     (n, 3, 3)  times (x, y, 1): where the ray at (x, y) of the face meets the facet
    residual  (r,)       share that was not followed to its end
    chain     (k,)       nodes of region i: ``chain[chain_start[i]:chain_start[i + 1]]``
    outline   (c, 2)     corners of region i likewise, anticlockwise, the room's x and y
    """

    weight: Floats
    leaving: Floats
    place: Floats
    residual: Floats
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
        counts = np.diff(self.chain_start)[region]
        start = np.concatenate([[0], np.cumsum(counts)])
        shift = np.repeat(self.chain_start[:-1][region] - start[:-1], counts)
        node = self.chain[np.arange(start[-1]) + shift]
        points = np.empty((start[-1], 3))
        beam_points(self.place, places, start, node, points)
        first, weight, leaving = node[start[:-1]], self.weight[node], self.leaving[node]
        weight[start[:-1]] = 0.0
        return (
            Paths(
                self.weight[first], leaving[start[:-1]], self.residual[region],
                start, points, weight, leaving,
            ),
            node,
        )  # fmt: skip


def beams_of(
    body: RefractingBody, stone2room: Floats, low: Floats, high: Floats,
    *, finest: float, least: float = LEAST,
) -> Beams:  # fmt: skip
    """The beams that an eye straight above sees between ``low`` and ``high`` (2,) of the room, with
    the body turned by ``stone2room`` (3, 3).

    Beams are followed until less than ``least`` of each is left. A beam whose share of light times
    its area is less than ``finest`` is split no more: all of it follows the ray through its middle.
    Units and what is left out are as for ``paths.trace``.
    """
    place = np.column_stack([stone2room[0], stone2room[1], np.zeros(3)])
    down = -stone2room[2]
    u = body.normals @ place - np.outer(body.offsets, [0.0, 0.0, 1.0])
    outside = Beam(u, body.normals @ down, place, down)
    box = np.array([low, [high[0], low[1]], high, [low[0], high[1]]])
    follow = partial(follow_beams, body, outside, box, finest, least, MOST)
    front = np.array_split(np.flatnonzero(outside.v < 0.0), _JOBS)
    with workers() as pool:
        return _joined([Beams(*part) for part in pool.map(follow, front)])


def _joined(parts: list[Beams]) -> Beams:
    nodes = np.cumsum([0, *(len(part.weight) for part in parts)])

    def all_of(name: str) -> Floats:
        return np.concatenate([getattr(part, name) for part in parts])

    def starts(name: str) -> Ints:
        counts = [np.diff(getattr(part, name)) for part in parts]
        return np.concatenate([[0], np.cumsum(np.concatenate(counts))])

    chain = np.concatenate([part.chain + at for part, at in zip(parts, nodes[:-1], strict=True)])
    return Beams(
        all_of("weight"), all_of("leaving"), all_of("place"), all_of("residual"),
        starts("chain_start"), chain, starts("outline_start"), all_of("outline"),
    )  # fmt: skip
