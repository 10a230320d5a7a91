"""A convex solid that is cut by one plane after another, as a lap cuts it."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import atan2

import numpy as np

from optimizer.mesh import Floats

ON_PLANE = 1e-9  # of the width: a corner this near to a plane lies on it


@dataclass(frozen=True)
class Facetted:
    """A convex solid: corners, and for each of its faces a name and the corners around it."""

    corners: Floats  # (k, 3)
    faces: dict[str, tuple[int, ...]]  # counter-clockwise from outside


def block(half: float) -> Facetted:
    """A cube about the origin, with edges of twice ``half``."""
    signs = np.array([(x, y, z) for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)], float)
    rings = ((0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3))
    return Facetted(half * signs, {f"block {k}": ring for k, ring in enumerate(rings)})


def clipped(solid: Facetted, name: str, normal: Floats, offset: float) -> Facetted:
    """What is left of the solid where normal·z <= offset; the new face has the given name.

    The solid itself comes back where the plane doesn't reach it. Faces that are cut away are gone;
    their corners stay in the list.
    """
    height = solid.corners @ normal - offset
    above, level = (height > ON_PLANE).tolist(), (np.abs(height) <= ON_PLANE).tolist()
    gone = set(np.flatnonzero(height > ON_PLANE).tolist())
    reached = [other for other, ring in solid.faces.items() if not gone.isdisjoint(ring)]
    if not reached:
        return solid
    faces, crossings, rim = dict(solid.faces), dict[tuple[int, int], int](), set[int]()
    for other in reached:
        left = []
        ring = faces.pop(other)
        for a, b in zip(ring, (*ring[1:], ring[0]), strict=True):
            if not above[a]:
                left.append(a)
            if above[a] != above[b] and not (level[a] or level[b]):
                edge = (min(a, b), max(a, b))
                left.append(crossings.setdefault(edge, len(above) + len(crossings)))
        rim.update(k for k in left if k >= len(above) or level[k])
        if len(left) > 2:
            faces[other] = tuple(left)
    corners = _with_crossings(solid.corners, height, list(crossings))
    if len(rim) > 2:
        faces[name] = _around(corners, sorted(rim), normal)
    return Facetted(corners, faces)


def _with_crossings(corners: Floats, height: Floats, crossed: list[tuple[int, int]]) -> Floats:
    """The corners and, after them, the points of height 0 on the edges that are crossed."""
    if not crossed:
        return corners
    a, b = np.array(crossed).T
    share = height[a] / (height[a] - height[b])
    return np.vstack([corners, corners[a] + share[:, None] * (corners[b] - corners[a])])


def tidied(solid: Facetted) -> Facetted:
    """The same solid without the corners that no face has any more."""
    kept = sorted({k for ring in solid.faces.values() for k in ring})
    number = {k: place for place, k in enumerate(kept)}
    faces = {name: tuple(number[k] for k in ring) for name, ring in solid.faces.items()}
    return Facetted(solid.corners[kept], faces)


def _around(corners: Floats, members: list[int], normal: Floats) -> tuple[int, ...]:
    """Corner numbers in counter-clockwise order, seen against ``normal``."""
    # Without numpy: of so few numbers, one call of it takes longer than the whole sum.
    points = corners[members].tolist()
    middle = [sum(axis) / len(points) for axis in zip(*points, strict=True)]
    spokes = [[p - m for p, m in zip(point, middle, strict=True)] for point in points]
    x, y, z = max(spokes, key=lambda spoke: sum(s * s for s in spoke))
    a, b, c = normal.tolist()
    u, v, w = b * z - c * y, c * x - a * z, a * y - b * x
    turns = [atan2(p * u + q * v + r * w, p * x + q * y + r * z) for p, q, r in spokes]
    return tuple(members[k] for k in sorted(range(len(members)), key=turns.__getitem__))


def edges(solid: Facetted) -> Iterator[tuple[str, str, float, Floats]]:
    """Every edge: the names of the two faces beside it, its length and its middle (3,)."""
    sides: dict[tuple[int, int], str] = {}
    for name, ring in solid.faces.items():
        sides |= dict.fromkeys(zip(ring, (*ring[1:], ring[0]), strict=True), name)
    pairs = [pair for pair in sides if pair[0] < pair[1]]
    ends = solid.corners[np.array(pairs, np.int64)]
    lengths = np.linalg.norm(ends[:, 0] - ends[:, 1], axis=1).tolist()
    for (a, b), length, middle in zip(pairs, lengths, ends.mean(axis=1), strict=True):
        yield sides[a, b], sides[b, a], length, middle
