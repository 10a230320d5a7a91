"""Whether a stone keeps to its side of a curved or walled boundary, and its distance to it."""

import numpy as np

from optimizer.audit.chords import share_towards
from optimizer.audit.common import robust
from optimizer.audit.flaws import gap_to_core
from optimizer.mesh import Floats, Mesh, Plane, unit_normals
from optimizer.rough.model import Ball, BentSheet, ConvexRoom, Flaw, Zone
from optimizer.solid import trim, volume_of

_GRID = 60  # points of a bent sheet along either side, among which the nearest is looked for
_STARTS = 4  # of the nearest ones, from which the search is polished
_ROOM = 1.0  # mm beyond the clearance up to which distances are measured


def share_of(mesh: Mesh, zone: Zone, towards: bool) -> float:
    """The percentage of the stone's volume on one side: by the kernel's cuts for planes, else by
    chords."""
    assert not isinstance(zone.boundary, Plane)
    if isinstance(zone.boundary, ConvexRoom):
        whole = solid = robust(mesh, "the stone")
        for plane in zone.boundary.planes:
            solid = trim(solid, plane)
        share = 100.0 * volume_of(solid) / volume_of(whole)
    else:
        share = share_towards(mesh, zone.boundary)
    return share if towards else 100.0 - share


def gap_on_side(mesh: Mesh, zone: Zone, towards: bool, keep_mm: float) -> float:
    """Least distance in mm from a convex stone to the boundary, where the whole stone lies on the
    given side; negative where any of it does not. Distances far above ``keep_mm`` may come out too
    small."""
    match zone.boundary:
        case Plane() as plane:
            heights = mesh.vertices @ plane.normal - plane.offset
            return float(heights.min() if towards else -heights.max())
        case ConvexRoom() as walled:
            return _walled_gap(mesh, walled, towards, keep_mm)
        case Ball() as ball:
            if towards:
                far = np.linalg.norm(mesh.vertices - ball.centre, axis=1).max()
                return ball.radius_mm - float(far)
            middle = Flaw("the ball's middle", ball.centre[None], None, 0.0, 0.0, 0.0)
            return gap_to_core(mesh.vertices, middle) - ball.radius_mm
        case BentSheet() as bent:
            return _bent_gap(mesh, bent, towards, keep_mm)


def _walled_gap(mesh: Mesh, walled: ConvexRoom, towards: bool, keep_mm: float) -> float:
    """The gap of ``gap_on_side``: within the planes by the stone's corners; outside their room by
    the kernel's distance from it. Where the stone reaches into the room, minus how deep it does."""
    heights = [mesh.vertices @ p.normal - p.offset for p in walled.planes]
    if towards:
        return float(np.min(heights))
    import manifold3d

    reach = keep_mm + _ROOM
    low, high = mesh.vertices.min(axis=0) - reach, mesh.vertices.max(axis=0) + reach
    room = manifold3d.Manifold.cube(tuple(high - low)).translate(tuple(low))
    for plane in walled.planes:
        room = trim(room, plane)
    stone = robust(mesh, "the stone")
    if room.is_empty():
        return reach
    shared = (stone ^ room).volume() > 0.0
    return -_depth_within(mesh, walled) if shared else float(stone.min_gap(room, reach))


def _depth_within(mesh: Mesh, walled: ConvexRoom) -> float:
    """How deep in mm a convex stone reaches within the planes of a room: the greatest distance of
    any of its points from the nearest of them, by a linear program."""
    from scipy.optimize import linprog

    normals = unit_normals(mesh.triangles)
    sides = np.einsum("ij,ij->i", normals, mesh.triangles[:, 0])
    walls = np.array([-plane.normal for plane in walled.planes])
    within = np.hstack([normals, np.zeros((len(normals), 1))])
    deeper = np.hstack([walls, np.ones((len(walls), 1))])
    limits = np.concatenate([sides, [-plane.offset for plane in walled.planes]])
    found = linprog([0, 0, 0, -1], np.vstack([within, deeper]), limits, bounds=(None, None))
    return max(float(-found.fun), 0.0)


def _bent_gap(mesh: Mesh, bent: BentSheet, towards: bool, keep_mm: float) -> float:
    """The gap of ``gap_on_side``: all corners must lie on the right side, and the sheet's nearest
    point is searched from a grid over the sheet.

    A convex stone lies on one side of the sheet if its corners do and no point of the sheet lies
    in the stone.
    """
    from scipy.optimize import minimize

    local = (mesh.vertices - bent.middle) @ bent.frame.T
    above = local[:, 2] - 0.5 * (local[:, :2] ** 2 @ bent.bend)
    if (above if towards else -above).min() < 0.0:
        return -float(np.abs(above).max())
    corners = mesh.triangles
    out = unit_normals(corners)
    offsets = np.einsum("ij,ij->i", out, corners[:, 0])
    reach = keep_mm + _ROOM
    u, v = (
        np.linspace(local[:, axis].min() - reach, local[:, axis].max() + reach, _GRID)
        for axis in (0, 1)
    )
    grid = np.stack(np.meshgrid(u, v), axis=-1).reshape(-1, 2)
    # The height beyond the farthest facet: never more than the distance, less only beside edges.
    beyond = (_on_sheet(bent, grid) @ out.T - offsets).max(axis=1)

    def gap(uv: Floats) -> float:
        point = _on_sheet(bent, uv[None])
        inside = float((point @ out.T - offsets).max())
        if inside < 0.0:
            return inside
        return gap_to_core(mesh.vertices, Flaw("the sheet", point, None, 0.0, 0.0, 0.0))

    starts = grid[np.argsort(beyond, kind="stable")[:_STARTS]]
    return min(float(minimize(gap, start, method="Nelder-Mead").fun) for start in starts)


def _on_sheet(bent: BentSheet, uv: Floats) -> Floats:
    """Points (n, 3) of the sheet over its places (n, 2)."""
    local = np.column_stack([uv, 0.5 * (uv**2 @ bent.bend)])
    return np.asarray(local @ bent.frame + bent.middle)
