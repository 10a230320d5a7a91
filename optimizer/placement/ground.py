"""The rough prepared for the search: its own axes, a tree over the surface, stand-in points."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optimizer.mesh import Floats, Ints, Mesh, Plane, unit_normals
from optimizer.placement.containers import Planes, Surface, hull_planes
from optimizer.placement.kernels.inside import inside_grid
from optimizer.placement.kernels.stand_ins import innermost, moments, surface_area
from optimizer.placement.model import Pose
from optimizer.placement.nearly_convex import FEW_PLANES, between_planes
from optimizer.placement.shell import shell
from optimizer.running.workers import workers

COARSE_POINTS = 700  # enough to tell basins apart
FINE_POINTS = 4000  # enough that the whole surface changes a size by a percent or so
GRID = 40  # cells along the longest side, for finding deep places
SPARSE = 64  # places: with fewer a search would have too few to begin from
HALVINGS = 40  # of a grid's step, for the depth within a wall: down to rounding
CONVEX = 1e-9  # a solid of many planes that fills its hull to this share is convex


@dataclass(frozen=True)
class Ground:
    """A closed solid in its own frame: x_scan = ``origin`` + ``ground2scan``·x_ground."""

    origin: Floats  # (3,)
    ground2scan: Floats  # (3, 3)
    mesh: Mesh
    surface: Surface
    hull: Planes  # the solid lies within them
    inner: Planes | None  # few, and they lie within the solid but for a hair; None: it has hollows
    convex: bool  # to within a hair
    coarse: Floats  # (n, 3) points standing in for the surface
    fine: Floats  # (n, 3)
    spacing: float  # mm between the coarse points, about
    places: Floats  # (g, 3) a grid of places inside
    depths: Floats  # (g,) their distance from the surface in mm, about

    @staticmethod
    def of(mesh: Mesh, stop: Callable[[], bool] = lambda: False) -> "Ground":
        """Prepare a closed, outward-wound solid (any frame, mm).

        Raises KeyboardInterrupt between two passes once ``stop`` is true.
        """
        from scipy.spatial import cKDTree

        origin, axes, enclosed = own_frame(mesh)
        local = Mesh(np.ascontiguousarray((mesh.vertices - origin) @ axes), mesh.faces)
        _leave_if(stop)
        surface = Surface.of(local)
        _leave_if(stop)
        # These run in compiled code, which releases Python's lock, so they run at the same time.
        with workers() as pool:
            hulled = pool.submit(_hull, local.vertices)
            standing = [
                pool.submit(stand_in, surface.triangles, n) for n in (FINE_POINTS, COARSE_POINTS)
            ]
            inside = pool.submit(inside_places, surface)
            hull = hulled.result()
            _leave_if(stop)
            fine, coarse = (job.result() for job in standing)
            _leave_if(stop)
            places = inside.result()
        planes, few = hull_planes(hull), between_planes(hull, surface, enclosed)
        return Ground(
            origin,
            axes,
            local,
            surface,
            planes if few is None else few[0],
            None if few is None else few[1],
            few is not None or _round_and_full(hull, planes, enclosed),
            coarse,
            fine,
            spacing(surface.triangles, COARSE_POINTS),
            places,
            cKDTree(fine).query(places)[0],
        )

    @cached_property
    def shells(self) -> tuple[Surface, Surface]:
        """Surfaces as coarse as either kind of points, for stones that slip between points."""
        finer = np.sqrt(COARSE_POINTS / FINE_POINTS)
        coarse, fine = (shell(self.mesh, self.spacing * share) for share in (1.0, finer))
        return Surface.over(coarse), Surface.over(fine)

    def own_pose(self, pose: Pose) -> Pose:
        """A pose of the scan frame in the ground's own frame."""
        rotation = np.ascontiguousarray(self.ground2scan.T @ pose.rotation)
        return Pose(pose.width, rotation, (pose.translation - self.origin) @ self.ground2scan)

    def scan_pose(self, pose: Pose) -> Pose:
        """A pose of the ground's own frame in the scan frame."""
        rotation = self.ground2scan @ pose.rotation
        return Pose(pose.width, rotation, self.origin + self.ground2scan @ pose.translation)

    def plane(self, scan_plane: Plane) -> Plane:
        """A plane of the scan frame in the ground's own frame."""
        normal = scan_plane.normal @ self.ground2scan
        return Plane(normal, float(scan_plane.offset - scan_plane.normal @ self.origin))


def _leave_if(stop: Callable[[], bool]) -> None:
    """Raise KeyboardInterrupt once ``stop`` is true: there is no stone yet to keep."""
    if stop():
        raise KeyboardInterrupt


def _hull(vertices: Floats) -> Any:
    from scipy.spatial import ConvexHull

    return ConvexHull(vertices)


