"""Plain triangle meshes and planes, as every stage passes them along (millimetres)."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Mesh:
    """A triangle mesh: ``vertices`` (n, 3) in mm, ``faces`` (m, 3), wound outwards.

    Two are equal only where they are one and the same, so that what is made of a mesh can be kept.
    """

    vertices: Floats
    faces: Ints

    @cached_property
    def triangles(self) -> Floats:
        """Corner points, (m, 3, 3); kept, since a scan has very many and every stage asks."""
        return self.vertices[self.faces]


@dataclass(frozen=True)
class Plane:
    """The points x with ``normal``·x = ``offset``; ``normal`` (3,) has length one."""

    normal: Floats
    offset: float

    @staticmethod
    def through(point: Floats, normal: Floats) -> "Plane":
        """The plane through ``point`` square to ``normal`` (any length but zero)."""
        unit = np.asarray(normal, float) / np.linalg.norm(normal)
        return Plane(unit, float(unit @ np.asarray(point, float)))

    def flipped(self) -> "Plane":
        """The same plane seen from its other side."""
        return Plane(-self.normal, -self.offset)


def lengths(vectors: Floats) -> Floats:
    """Lengths of vectors (..., 3); several times as quick as numpy's norm."""
    x, y, z = vectors[..., 0], vectors[..., 1], vectors[..., 2]
    return np.asarray(np.sqrt(x * x + y * y + z * z))


def even_directions(count: int) -> Floats:
    """Unit directions (count, 3) spread evenly over the sphere (a Fibonacci lattice)."""
    k = np.arange(count) + 0.5
    z = 1.0 - 2.0 * k / count
    turn = np.pi * (1.0 + np.sqrt(5.0)) * k
    flat = np.sqrt(1.0 - z * z)
    return np.column_stack([flat * np.cos(turn), flat * np.sin(turn), z])


def greatest(each: Floats) -> Floats:
    """The greatest of each three, (n, 3) to (n,); quicker than numpy's max for the same reason."""
    return np.asarray(np.maximum(np.maximum(each[:, 0], each[:, 1]), each[:, 2]))


def volume(mesh: Mesh) -> float:
    """Enclosed volume in mm³ by the divergence theorem, about the mean vertex for accuracy."""
    corners = mesh.triangles - mesh.vertices.mean(axis=0)
    return float(np.einsum("ij,ij->", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])) / 6.0)
