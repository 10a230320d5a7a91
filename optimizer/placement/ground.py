"""The rough made ready for the search: its own axes, a tree over the surface, stand-in points."""

from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from optimizer.mesh import Floats, Ints, Mesh, Plane
from optimizer.placement.containers import Planes, Surface, hull_planes

COARSE_POINTS = 700  # enough to tell basins apart
FINE_POINTS = 4000  # enough that the whole surface changes a size by a percent or so
GRID = 40  # cells along the longest side, for finding deep places
CONVEX = 1e-9  # a solid that fills its hull to this share is convex


@dataclass(frozen=True)
class Ground:
    """A closed solid in its own frame: x_scan = ``origin`` + ``ground2scan``·x_ground."""

    origin: Floats  # (3,)
    ground2scan: Floats  # (3, 3)
    surface: Surface
    hull: Planes
    convex: bool
    coarse: Floats  # (n, 3) points standing in for the surface
    fine: Floats  # (n, 3)
    places: Floats  # (g, 3) a grid of places inside
    depths: Floats  # (g,) their distance from the surface in mm, about

    @staticmethod
    def of(mesh: Mesh) -> "Ground":
        """Prepare a closed, outward-wound solid (any frame, mm)."""
        from scipy.spatial import cKDTree

        origin, axes = own_axes(mesh)
        local = Mesh(np.ascontiguousarray((mesh.vertices - origin) @ axes), mesh.faces)
        hull, hull_volume = _hull(local.vertices)
        triangles = local.triangles
        enclosed = np.einsum("ij,ij->", triangles[:, 0], np.cross(triangles[:, 1], triangles[:, 2]))
        coarse, fine = (stand_in(triangles, n) for n in (COARSE_POINTS, FINE_POINTS))
        places = inside_places(triangles)
        return Ground(
            origin,
            axes,
            Surface.of(local),
            hull,
            bool(abs(enclosed / 6.0 - hull_volume) <= CONVEX * hull_volume),
            coarse,
            fine,
            places,
            cKDTree(fine).query(places)[0],
        )

    def plane(self, scan_plane: Plane) -> Plane:
        """A plane of the scan frame in the ground's own frame."""
        normal = scan_plane.normal @ self.ground2scan
        return Plane(normal, float(scan_plane.offset - scan_plane.normal @ self.origin))


def _hull(vertices: Floats) -> tuple[Planes, float]:
    from scipy.spatial import ConvexHull

    hull = ConvexHull(vertices)
    return hull_planes(hull), float(hull.volume)


def own_axes(mesh: Mesh) -> tuple[Floats, Floats]:
    """Centre of mass (3,) and principal axes as columns (3, 3), right-handed.

    Each axis points to the side on which the solid reaches further, so that the frame turns
    with the piece and the search finds the same stone wherever the piece lies.
    """
    corners = mesh.triangles
    shift = mesh.vertices.mean(axis=0)
    a, b, c = (corners[:, k] - shift for k in range(3))
    volumes = np.einsum("ij,ij->i", a, np.cross(b, c)) / 6.0
    total = volumes.sum()
    centre = np.einsum("i,ij->j", volumes, a + b + c) / (4.0 * total)
    a, b, c = a - centre, b - centre, c - centre
    outer = sum(np.einsum("i,ij,ik->jk", volumes, p, q) for p in (a, b, c) for q in (a, b, c))
    outer += sum(np.einsum("i,ij,ik->jk", volumes, p, p) for p in (a, b, c))
    axes = np.linalg.eigh(outer)[1][:, ::-1]
    reach = (mesh.vertices - shift - centre) @ axes
    flip = reach.max(axis=0) < -reach.min(axis=0)
    axes = axes * np.where(flip, -1.0, 1.0)
    if np.linalg.det(axes) < 0.0:
        axes[:, 2] *= -1.0
    return shift + centre, np.ascontiguousarray(axes)


def stand_in(triangles: Floats, count: int) -> Floats:
    """About ``count`` points spread over the surface, (n, 3); of the points in a cell of a grid
    the innermost is kept, since that is where a stone would be held."""
    doubled = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    area = 0.5 * np.linalg.norm(doubled, axis=1).sum()
    spacing = np.sqrt(area / count)
    points, normals = _scattered(triangles, doubled, spacing)
    cells = np.floor(points / spacing).astype(np.int64)
    cells -= cells.min(axis=0)
    sizes = cells.max(axis=0) + 1
    keys = (cells[:, 0] * sizes[1] + cells[:, 1]) * sizes[2] + cells[:, 2]
    _, cell = np.unique(keys, return_inverse=True)
    outward = np.column_stack([np.bincount(cell, normals[:, k]) for k in range(3)])
    outward = outward / np.maximum(np.linalg.norm(outward, axis=1, keepdims=True), 1e-300)
    height = np.einsum("ij,ij->i", points, outward[cell])
    order = np.lexsort((height, cell))
    first = np.r_[True, np.diff(cell[order]) > 0]
    return np.ascontiguousarray(points[order][first])


