"""A surface whose large triangles tell of every corner of the stone that lies over them.

A triangle's gauge speaks of one point. Where a facet lies flat on a large triangle, as on a sawn
face, that one point lets a linear program tip the stone into the rest of the triangle.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from optimizer.mesh import Floats, greatest, lengths, unit_normals
from optimizer.placement.containers import Rows, Surface
from optimizer.placement.growth import Growth
from optimizer.placement.kernels.flat_rows import lies_over

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
    def large(self) -> tuple[Floats, Floats]:
        """The triangles (n, 3, 3) that more than one corner of the stone can lie over, and their
        unit normals (n, 3)."""
        sides = np.roll(self.triangles, -1, axis=1) - self.triangles
        normals = unit_normals(np.roll(self.triangles, -1, axis=1))
        box = self.boxes[0]
        longest = min(LARGE_MM, LARGE_SHARE * float((box[3:6] - box[:3]).max()))
        large = (greatest(lengths(sides)) > longest) & normals.any(axis=1)
        return self.triangles[large], normals[large]


def _over(
    large: tuple[Floats, Floats],
    growth: Growth,
    rotation: Floats,
    translation: Floats,
    sigma: float,
    band: float,
    lever: float,
) -> Rows:
    """A row for each corner of the stone that lies over a large triangle, and near it."""
    triangles, normals = large
    arms = (growth.corners0 + growth.corners1 * sigma) @ rotation.T
    paces = growth.corners1 @ rotation.T
    margin, near = growth.margin0 + growth.margin1 * sigma, band * growth.pace
    over = lies_over(triangles, normals, arms + translation, margin - near, margin + near)
    triangle, corner = np.nonzero(over)
    normals = normals[triangle]
    to_plane = triangles[triangle, 0] - translation - arms[corner]
    room = np.einsum("ij,ij->i", normals, to_plane) - margin
    slopes = growth.corner_slopes(sigma) @ rotation.T
    rows = np.empty((len(triangle), 7 + len(slopes)))
    rows[:, 0] = np.einsum("ij,ij->i", normals, paces[corner]) + growth.margin1
    rows[:, 1:4] = normals
    rows[:, 4:7] = np.cross(arms[corner], normals) / lever
    rows[:, 7:] = np.einsum("ri,qri->rq", normals, slopes[:, corner])
    return rows, room
