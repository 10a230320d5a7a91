"""The shape of a flaw: its core as triangles, and the space that it occupies as a solid."""

from typing import Any

import numpy as np

from optimizer.mesh import Floats, Mesh, square_to, vector_areas
from optimizer.rough.model import Flaw
from optimizer.solid import as_mesh, as_solid
from optimizer.wording.plain_number import plain

SIDES = 64  # of the polygon drawn round a sheet, which exceeds the sheet's radius by a thousandth
THIN_MM = 0.02  # half the thickness of the solid that stands for a flaw without thickness


def core_triangles(flaw: Flaw, points: Floats) -> Floats:
    """The core as triangles (k, 3, 3), scan frame; for a point or a line one degenerate triangle.

    For a sheet the triangles fill a polygon drawn round it; a sheet that parts the whole piece
    reaches past all ``points`` (n, 3) of the piece. For a solid they are its surface.
    """
    if flaw.mesh is not None:
        return flaw.mesh.triangles
    if flaw.normal is None:
        return flaw.ends[[0, -1, -1]][None]
    rim = _rim(flaw, points, SIDES if np.isfinite(flaw.across_mm) else 4)
    middles = np.broadcast_to(flaw.ends[0], rim.shape)
    return np.ascontiguousarray(np.stack([middles, rim, np.roll(rim, -1, axis=0)], axis=1))


def flaw_solid(flaw: Flaw, points: Floats, beyond_mm: float = 0.0) -> Any:
    """About everything within ``radius_mm + beyond_mm`` of the core, as the robust kernel's solid.

    Balls become polyhedra, and a flaw without thickness gets a little; a mesh stays as it is.
    ``points`` as in ``core_triangles``.
    """
    import manifold3d

    if flaw.mesh is not None:
        return as_solid(flaw.mesh)
    thick = max(flaw.radius_mm + beyond_mm, THIN_MM)
    if flaw.normal is None:
        return manifold3d.Manifold.batch_hull(
            [manifold3d.Manifold.sphere(thick, 24).translate(tuple(end)) for end in flaw.ends]
        )
    rim = _rim(flaw, points, SIDES, thick)
    sides = [rim + side * thick * flaw.normal for side in (-1.0, 1.0)]
    return manifold3d.Manifold.hull_points(np.vstack(sides))


def flaw_within(flaw: Flaw, solid: Any, points: Floats) -> Mesh:
    """The surface of the part of ``flaw_solid`` that lies in a solid whose corners are ``points``,
    or of all of ``flaw_solid`` where no part does. For pictures."""
    whole = flaw_solid(flaw, points)
    within = whole ^ solid
    return as_mesh(whole if within.is_empty() else within)


def outside(flaw: Flaw, solid: Any, points: Floats) -> bool:
    """Whether a solid, whose corners are ``points``, lies wholly outside the flaw's clearance."""
    taken = flaw_solid(flaw, points, flaw.clearance_mm)
    if (taken ^ solid).volume() > 0.0:
        return False
    keep = flaw.clearance_mm
    return flaw.mesh is None or bool(taken.min_gap(solid, 2.0 * keep) >= keep)


def inner_point(mesh: Mesh) -> Floats:
    """A point (3,) well within a closed solid: midway from its largest triangle's middle to the
    surface that lies straight across."""
    corners = mesh.triangles
    across = vector_areas(corners)
    size = np.linalg.norm(across, axis=1)
    first = int(np.argmax(size))
    start, way = corners[first].mean(axis=0), -across[first] / size[first]
    depths = _depths_along(np.delete(corners, first, axis=0), start, way)
    point: Floats = start + 0.5 * float(depths.min()) * way
    return point


def _depths_along(corners: Floats, start: Floats, way: Floats) -> Floats:
    """Where a ray crosses triangles (k, 3, 3), in mm from its start.

    Möller and Trumbore, Fast minimum storage ray-triangle intersection, 1997.
    """
    one, two = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    side = np.cross(way, two)
    scale = np.einsum("ij,ij->i", one, side)
    facing = np.abs(scale) > 0.0
    one, two, side, scale = one[facing], two[facing], side[facing], scale[facing]
    back = start - corners[facing, 0]
    turned = np.cross(back, one)
    u = np.einsum("ij,ij->i", back, side) / scale
    v = turned @ way / scale
    depths: Floats = np.asarray(np.einsum("ij,ij->i", two, turned) / scale)
    slack = 1e-9
    hit = (u >= -slack) & (v >= -slack) & (u + v <= 1.0 + slack) & (depths > 0.0)
    return np.asarray(depths[hit])


def flaw_text(flaw: Flaw) -> str:
    """What the flaw is and where, in a few words."""
    places = " to ".join(_place(end) for end in flaw.ends)
    if flaw.mesh is not None:
        sides = " × ".join(f"{plain(side, 4)}" for side in np.ptp(flaw.mesh.vertices, axis=0))
        what = f"the shape of {flaw.file}, {sides} mm, about {places}"
    elif flaw.normal is None:
        what = f"{'line from' if len(flaw.ends) > 1 else 'point at'} {places}"
    else:
        wide = "through the whole piece"
        if np.isfinite(flaw.across_mm):
            wide = f"{plain(flaw.across_mm)} mm across"
        what = f"crack {wide} at {places}, square to {_place(flaw.normal)}"
    thick = f", {plain(2.0 * flaw.radius_mm)} mm thick" if flaw.radius_mm else ""
    who = "what lies straight below the table" if flaw.off_table else "the stone"
    return f"{what}{thick}; {who} keeps {plain(flaw.clearance_mm)} mm clear"


def _place(point: Floats) -> str:
    return "(" + ", ".join(f"{plain(round(float(x), 3) + 0.0)}" for x in point) + ")"


def _rim(flaw: Flaw, points: Floats, sides: int, beyond_mm: float = 0.0) -> Floats:
    """The corners (sides, 3) of a regular polygon round a sheet, ``beyond_mm`` wider all round."""
    assert flaw.normal is not None
    radius = flaw.across_mm / 2.0
    if not np.isfinite(radius):
        radius = 1.01 * float(np.linalg.norm(points - flaw.ends[0], axis=1).max())
    spread = plane_spread(flaw.normal, 2.0 * np.pi * np.arange(sides) / sides)
    rim: Floats = flaw.ends[0] + spread * (radius + beyond_mm) / np.cos(np.pi / sides)
    return rim


def plane_spread(normal: Floats, turns: Floats) -> Floats:
    """Unit vectors (n, 3) square to ``normal``, turned about it by ``turns`` (n,) radians."""
    first = square_to(normal)
    second = np.cross(normal, first)
    spread: Floats = np.outer(np.cos(turns), first) + np.outer(np.sin(turns), second)
    return spread
