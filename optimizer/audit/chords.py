"""The share of a convex stone that has a colour, by the chords that parallel lines cut from it.

Along a line every boundary is a polynomial of at most second degree, so each chord is divided
exactly. Only the spacing of the lines causes an error, which ``SHARE_PERCENT`` covers.
"""

import numpy as np

from optimizer.mesh import Floats, Mesh, Plane, unit_normals
from optimizer.rough.model import Ball, BentSheet, Boundary, ConvexRoom

LINES = 220  # along each of the two sides
SHARE_PERCENT = 0.05  # of the volume: for the lines' spacing, and for curves replaced by facets


def share_towards(mesh: Mesh, boundary: Boundary) -> float:
    """The percentage of a convex stone's volume on the ``towards`` side of a boundary."""
    corners = mesh.triangles
    out, at = np.unique(np.round(unit_normals(corners), 12), axis=0, return_index=True)
    offsets = np.einsum("ij,ij->i", out, corners[at, 0])
    low, high = mesh.vertices.min(axis=0), mesh.vertices.max(axis=0)
    along = int(np.argmin(high - low))
    across = [axis for axis in range(3) if axis != along]
    steps = (np.arange(LINES) + 0.5) / LINES
    starts = np.tile(low, (LINES * LINES, 1))
    grid = np.stack(np.meshgrid(steps, steps), axis=-1).reshape(-1, 2)
    starts[:, across] += grid * (high - low)[across]
    begin, end = _within(starts, along, out, offsets)
    inside = end > begin
    starts, begin, end = starts[inside], begin[inside], end[inside]
    kept = _kept(boundary, starts, np.eye(3)[along], begin, end)
    return 100.0 * float(kept.sum() / (end - begin).sum())


def _within(starts: Floats, along: int, normals: Floats, offsets: Floats) -> tuple[Floats, Floats]:
    """Where each line, along one axis from its start, enters and leaves the stone."""
    begin, end = np.full(len(starts), -np.inf), np.full(len(starts), np.inf)
    for normal, offset in zip(normals, offsets, strict=True):
        room = offset - starts @ normal
        pace = normal[along]
        if abs(pace) < 1e-12:
            end[room < 0.0] = -np.inf
        elif pace > 0.0:
            end = np.minimum(end, room / pace)
        else:
            begin = np.maximum(begin, room / pace)
    return begin, end


def _kept(boundary: Boundary, starts: Floats, way: Floats, begin: Floats, end: Floats) -> Floats:
    """The length of each chord that has the colour."""
    if isinstance(boundary, ConvexRoom):
        for plane in boundary.planes:
            begin, end = _above_plane(plane, starts, way, begin, end)
        return np.asarray(end - begin)
    middle, half = 0.5 * (begin + end), 0.5 * (end - begin)
    below, at, above = (
        _form(boundary, starts + (middle + s * half)[:, None] * way) for s in (-1.0, 0.0, 1.0)
    )
    # at + b·s + a·s² over −1 <= s <= 1
    a, b = 0.5 * (below + above) - at, 0.5 * (above - below)
    root = np.sqrt(np.maximum(b * b - 4.0 * a * at, 0.0))
    q = -0.5 * (b + np.where(b >= 0.0, root, -root))
    with np.errstate(divide="ignore", invalid="ignore"):
        roots = np.stack([np.where(a != 0.0, q / a, np.inf), np.where(q != 0.0, at / q, np.inf)])
    crossed = b * b - 4.0 * a * at > 0.0
    ends = np.clip(np.where(crossed & np.isfinite(roots), roots, 1.0), -1.0, 1.0)
    ends = np.sort(np.vstack([np.full_like(a, -1.0)[None], ends, np.ones_like(a)[None]]), axis=0)
    spans, middles = np.diff(ends, axis=0), 0.5 * (ends[1:] + ends[:-1])
    has = at + b * middles + a * middles**2 >= 0.0
    return np.asarray((spans * has).sum(axis=0) * half)


def _above_plane(
    plane: Plane, starts: Floats, way: Floats, begin: Floats, end: Floats
) -> tuple[Floats, Floats]:
    height, pace = starts @ plane.normal - plane.offset, float(plane.normal @ way)
    if abs(pace) < 1e-12:
        return begin, np.where(height >= 0.0, end, begin)
    crossing = -height / pace
    if pace > 0.0:
        return np.minimum(np.maximum(begin, crossing), end), end
    return begin, np.maximum(np.minimum(end, crossing), begin)


def _form(boundary: Plane | Ball | BentSheet, points: Floats) -> Floats:
    """Values (n,) of a polynomial of second degree that is positive where the colour is."""
    match boundary:
        case Plane():
            return np.asarray(points @ boundary.normal - boundary.offset)
        case Ball():
            return np.asarray(boundary.radius_mm**2 - ((points - boundary.centre) ** 2).sum(axis=1))
        case BentSheet():
            u, v, w = ((points - boundary.middle) @ boundary.frame.T).T
            return np.asarray(w - 0.5 * (boundary.bend[0] * u * u + boundary.bend[1] * v * v))
