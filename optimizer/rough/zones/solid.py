"""The space on either side of a colour boundary as robust solids."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from optimizer.mesh import Floats, Mesh, Plane, unit_normals
from optimizer.rough.model import Ball, BentSheet, Boundary, ConvexRoom
from optimizer.rough.zones.boundary import normals
from optimizer.rough.zones.boundary_fit import distances
from optimizer.solid import as_mesh, as_solid, trim
from optimizer.wording.plain_number import plain

Bools = NDArray[np.bool_]

SAG_SHARE = 2e-4  # of the piece's longest side: how far facets may lie off a curved boundary
MOST_GRID = 160  # squares of a bent sheet along either side
MOST_SIDES = 512  # of a ball's great circle
MOST_RADII = 3.0  # of a ball, longest sides of the piece: up to there so many sides do
_WIDEST = 1.6  # a ball's longest side, of those along a great circle (measured, see the tests)
_FACING = 0.98  # cosine: a facet of a curved boundary is turned less against the boundary
BEYOND_SHARE = 0.05  # of the longest side: how far a room reaches past the piece


def parted(solid: Any, boundary: Boundary) -> tuple[Any, Any]:
    """(towards, away): a robust solid parted at a boundary; curved ones are made of facets that
    touch them at their corners and lie ``sag_mm`` off them at most."""
    if isinstance(boundary, Plane):
        return trim(solid, boundary), trim(solid, boundary.flipped())
    room = room_towards(boundary, _corners(solid))
    return solid ^ room, solid - room


def room_towards(boundary: Boundary, points: Floats) -> Any:
    """The room of the colour named by ``towards``, as far as a box round ``points`` (n, 3)
    reaches, and a little beyond."""
    low, high = _box(points)
    box = as_box(points)
    match boundary:
        case Plane():
            return trim(box, boundary)
        case ConvexRoom():
            for plane in boundary.planes:
                box = trim(box, plane)
            return box
        case Ball():
            return _ball(boundary, high - low) ^ box
        case BentSheet():
            return box ^ _above(boundary, float(np.linalg.norm(high - low)), 0.5 * (low + high))


def room_away(boundary: Boundary, points: Floats) -> Any:
    """The room of the other colour; arguments as above."""
    if isinstance(boundary, Plane):
        return trim(as_box(points), boundary.flipped())
    return as_box(points) - room_towards(boundary, points)


def sag_mm(boundary: Boundary, points: Floats) -> float:
    """How far the rooms' facets lie off the boundary at most; 0 for flat ones."""
    low, high = _box(points)
    match boundary:
        case Ball():
            # A triangle whose sides span an angle a about the middle lies r(1 − cos(a/√3)) in.
            step = 2.0 * np.pi / _sides(boundary, high - low)
            return boundary.radius_mm * (1.0 - float(np.cos(_WIDEST * step / np.sqrt(3.0))))
        case BentSheet():
            size = float(np.linalg.norm(high - low))
            step = size / _squares(boundary, size)
            return float(np.abs(boundary.bend).sum()) * step * step / 8.0
    return 0.0


def refuse_vast_ball(boundary: Boundary, points: Floats) -> None:
    """Raises ValueError where a ball is so large beside a piece with corners ``points`` (n, 3) that
    its facets would lie far off it; the stone would have to keep that much more distance."""
    size = float(np.ptp(points, axis=0).max())
    if isinstance(boundary, Ball) and boundary.radius_mm > MOST_RADII * size:
        raise ValueError(
            f"is a ball of radius {plain(boundary.radius_mm, 4)} mm, more than "
            f"{plain(MOST_RADII)} times the "
            f'piece\'s {plain(size, 4)} mm: so slight a curve makes no ball; give shape = "bent", '
            'or shape = "plane" where it is nearly flat'
        )


def as_box(points: Floats) -> Any:
    """A box round ``points`` (n, 3), a little larger all round."""
    import manifold3d

    low, high = _box(points)
    return manifold3d.Manifold.cube(tuple(high - low)).translate(tuple(low))