def _scattered(triangles: Floats, doubled: Floats, spacing: float) -> tuple[Floats, Floats]:
    """Points on every triangle no further apart than about half a spacing, and their normals
    (weighted by area): corners of small triangles, a lattice on large ones."""
    edges = np.linalg.norm(triangles - np.roll(triangles, 1, axis=1), axis=2).max(axis=1)
    splits = np.ceil(2.0 * edges / spacing).astype(np.int64)
    points, normals = [], []
    for n in np.unique(splits):
        chosen = splits == n
        i, j = np.meshgrid(np.arange(n + 1), np.arange(n + 1), indexing="ij")
        inside = i + j <= n
        u, v = i[inside] / n, j[inside] / n
        weights = np.column_stack([1.0 - u - v, u, v])
        points.append(np.einsum("wk,tkx->twx", weights, triangles[chosen]).reshape(-1, 3))
        normals.append(np.repeat(doubled[chosen] / len(u), len(u), axis=0))
    return np.vstack(points), np.vstack(normals)


@njit(cache=True, nogil=True)
def _inside_grid(triangles: Floats, low: Floats, step: float, shape: Ints) -> NDArray[np.bool_]:
    """Which cells' centres lie inside: along each line parallel to z, crossings are counted."""
    crossings = np.zeros((shape[0], shape[1], shape[2] + 1), np.int64)
    for f in range(triangles.shape[0]):
        ax, ay, az = triangles[f, 0]
        bx, by, bz = triangles[f, 1]
        cx, cy, cz = triangles[f, 2]
        doubled = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
        if doubled == 0.0:
            continue
        first_x = max(0, int(np.ceil((min(ax, bx, cx) - low[0]) / step)))
        last_x = min(shape[0] - 1, int(np.floor((max(ax, bx, cx) - low[0]) / step)))
        first_y = max(0, int(np.ceil((min(ay, by, cy) - low[1]) / step)))
        last_y = min(shape[1] - 1, int(np.floor((max(ay, by, cy) - low[1]) / step)))
        for i in range(first_x, last_x + 1):
            x = low[0] + i * step
            for j in range(first_y, last_y + 1):
                y = low[1] + j * step
                u = ((bx - x) * (cy - y) - (by - y) * (cx - x)) / doubled
                v = ((cx - x) * (ay - y) - (cy - y) * (ax - x)) / doubled
                w = 1.0 - u - v
                if u >= 0.0 and v >= 0.0 and w >= 0.0:
                    k = int(np.ceil((u * az + v * bz + w * cz - low[2]) / step))
                    crossings[i, j, min(max(k, 0), shape[2])] += 1 if doubled < 0.0 else -1
    inside = np.zeros((shape[0], shape[1], shape[2]), np.bool_)
    for i in range(shape[0]):
        for j in range(shape[1]):
            winding = 0
            for k in range(shape[2]):
                winding += crossings[i, j, k]
                inside[i, j, k] = winding > 0
    return inside


def inside_places(triangles: Floats) -> Floats:
    """Places inside the solid on a grid, (g, 3)."""
    low, step, shape = _grid(triangles)
    places = low + step * np.argwhere(_inside_grid(triangles, low, step, shape))
    return places if len(places) else np.asarray(triangles.reshape(-1, 3).mean(axis=0))[None]


def _grid(triangles: Floats) -> tuple[Floats, float, Ints]:
    """First cell's centre, step, and cells along each axis of the grid over a solid."""
    flat = triangles.reshape(-1, 3)
    low, high = flat.min(axis=0), flat.max(axis=0)
    step = float((high - low).max()) / GRID
    # An irrational start keeps grid lines off the mesh's own edges.
    low = low + step * (np.sqrt([2.0, 3.0, 5.0]) % 1.0) * 0.5
    return low, step, np.maximum(np.ceil((high - low) / step).astype(np.int64), 1)


def places_within(ground: Ground, solid: Floats) -> NDArray[np.bool_]:
    """Which of the ground's places (g,) lie in another closed solid (k, 3, 3) in its frame."""
    low, step, shape = _grid(ground.surface.triangles)
    cells = np.rint((ground.places - low) / step).astype(np.int64)
    inside = _inside_grid(np.ascontiguousarray(solid), low, step, shape)
    return np.asarray(inside[tuple(np.clip(cells, 0, shape - 1).T)])


def spread(places: Floats, depths: Floats, count: int) -> Floats:
    """At most ``count`` deep places far from one another, deepest first, (c, 3).

    Farthest-point choice in which a place counts by its depth times its distance.
    """
    chosen = [int(np.argmax(depths))]
    distance = np.linalg.norm(places - places[chosen[0]], axis=1)
    for _ in range(min(count, len(places)) - 1):
        best = int(np.argmax(np.minimum(distance, depths.max()) * depths))
        if distance[best] * depths[best] <= 0.0:
            break
        chosen.append(best)
        distance = np.minimum(distance, np.linalg.norm(places - places[best], axis=1))
    chosen.sort(key=lambda i: -depths[i])
    return np.ascontiguousarray(places[chosen])