def _round_and_full(hull: Any, planes: Planes, enclosed: float) -> bool:
    """Whether a solid of many planes fills its hull."""
    full = abs(enclosed - hull.volume) <= CONVEX * hull.volume
    return bool(full and len(planes.offsets) > FEW_PLANES)


def own_frame(mesh: Mesh) -> tuple[Floats, Floats, float]:
    """Centre of mass (3,), principal axes as columns (3, 3), right-handed, and volume.

    Each axis points to the side on which the solid reaches further, so that the frame turns
    with the piece and the search finds the same stone wherever the piece lies.
    """
    middle = mesh.vertices.mean(axis=0)
    sums = moments(mesh.vertices, mesh.faces, middle)
    centre = sums[1:4] / sums[0]
    xx, yy, zz, xy, xz, yz = sums[4:]
    about_middle = np.array([[xx, xy, xz], [xy, yy, yz], [xz, yz, zz]])
    axes = np.linalg.eigh(about_middle - sums[0] * np.outer(centre, centre))[1][:, ::-1]
    reach = (mesh.vertices - middle - centre) @ axes
    flip = reach.max(axis=0) < -reach.min(axis=0)
    axes = axes * np.where(flip, -1.0, 1.0)
    if np.linalg.det(axes) < 0.0:
        axes[:, 2] *= -1.0
    return middle + centre, np.ascontiguousarray(axes), float(sums[0])


def spacing(triangles: Floats, count: int) -> float:
    """How far apart ``count`` points spread over a surface lie, mm."""
    return float(np.sqrt(surface_area(triangles) / count))


def stand_in(triangles: Floats, count: int) -> Floats:
    """About ``count`` points spread over the surface, (n, 3); of the points in a cell of a grid
    the innermost is kept, since that is where a stone would be held."""
    apart = spacing(triangles, count)
    low, high = _extent(triangles)
    low = np.floor(low / apart) * apart
    sizes = np.floor((high - low) / apart).astype(np.int64) + 2
    keys, slots = np.empty(0, np.int64), 16 * int(2 ** np.ceil(np.log2(count)))
    while not len(keys):
        keys, points = innermost(triangles, apart, low, sizes, slots)
        slots *= 4
    used = np.flatnonzero(keys >= 0)
    return np.asarray(points[used[np.argsort(keys[used])]])


def _extent(triangles: Floats) -> tuple[Floats, Floats]:
    """Lowest and highest corner of the box about triangles; by columns, which numpy does ten
    times as quickly."""
    columns = triangles.reshape(-1, 3).T
    return np.array([c.min() for c in columns]), np.array([c.max() for c in columns])


def inside_places(surface: Surface) -> Floats:
    """Places inside the solid, (g, 3): on a grid, and where its walls are so thin that hardly any
    lies within, beside triangles."""
    low, step, shape = grid_over(surface.triangles)
    places = low + step * np.argwhere(inside_grid(surface.triangles, low, step, shape))
    return places if len(places) >= SPARSE else np.vstack([places, *_beside(surface, step)])


def _beside(surface: Surface, step: float) -> Iterator[Floats]:
    """Places (1, 3) on the inner side of triangles from all over the surface, as deep as a step
    halved until it stays within the wall."""
    triangles = surface.triangles[:: -(-len(surface.triangles) // SPARSE)]
    for triangle, inward in zip(triangles, -unit_normals(triangles), strict=True):
        for halving in range(HALVINGS):
            place = triangle.mean(axis=0) + step * 0.5**halving * inward
            if surface.holds(place):
                yield place[None]
                break


def outside_places(ground: Ground) -> Floats:
    """Places of the same grid that lie outside the solid, (g, 3)."""
    triangles = ground.surface.triangles
    low, step, shape = grid_over(triangles)
    return np.asarray(low + step * np.argwhere(~inside_grid(triangles, low, step, shape)))


def grid_over(triangles: Floats) -> tuple[Floats, float, Ints]:
    """First cell's centre, step, and cells along each axis of the grid over a solid."""
    low, high = _extent(triangles)
    step = float((high - low).max()) / GRID
    # An irrational start keeps grid lines off the mesh's own edges.
    low = low + step * (np.sqrt([2.0, 3.0, 5.0]) % 1.0) * 0.5
    return low, step, np.maximum(np.ceil((high - low) / step).astype(np.int64), 1)


def places_within(ground: Ground, solid: Floats) -> NDArray[np.bool_]:
    """Which of the ground's places (g,) lie in another closed solid (k, 3, 3) in its frame."""
    low, step, shape = grid_over(ground.surface.triangles)
    cells = np.rint((ground.places - low) / step).astype(np.int64)
    inside = inside_grid(np.ascontiguousarray(solid), low, step, shape)
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
