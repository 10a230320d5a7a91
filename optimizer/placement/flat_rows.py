"""A surface whose large triangles tell of every corner of the stone that lies over them.

A triangle's gauge speaks of one point. Where a facet lies flat on a large triangle, as on a sawn
face, that one point lets a linear program tip the stone into the rest of the triangle.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from optimizer.mesh import Floats, greatest, lengths, unit_normals
from optimizer.placement.containers import Rows, Surface, corner_rows, joined
from optimizer.placement.growth import Growth
from optimizer.placement.kernels.flat_rows import lies_over
from optimizer.placement.situation import Situation

# A triangle with a longer edge, in mm or as a share of the whole surface's size, can lie under more
# than one corner.
LARGE_MM, LARGE_SHARE = 1.0, 0.05


@dataclass(frozen=True)
class FlatSurface(Surface):
    """The surface as it is; only its rows tell more."""

    @staticmethod
    def like(surface: Surface) -> "FlatSurface":
        """The same surface."""
        return FlatSurface(
            surface.triangles, surface.boxes, surface.square, surface.extra_mm, surface.solid
        )

    def rows(self, at: Situation, band: float) -> Rows:
        """See Container."""
        over = [self._over(growth.kept(self.extra_mm), at, band) for growth in at.near(band)]
        return joined([super().rows(at, band), *over])

    @cached_property
    def large(self) -> tuple[Floats, Floats]:
        """The triangles (n, 3, 3) that more than one corner of the stone can lie over, and their
        unit normals (n, 3)."""
        sides = np.roll(self.triangles, -1, axis=1) - self.triangles
        normals = unit_normals(np.roll(self.triangles, -1, axis=1))
        box = self.boxes[0]
        longest = min(LARGE_MM, LARGE_SHARE * float((box[3:6] - box[:3]).max()))
        large = (greatest(lengths(sides)) > longest) & normals.any(axis=1)
        return self.triangles[large], normals[large]

    def _over(self, growth: Growth, at: Situation, band: float) -> Rows:
        """A row for each corner of the stone that lies over a large triangle, and near it."""
        triangles, normals = self.large
        arms = (growth.corners0 + growth.corners1 * at.sigma) @ at.rotation.T
        margin, near = growth.margin0 + growth.margin1 * at.sigma, band * growth.pace
        over = lies_over(triangles, normals, arms + at.translation, margin - near, margin + near)
        triangle, corner = np.nonzero(over)
        normals = normals[triangle]
        to_plane = triangles[triangle, 0] - at.translation - arms[corner]
        room = np.einsum("ij,ij->i", normals, to_plane) - margin
        return corner_rows(growth, at, corner, normals), room
