"""A tiling of all rotations by cells that only ever get smaller: no gaps, whatever the depth.

Unit quaternions with their greatest part scaled to 1 fill four cubes [-1, 1]³ (gnomonic charts),
one for each part; a cell is a box in one chart, and is split into halves there. Great
circles are straight lines in a chart and balls about a point are convex, so the place farthest
from a cell's middle is one of its corners.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.mesh import Floats, Ints
from optimizer.placement.rotations import from_quaternions

Mask = NDArray[np.bool_]

_CORNERS = np.array([[x, y, z] for x in (-1.0, 1.0) for y in (-1.0, 1.0) for z in (-1.0, 1.0)])
OUTWARD = 1e-12  # radians: more than rounding can take from an angle computed below


@dataclass(frozen=True)
class Cells:
    """Boxes in the charts: ``chart`` (n,) 0 to 3, ``middle`` (n, 3), half sides ``half`` (n, 3)."""

    chart: Ints
    middle: Floats
    half: Floats

    def __len__(self) -> int:
        return len(self.chart)

    def take(self, which: Ints | Mask | slice) -> "Cells":
        """Some of the cells."""
        return Cells(self.chart[which], self.middle[which], self.half[which])

    @staticmethod
    def joined(parts: Sequence["Cells"]) -> "Cells":
        """All cells of several, in order."""
        return Cells(
            np.concatenate([part.chart for part in parts]),
            np.concatenate([part.middle for part in parts]),
            np.concatenate([part.half for part in parts]),
        )

    def split(self) -> "Cells":
        """The eight halves of each cell, (8n) in order."""
        half = np.repeat(self.half / 2.0, 8, axis=0)
        middle = np.repeat(self.middle, 8, axis=0)
        middle = middle + half * np.tile(_CORNERS, (len(self), 1))
        return Cells(np.repeat(self.chart, 8), middle, half)

    def halved(self) -> "Cells":
        """The two halves of each cell across its longest side, (2n) in order."""
        longest = np.argmax(self.half, axis=1)
        half = self.half.copy()
        half[np.arange(len(self)), longest] /= 2.0
        step = np.where(np.arange(3) == longest[:, None], half, 0.0)
        middle = np.stack([self.middle - step, self.middle + step], axis=1)
        return Cells(np.repeat(self.chart, 2), middle.reshape(-1, 3), np.repeat(half, 2, axis=0))

    def rotations(self) -> Floats:
        """The middles as rotation matrices, (n, 3, 3)."""
        return from_quaternions(quaternions(self.chart, self.middle))

    def radii(self) -> Floats:
        """The largest angle in radians from each middle to its cell's corners, (n,)."""
        q = quaternions(self.chart, self.middle)
        corners = self.middle[:, None] + self.half[:, None] * _CORNERS
        p = quaternions(np.repeat(self.chart, 8), corners.reshape(-1, 3)).reshape(-1, 8, 4)
        # The chord is exact for small angles, where the arc cosine of a product is not.
        chord = np.linalg.norm(p - q[:, None], axis=2).max(axis=1)
        return np.asarray(4.0 * np.arcsin(np.minimum(chord / 2.0, 1.0)) + OUTWARD)

    def sides(self) -> Floats:
        """Each cell seen from its own middle: {g : sides[:, :3]·g <= sides[:, 3]}, (n, 6, 4).

        g = axis·tan(θ/2) of the rotation from the middle. Seen so, a chart is moved by a
        projective map, which keeps planes: each side is the plane through its four corners, the
        first three sides meet at one corner.
        """
        q = quaternions(self.chart, self.middle)
        corners = self.middle[:, None] + self.half[:, None] * _CORNERS
        p = quaternions(np.repeat(self.chart, 8), corners.reshape(-1, 3)).reshape(-1, 8, 4)
        g = _relative(q, p)
        sides = np.empty((len(self), 6, 4))
        for f, (axis, sign) in enumerate((a, s) for s in (1.0, -1.0) for a in range(3)):
            face = g[:, _CORNERS[:, axis] == sign]
            normal = np.cross(face[:, 1] - face[:, 0], face[:, 2] - face[:, 0])
            normal /= np.linalg.norm(normal, axis=1, keepdims=True)
            outward = np.einsum("ni,ni->n", normal, face.mean(axis=1)) > 0.0
            normal[~outward] *= -1.0
            sides[:, f, :3] = normal
            # The farthest corner and a little more: flat or not, no rotation is left out.
            level = np.einsum("ni,nci->nc", normal, g).max(axis=1)
            sides[:, f, 3] = level * (1.0 + 1e-12) + 1e-15
        return sides


def _relative(q: Floats, p: Floats) -> Floats:
    """axis·tan(θ/2) of the rotations from q (n, 4) to p (n, m, 4), in q's own frame."""
    vector, scalar = -q[:, None, :3], q[:, None, 3]
    w = scalar * p[..., 3] - np.einsum("nci,nmi->nm", vector, p[..., :3])
    v = scalar[..., None] * p[..., :3] + p[..., 3:] * vector + np.cross(vector, p[..., :3])
    return np.asarray(v / w[..., None])


def all_rotations() -> Cells:
    """The four charts whole."""
    return Cells(np.arange(4), np.zeros((4, 3)), np.ones((4, 3)))


def quaternions(chart: Ints, place: Floats) -> Floats:
    """Unit quaternions (x, y, z, w) at places (n, 3) of the charts (n,)."""
    q = np.ones((len(chart), 4))
    others = np.array([[1, 2, 3], [0, 2, 3], [0, 1, 3], [0, 1, 2]])[chart]
    np.put_along_axis(q, others, place, axis=1)
    return np.asarray(q / np.linalg.norm(q, axis=1, keepdims=True))


def in_fundamental_zone(rotations: Floats, radii: Floats, group: Floats) -> Mask:
    """Which cells may hold a rotation that turns no more than its orbit R·G: (n,) mask.

    The others' rotations all have an equal that turns less, in a cell that is kept.
    """
    traces = np.einsum("nij,qji->nq", rotations, group)
    angles = np.arccos(np.clip((traces - 1.0) / 2.0, -1.0, 1.0))
    return np.asarray(angles[:, 0] - radii <= angles.min(axis=1) + radii + 1e-9)