def boundary_mesh(solid: Any, boundary: Boundary) -> Mesh:
    """The boundary's surface where it runs through a robust solid, open, in triangles."""
    mesh = as_mesh(parted(solid, boundary)[0])
    return Mesh(mesh.vertices, mesh.faces[on_boundary(mesh, boundary)])


def on_boundary(mesh: Mesh, boundary: Boundary) -> Bools:
    """Which triangles (m,) of a part of a solid lie on the boundary that parted it."""
    if not len(mesh.faces):
        return np.zeros(0, bool)
    size = float(np.ptp(mesh.vertices, axis=0).max())
    near_mm = 1e-7 * size + 2.0 * sag_mm(boundary, mesh.vertices)
    corners = mesh.triangles
    spots = np.concatenate([corners, corners.mean(axis=1, keepdims=True)], axis=1)
    gaps = distances(boundary, spots.reshape(-1, 3)).reshape(-1, 4)
    across = unit_normals(corners)
    facing = np.abs(np.einsum("ij,ij->i", across, normals(boundary, corners.mean(axis=1))))
    return np.asarray((gaps <= near_mm).all(axis=1) & (facing > _FACING))


def _corners(solid: Any) -> Floats:
    box = np.array(solid.bounding_box(), float)
    return box.reshape(2, 3)


def _box(points: Floats) -> tuple[Floats, Floats]:
    low, high = points.min(axis=0), points.max(axis=0)
    beyond = BEYOND_SHARE * float((high - low).max())
    return low - beyond, high + beyond


def _ball(ball: Ball, sides: Floats) -> Any:
    import manifold3d

    round_about = manifold3d.Manifold.sphere(ball.radius_mm, _sides(ball, sides))
    return round_about.translate(tuple(ball.centre))


def _sides(ball: Ball, box: Floats) -> int:
    """Of a great circle, in fours, as the robust kernel wants them."""
    sag = SAG_SHARE * float(box.max())
    angle = np.arccos(max(1.0 - sag / ball.radius_mm, 0.5)) * np.sqrt(3.0) / _WIDEST
    return int(min(4 * np.ceil(2.0 * np.pi / angle / 4.0), MOST_SIDES))


def _squares(bent: BentSheet, size: float) -> int:
    """Along either side of the sheet: a flat facet of a sheet lies Σ|bend|·step²/8 off at most."""
    sag = SAG_SHARE * size
    step = np.sqrt(8.0 * sag / max(float(np.abs(bent.bend).sum()), 1e-12))
    return int(np.clip(np.ceil(size / step), 2, MOST_GRID))


def _above(bent: BentSheet, size: float, middle: Floats) -> Any:
    """The room above the sheet, as far as a ball of diameter ``size`` about ``middle`` needs."""
    n = _squares(bent, size)
    foot = (middle - bent.middle) @ bent.frame.T
    line = np.linspace(-0.5 * size, 0.5 * size, n + 1)
    u, v = (grid.ravel() for grid in np.meshgrid(foot[0] + line, foot[1] + line, indexing="ij"))
    w = 0.5 * (bent.bend[0] * u * u + bent.bend[1] * v * v)
    top = max(float(w.max()), float(foot[2]) + size) + size
    sheet = np.column_stack([u, v, w])
    lid = np.column_stack([u, v, np.full_like(u, top)])
    a = np.arange((n + 1) * n).reshape(n, n + 1)[:, :-1].ravel()
    flat = np.vstack([
        np.column_stack([a, a + n + 1, a + n + 2]), np.column_stack([a, a + n + 2, a + 1])
    ])  # fmt: skip
    grid = np.arange((n + 1) ** 2).reshape(n + 1, n + 1)
    rim = np.concatenate([grid[:-1, 0], grid[-1, :-1], grid[:0:-1, -1], grid[0, :0:-1]])
    after, count = np.roll(rim, -1), (n + 1) ** 2
    walls = np.vstack([
        np.column_stack([rim, after, after + count]),
        np.column_stack([rim, after + count, rim + count]),
    ])  # fmt: skip
    faces = np.vstack([flat[:, ::-1], flat + count, walls])
    corners = np.vstack([sheet, lid]) @ bent.frame + bent.middle
    return as_solid(Mesh(corners, faces.astype(np.int64)))
