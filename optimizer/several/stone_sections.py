"""Cells of directions in which a stone may stand, and how large an ellipse its sections hold.

The ellipses along one direction are of one shape: sections of the ellipsoid with the body's
extents, made larger or smaller. As the body is convex, the size of the largest in a section is a
concave function of the section's height: between two heights it is no less than the lesser of the
two.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.mesh import Floats, Ints
from optimizer.several.dilated import DilatedBody
from optimizer.several.kernels.ellipses import largest_ellipses

OUTWARD = 1e-12  # radians: more than rounding can take from an angle
SAMPLES = 9  # heights at which the largest section is sought


@dataclass(frozen=True)
class DirectionCells:
    """Squares on the faces of the cube [-1, 1]³, which together are seen in every direction from
    its centre: ``face`` (n,) 0 to 5, ``middle`` (n, 2), half a side ``half``."""

    face: Ints
    middle: Floats
    half: float

    @staticmethod
    def whole() -> "DirectionCells":
        """All directions."""
        return DirectionCells(np.arange(6), np.zeros((6, 2)), 1.0)

    def quarters(self, which: NDArray[np.bool_]) -> "DirectionCells":
        """Some of the cells (mask), each divided into four."""
        half = self.half / 2.0
        steps = half * np.array([[x, y] for x in (-1.0, 1.0) for y in (-1.0, 1.0)])
        middle = (self.middle[which][:, None] + steps).reshape(-1, 2)
        return DirectionCells(np.repeat(self.face[which], 4), middle, half)

    def within(self, symmetry: int) -> "DirectionCells":
        """The cells that may hold directions of one sector about z of so many."""
        end = 2.0 * np.pi / symmetry
        sides = np.array([[0.0, 1.0, 0.0], [np.sin(end), -np.cos(end), 0.0]])
        if symmetry == 1:
            return self
        beyond = self.directions() @ sides.T + 2.0 * np.sin(self.radii() / 2.0)[:, None]
        near = (beyond >= 0.0).all(axis=1)
        return DirectionCells(self.face[near], self.middle[near], self.half)

    def directions(self) -> Floats:
        """The unit directions of the middles, (n, 3)."""
        return _unit(self.face, self.middle)

    def radii(self) -> Floats:
        """The largest angle in radians from each middle to its cell's corners, (n,)."""
        middle, angles = self.directions(), np.zeros(len(self.face))
        for x in (-self.half, self.half):
            for y in (-self.half, self.half):
                corner = _unit(self.face, self.middle + np.array([x, y]))
                chord = np.linalg.norm(corner - middle, axis=1)
                angles = np.maximum(angles, 2.0 * np.arcsin(np.minimum(chord / 2.0, 1.0)))
        return np.asarray(angles + OUTWARD)


def _unit(face: Ints, at: Floats) -> Floats:
    """Unit directions through places on the cube's faces."""
    side = np.where(face % 2 == 0, 1.0, -1.0)
    points = np.column_stack([side, at])
    axis = (face // 2)[:, None]
    others = np.where(axis == 1, points[:, [2, 0, 1]], points[:, [1, 2, 0]])
    turned = np.where(axis == 0, points, others)
    return np.asarray(turned / np.linalg.norm(turned, axis=1)[:, None])


@dataclass(frozen=True)
class Sections:
    """The sections of a body square to directions (n, 3): ellipses that lie in the body however it
    is turned about its middle by up to ``radii`` (n,). An ellipse of ``size`` has the area
    π·size²."""

    body: DilatedBody
    directions: Floats  # (n, 3)
    radii: Floats  # (n,) radians
    walls: Floats  # (n, 4) where ellipses may lie (``kernels.ellipses``)

    @staticmethod
    def of(body: DilatedBody, directions: Floats, radii: Floats, overhang: float) -> "Sections":
        """Ellipses that stay ``overhang`` mm further from every upright wall than the largest
        section of the body, wherever that wall stands."""
        walls = np.full((len(directions), 4), np.inf)
        plain = Sections(body, directions, radii, walls)
        if overhang == 0.0:
            return plain
        along = directions @ body.corners.T
        shares = np.linspace(0.0, 1.0, SAMPLES)
        heights = along.min(axis=1)[:, None] + shares * np.ptp(along, axis=1)[:, None]
        sizes, centres = plain._largest(heights)
        rows, best = np.arange(len(sizes)), np.argmax(sizes, axis=1)
        least = plain.least_axes / plain._scale
        reach = np.maximum(sizes[rows, best], 0.0) * least - overhang
        walls = np.column_stack([centres[rows, best], least, reach])
        return Sections(body, directions, radii, walls)

    def sizes(self, heights: Floats) -> Floats:
        """The largest ellipses at heights (n, a) mm above the body's middle, (n, a); less than 0
        where there is none."""
        return self._largest(heights)[0] / self._scale[:, None]

    @property
    def least_axes(self) -> Floats:
        """The least half axis in mm of an ellipse for each mm of size, (n,)."""
        return np.asarray(np.sqrt(np.linalg.eigvalsh(self._inverse)[:, 0]) * self._scale)

    @property
    def _scale(self) -> Floats:
        """det G^(1/4): what makes an ellipse of size 1 of the area π."""
        return np.asarray(np.linalg.det(self._inverse) ** -0.25)

    @property
    def _across(self) -> Floats:
        """Two unit vectors square to each direction and to one another, (n, 2, 3)."""
        near = np.abs(self.directions[:, :1]) < 0.6
        aside = np.where(near, [[1.0, 0.0, 0.0]], [[0.0, 1.0, 0.0]])
        one = np.cross(self.directions, aside)
        one /= np.linalg.norm(one, axis=1)[:, None]
        return np.stack([one, np.cross(self.directions, one)], axis=1)

    @property
    def _inverse(self) -> Floats:
        """Of the matrices G of the ellipses {y : y·G·y <= size²}, (n, 2, 2)."""
        across, curve = self._across, self.body.half_extents**-2.0
        return np.linalg.inv(np.einsum("nij,j,nkj->nik", across, curve, across))

    def _largest(self, heights: Floats) -> tuple[Floats, Floats]:
        (n, a), body = heights.shape, self.body
        sizes, centres = np.empty((n, a)), np.empty((n, a, 2))
        largest_ellipses(
            (np.ascontiguousarray(body.normals), body.offsets, body.radius),
            (self.directions, self._across, self._inverse),
            self.radii, np.ascontiguousarray(heights), self.walls, sizes, centres,
        )  # fmt: skip
        return sizes, centres
