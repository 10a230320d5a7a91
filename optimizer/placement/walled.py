"""A piece of the rough beside saw cuts: the same surface, and the part of it that a stone can use.

Pieces are never meshed for a search. The whole surface and the cuts' planes hold the stone
exactly; the stand-ins and places that the search begins with are those of the piece.
"""

from dataclasses import replace

import numpy as np

from optimizer.mesh import Floats, Plane
from optimizer.placement.containers import Planes
from optimizer.placement.ground import COARSE_POINTS, FINE_POINTS, Ground, spacing, stand_in
from optimizer.solid import plane_frame

FEW = 100  # stand-ins of the whole about a piece: with fewer it gets its own
WALL_POINTS = 15  # stand-ins along the longest side of a wall; a quarter as far apart when fine


def sawn_walls(ground: Ground, walls: tuple[Plane, ...], skin_mm: float) -> tuple[Planes, ...]:
    """The side below each plane (scan frame) as one container in the ground's own frame.

    The stone's skin, which every container adds, is taken off: it is no allowance here.
    """
    if not walls:
        return ()
    own = [ground.plane(wall) for wall in walls]
    return (Planes(np.array([w.normal for w in own]), np.array([w.offset + skin_mm for w in own])),)


def walled(ground: Ground, walls: tuple[Plane, ...], skin_mm: float) -> Ground:
    """The ground as a search should see it that stays below ``walls`` (scan frame).

    Its surface is that of the whole rough. Where no place is left, the ground as it was.
    """
    for planes in sawn_walls(ground, walls, skin_mm):
        room = planes.offsets - ground.places @ planes.normals.T
        left = (room > 0.0).all(axis=1)
        if not left.any():
            return ground
        coarse, fine, apart = ground.coarse, ground.fine, ground.spacing
        if np.sum((coarse @ planes.normals.T <= planes.offsets).all(axis=1)) < FEW:
            near = _near(ground, planes)
            coarse, fine = (stand_in(near, n) for n in (COARSE_POINTS, FINE_POINTS))
            apart = spacing(near, COARSE_POINTS)
        return replace(
            ground,
            hull=ground.hull.and_also(planes),
            inner=None if ground.inner is None else ground.inner.and_also(planes),
            coarse=_cut_off(coarse, planes, WALL_POINTS),
            fine=_cut_off(fine, planes, 4 * WALL_POINTS),
            spacing=apart,
            places=ground.places[left],
            depths=np.minimum(ground.depths, room.min(axis=1))[left],
        )
    return ground


def _near(ground: Ground, planes: Planes) -> Floats:
    """The triangles (k, 3, 3) of the surface of which some corner lies below each plane."""
    triangles = ground.surface.triangles
    near = np.full(len(triangles), True)
    for normal, offset in zip(planes.normals, planes.offsets, strict=True):
        near &= (triangles @ normal).min(axis=1) <= offset
    return np.ascontiguousarray(triangles[near])


def _cut_off(points: Floats, planes: Planes, count: int) -> Floats:
    """The stand-ins (n, 3) below the planes, and others on the planes, ``count`` along the longest
    side."""
    step = float(np.ptp(points, axis=0).max()) / count
    sheets = [
        _sheet(points, normal, offset, step)
        for normal, offset in zip(planes.normals, planes.offsets, strict=True)
    ]
    every = np.vstack([points, *sheets])
    below = (every @ planes.normals.T <= planes.offsets + 1e-9).all(axis=1)
    return np.ascontiguousarray(every[below])


def _sheet(points: Floats, normal: Floats, offset: float, step: float) -> Floats:
    """A square grid (k, 3) on a plane, as far as ``points`` reach across it."""
    frame = plane_frame(normal, np.eye(3)[int(np.argmin(np.abs(normal)))])
    across = points @ frame[:2].T
    u, v = (
        np.arange(low, high + step, step)
        for low, high in zip(across.min(0), across.max(0), strict=True)
    )
    flat = np.array(np.meshgrid(u, v)).reshape(2, -1).T
    return np.asarray(flat @ frame[:2] + offset * normal)
