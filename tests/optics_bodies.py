"""Bodies whose light can be reckoned by hand, as (normals, offsets), and the plain sum of light."""

import numpy as np
from scipy.spatial import ConvexHull

from optimizer.mesh import Floats
from optimizer.optics.kernels.rays import reflectance
from optimizer.optics.paths import Paths

Planes = tuple[Floats, Floats]


def mirrored_share(index: float, angle: float) -> float:
    """Of unpolarised light that meets a surface from outside, ``angle`` radians from its normal."""
    return float(reflectance(np.cos(angle), 1.0, index)[0])


def box(x: float, y: float, z: float) -> Planes:
    """A box with its middle at the origin and these sides."""
    normals = np.vstack([np.eye(3), -np.eye(3)])
    return normals, np.tile([x, y, z], 2) / 2.0


def roof(length: float, depth: float) -> Planes:
    """A prism of 45° below the plane z = 0, its ridge along x at z = -depth."""
    c = np.sqrt(0.5)
    normals = np.array(
        [[0, 0, 1], [0, c, -c], [0, -c, -c], [1, 0, 0], [-1, 0, 0]], float
    )  # fmt: skip
    return normals, np.array([0.0, c * depth, c * depth, length / 2.0, length / 2.0])


def corner(depth: float) -> Planes:
    """Three square facets that meet at (0, 0, -depth), and a flat one at z = 0."""
    turns = np.radians([90.0, 210.0, 330.0])
    down = 1.0 / np.sqrt(3.0)
    out = np.sqrt(2.0 / 3.0)
    sides = np.column_stack([out * np.cos(turns), out * np.sin(turns), np.full(3, -down)])
    return np.vstack([[0.0, 0.0, 1.0], sides]), np.array([0.0, *np.full(3, down * depth)])


def hull_planes(points: Floats) -> Planes:
    """The facets of the convex hull, each once."""
    found: list[Floats] = []
    for equation in ConvexHull(points).equations:
        if not any(np.allclose(equation, known, atol=1e-9) for known in found):
            found.append(equation)
    equations = np.array(found)
    return np.ascontiguousarray(equations[:, :3]), -equations[:, 3]


def lump(seed: int, count: int = 30) -> Planes:
    """A convex body about the origin with random facets, about 1 across the middle."""
    rng = np.random.default_rng(seed)
    points = rng.normal(size=(count, 3))
    return hull_planes(points / np.linalg.norm(points, axis=1, keepdims=True))


def stated_brilliant() -> tuple[Planes, Floats]:
    """The fully stated brilliant of 57 facets with a girdle without thickness, and its corners.

    Proportions of a classic (Tolkowsky, Diamond Design, 1919); the break facets are a choice made
    for checks like this one, since no published light return states its whole body.
    """
    crown, pavilion = np.tan(np.radians([34.5, 40.75]))
    c = np.cos(np.pi / 8.0)
    mains = np.radians(45.0 * np.arange(8))
    tip = 0.53 * c + 0.5 * (1.0 - 0.53 * c)
    rings = [
        (1.0, 0.0, np.radians(22.5 * np.arange(16))),
        (0.53, (1.0 - 0.53) * crown, mains),
        (tip, (1.0 - tip * c) * crown, mains + np.pi / 8.0),
        (0.22, -(1.0 - 0.22 * c) * pavilion, mains + np.pi / 8.0),
        (0.0, -pavilion, np.zeros(1)),
    ]
    points = np.vstack(
        [
            np.column_stack([r * np.cos(turn), r * np.sin(turn), np.full(len(turn), z)])
            for r, z, turn in rings
        ]
    )
    return hull_planes(points), points


def brightness(paths: Paths, absorption: float = 0.0, up: Floats | None = None) -> Floats:
    """What each ray brings from surroundings of radiance 1, on the side of ``up`` alone where that
    is given; the body takes up ``absorption`` per unit of length."""
    legs = np.linalg.norm(np.diff(paths.points, axis=0, prepend=paths.points[:1]), axis=1)
    legs[paths.start[:-1][paths.hit]] = 0.0
    run = np.cumsum(legs)
    run -= np.repeat(run[np.minimum(paths.start[:-1], len(run) - 1)], np.diff(paths.start))
    inner, outer = (
        np.ones(len(ways)) if up is None else (ways @ up > 0.0) * 1.0
        for ways in (paths.leaving, paths.mirrored_direction)
    )
    brought = inner * paths.weight * np.exp(-absorption * run)
    return np.bincount(paths.ray, brought, len(paths.mirrored_share)) + paths.mirrored_share * outer
