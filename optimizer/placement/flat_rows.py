"""A surface whose large triangles tell of every corner of the stone that lies over them.

A triangle's gauge speaks of one point. Where a facet lies flat on a large triangle, as on a sawn
face, that one point lets a linear program tip the stone into the rest of the triangle.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from optimizer.mesh import Floats
from optimizer.placement.containers import Rows, Surface
from optimizer.placement.growth import Growth

LARGE_MM = 1.0  # the longest edge from which on a triangle can lie under more than one corner


@dataclass(frozen=True)
class FlatSurface(Surface):
    """The surface as it is; only its rows tell more."""

    def rows(
        self,
        growths: tuple[Growth, ...],
        rotation: Floats,
        translation: Floats,
        sigma: float,
        band: float,
        lever: float,
    ) -> Rows:
        """See Container."""
        parts = [super().rows(growths, rotation, translation, sigma, band, lever)]
        for growth in growths:
            kept = growth.kept(self.extra_mm)
            parts.append(_over(self.large, kept, rotation, translation, sigma, band, lever))
        return np.vstack([r for r, _ in parts]), np.concatenate([m for _, m in parts])

    @cached_property
    def large(self) -> Floats:
        """The triangles (n, 3, 3) that more than one corner of the stone can lie over."""
        edges = self.triangles - np.roll(self.triangles, 1, axis=1)
        large: Floats = self.triangles[np.linalg.norm(edges, axis=2).max(axis=1) > LARGE_MM]
        return large


def _over(
    triangles: Floats,
    growth: Growth,
    rotation: Floats,
    translation: Floats,
    sigma: float,
    band: float,
    lever: float,
) -> Rows:
    """A row for each corner of the stone that lies over a triangle (n, 3, 3), and near it."""
    arms = (growth.corners0 + growth.corners1 * sigma) @ rotation.T
    paces = growth.corners1 @ rotation.T
    a, b, c = (triangles[:, k] - translation for k in range(3))
    normals = np.cross(b - a, c - a)
    sizes = np.linalg.norm(normals, axis=1)
    flat = sizes > 0.0
    a, b, c, normals = a[flat], b[flat], c[flat], normals[flat] / sizes[flat, None]
    room = np.einsum("ni,ni->n", normals, a)[:, None] - normals @ arms.T
    room -= growth.margin0 + growth.margin1 * sigma
    over = (room >= -band * growth.pace) & (room < band * growth.pace)
    near = over.any(axis=1)  # most lie far off; what is asked next costs more
    a, b, c, normals, room, over = a[near], b[near], c[near], normals[near], room[near], over[near]
    for start, end in ((a, b), (b, c), (c, a)):
        inward = np.cross(normals, end - start)
        over &= inward @ arms.T >= np.einsum("ni,ni->n", inward, start)[:, None]
    triangle, corner = np.nonzero(over)
    normals = normals[triangle]
    slopes = growth.corner_slopes(sigma) @ rotation.T
    rows = np.empty((len(triangle), 7 + len(slopes)))
    rows[:, 0] = np.einsum("ij,ij->i", normals, paces[corner]) + growth.margin1
    rows[:, 1:4] = normals
    rows[:, 4:7] = np.cross(arms[corner], normals) / lever
    rows[:, 7:] = np.einsum("ri,qri->rq", normals, slopes[:, corner])
    return rows, room[triangle, corner]
