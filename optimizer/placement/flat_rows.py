"""A surface whose large triangles tell of every corner of the stone that lies over them.

A triangle's gauge speaks of one point. Where a facet lies flat on a large triangle, as on a sawn
face, that one point lets a linear program tip the stone into the rest of the triangle.
"""

from dataclasses import dataclass, fields

import numpy as np

from optimizer.mesh import Floats
from optimizer.placement.containers import Rows, Surface, corner_rows, joined
from optimizer.placement.growth import Growth
from optimizer.placement.kernels.flat_rows import lies_over
from optimizer.placement.situation import Situation


@dataclass(frozen=True)
class FlatSurface(Surface):
    """The surface as it is; only its rows tell more."""

    flats: tuple[Floats, Floats] = (np.empty((0, 3, 3)), np.empty((0, 3)))  # as ``large``

    @staticmethod
    def like(surface: Surface) -> "FlatSurface":
        """The same surface."""
        own = {field.name: getattr(surface, field.name) for field in fields(Surface)}
        return FlatSurface(**own, flats=surface.large)

    def rows(self, at: Situation, band: float) -> Rows:
        """See Container."""
        over = [self._over(growth.kept(self.extra_mm), at, band) for growth in at.near(band)]
        return joined([super().rows(at, band), *over])

    def _over(self, growth: Growth, at: Situation, band: float) -> Rows:
        """A row for each corner of the stone that lies over a large triangle, and near it."""
        triangles, normals = self.flats
        arms = (growth.corners0 + growth.corners1 * at.sigma) @ at.rotation.T
        margin, near = growth.margin0 + growth.margin1 * at.sigma, band * growth.pace
        over = lies_over(triangles, normals, arms + at.translation, margin - near, margin + near)
        triangle, corner = np.nonzero(over)
        normals = normals[triangle]
        to_plane = triangles[triangle, 0] - at.translation - arms[corner]
        room = np.einsum("ij,ij->i", normals, to_plane) - margin
        return corner_rows(growth, at, corner, normals), room
