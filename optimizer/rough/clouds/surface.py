"""A closed surface through a cloud of points, and how far the surface may be off.

The normals are fitted to nearest neighbours and turned to agree; open3d then makes a screened
Poisson reconstruction (Kazhdan and Hoppe 2013). The reconstruction also closes places that were
never scanned, so a surface that lies far from every point is refused.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from optimizer.errors import InputError
from optimizer.mesh import Floats, Ints, lengths
from optimizer.rough.clouds.normals import agreeing
from optimizer.rough.formats.scan import Scan
from optimizer.rough.model import Repair
from optimizer.rough.open3d_door import open3d
from optimizer.rough.repair.mend import counted
from optimizer.rough.repair.solidify import MendedSolid, make_solid
from optimizer.rough.scale.units import longest_side
from optimizer.running.memory import refuse_large_cloud
from optimizer.wording.plain_number import plain

_FEWEST, _MOST = 1000, 2_000_000  # points: fewer show no shape, more take minutes and gigabytes
_NEIGHBOURS = 8  # their distance, the reach, says how densely a place was seen
_LARGEST_REACH = 4.0  # times the median: a lone stray point does not count as seeing all around it
_SEEN = 2.0  # reaches from a point within which a place was seen; random points leave gaps of 1.2
_SAMPLED = 1.0  # median reaches: what lies farther from every point may be off by the excess
_FIT = 16  # neighbours that a normal is fitted to
_CELL = 0.5  # the finest cell of the reconstruction, in reaches
_SHALLOWEST, _DEEPEST = 5, 10  # octree levels
_MARGIN = 1.1  # the side of the reconstruction's cube over the cloud's longest side
_NOISE = 2.0  # standard deviations
_DEVIATION = 1.4826  # standard deviation over median distance, for a normal distribution
# Surfaces of boxes, bars, plates and the demo's crystal, with 1,000 to 10,000 points and noise up
# to 0.06 mm, ran at most 0.42 median reaches outside; of a plate thinner than 3 reaches, 0.7.
_OUTSIDE, _THIN = 0.45, 3.0
_ONE_SIDED = 0.4  # length of the normals' sum over their number: 0 for a ball, 0.5 for half a ball
_STRAYED = 0.02  # of the longest side: no scanner's noise is as large (common practice, no source)
_FLATTEST = 1e-3  # of the longest side: a thinner cloud is a sheet


@dataclass(frozen=True)
class _CloudSurface:
    """A surface in mm about the cloud's middle, and distances both ways."""

    vertices: Floats
    faces: Ints
    is_open: bool
    unseen: Floats  # (3,) towards the missing side, if one is missing
    maybe_turned: bool  # whether the missing side may as well be the opposite one
    off: Floats  # distance of each point from the surface
    gaps: Floats  # distance of each vertex from the nearest point
    reach: Floats  # the reach of that nearest point
    median_reach: float
    islands: int  # small separate bodies of the reconstruction, which were left out


def closed(scan: Scan, scale: float, name: str) -> tuple[MendedSolid, float]:
    """The scan as one closed solid, and how much building it adds to the scan error, in mm.

    ``scale`` is mm to the scan's unit. A mesh brings its own surface; a cloud gets a reconstructed
    one. Raises InputError where ``make_solid`` does, and for clouds with too few points, with stray
    points or unseen places, and where open3d is missing.
    """
    if len(scan.faces):
        return make_solid(scan, scale, name), 0.0
    points, first = np.unique(scan.vertices * scale, axis=0, return_index=True)
    normals = None if scan.normals is None else _unit(scan.normals[first], name)
    _refuse_shapeless(points, name)
    refuse_large_cloud(len(points), name)
    middle = (points.min(axis=0) + points.max(axis=0)) / 2.0
    built = _reconstruct(points - middle, normals, name)
    _refuse_unseen(built, middle, name)
    error = _error_mm(built, points, name)
    repairs = _repairs(built, len(scan.vertices) - len(points), error)
    surface = Scan((built.vertices + middle) / scale, built.faces)
    solid = make_solid(surface, scale, name)
    both = (*repairs, *solid.repairs)
    return replace(solid, repairs=both, watertight_as_read=False), error


def _unit(normals: Floats, name: str) -> Floats:
    length = lengths(normals)[:, None]
    if not (np.isfinite(length) & (length > 0.0)).all():
        raise InputError(f"{name}: a point's normal has no direction; save the points without")
    return np.asarray(normals / length)


def _refuse_shapeless(points: Floats, name: str) -> None:
    if not _FEWEST <= len(points) <= _MOST:
        raise InputError(
            f"{name}: a cloud of {len(points):,} points; a surface is built through {_FEWEST:,} to "
            f"{_MOST:,}: " + ("scan more densely" if len(points) < _FEWEST else "thin it evenly")
        )
    middle = points - points.mean(axis=0)
    spread = np.sqrt(np.linalg.eigvalsh(middle.T @ middle / len(points)))
    if not spread[0] > _FLATTEST * spread[2]:
        raise InputError(f"{name}: the points lie in one plane; scan the piece from all sides")


def _reconstruct(points: Floats, normals: Floats | None, name: str) -> _CloudSurface:
    from scipy.spatial import cKDTree

    tree = cKDTree(points)
    far, nearest = tree.query(points, k=_FIT + 1)  # the first is the point itself
    reach = far[:, _NEIGHBOURS]
    middle_reach = float(np.median(reach))
    reach = np.minimum(reach, _LARGEST_REACH * middle_reach)
    cloud, maybe_turned = _cloud(points, normals, nearest[:, 1:], name)
    mesh = _poisson(cloud, middle_reach, name)
    islands = _leave_largest(mesh)
    vertices = np.asarray(mesh.vertices, np.float64)
    gaps, nearest = tree.query(vertices)
    return _CloudSurface(
        vertices,
        np.asarray(mesh.triangles, np.int64),
        not mesh.is_edge_manifold(allow_boundary_edges=False),
        # Over a closed surface the normals, each weighted by its area, sum to zero.
        -np.einsum("ij,i->j", np.asarray(cloud.normals), reach**2),
        maybe_turned,
        _distances(mesh, points),
        gaps,
        reach[nearest],
        middle_reach,
        islands,
    )


def _leave_largest(mesh: Any) -> int:
    """Remove every body but the one with the most triangles; return how many were removed.

    The reconstruction may make small islands at sharp corners. Distances are measured without
    them, so the points of a second body count as stray points.
    """
    body, sizes, _ = mesh.cluster_connected_triangles()
    mesh.remove_triangles_by_mask(np.asarray(body) != int(np.argmax(sizes)))
    mesh.remove_unreferenced_vertices()
    return len(sizes) - 1


def _cloud(points: Floats, normals: Floats | None, nearest: Ints, name: str) -> tuple[Any, bool]:
    """An open3d cloud with normals that point out of the piece, and whether all of them might point
    into it instead; ``nearest`` (n, k) are each point's nearest others.

    Points all round the piece settle which way is out. Points of one side alone don't, since they
    may show a hollow; then the file's own normals are trusted.
    """
    stated = normals is not None
    door = _door(name)
    cloud = door.geometry.PointCloud(door.utility.Vector3dVector(points))
    if normals is None:
        cloud.estimate_normals(door.geometry.KDTreeSearchParamKNN(_FIT))
        normals = agreeing(np.asarray(cloud.normals), nearest)
    if normals is None:  # separate patches: they must be linked across, which takes long
        _orient_across(cloud, name)
        normals = np.asarray(cloud.normals)
    one_sided = bool(np.linalg.norm(normals.mean(axis=0)) > _ONE_SIDED)
    # The sign of the enclosed volume says whether the normals point outwards on the whole.
    if np.einsum("ij,ij->", points, normals) < 0.0 and not (stated and one_sided):
        normals = -normals
    cloud.normals = door.utility.Vector3dVector(normals)
    return cloud, one_sided and not stated


def _orient_across(cloud: Any, name: str) -> None:
    try:
        cloud.orient_normals_consistent_tangent_plane(_FIT)
    except RuntimeError:
        raise _no_surface(name) from None


def _poisson(cloud: Any, reach: float, name: str) -> Any:
    """An open3d mesh through ``cloud``, made by one thread so that it is always the same."""
    cells = _MARGIN * longest_side(np.asarray(cloud.points)) / (_CELL * reach)
    depth = int(np.clip(np.ceil(np.log2(cells)), _SHALLOWEST, _DEEPEST))
    try:
        mesh, _ = open3d().geometry.TriangleMesh.create_from_point_cloud_poisson(
            cloud, depth=depth, scale=_MARGIN, n_threads=1
        )
    except RuntimeError:
        raise _no_surface(name) from None
    if not len(mesh.triangles):
        raise InputError(f"{name}: no surface can be built through the points; save a mesh")
    return mesh


def _no_surface(name: str) -> InputError:
    """One plain line in place of the library's message, which is long and made for programmers."""
    return InputError(
        f"{name}: no surface can be built through the points: many lie on a regular grid or in one "
        "plane, or a side is missing; scan the piece from all sides, or save the points with "
        "their normals, or a mesh"
    )


def _door(name: str) -> Any:
    try:
        return open3d()
    except InputError as error:
        raise InputError(
            f"{name}: a cloud of points needs open3d to become a surface, and {error}; save the "
            "scan as a mesh"
        ) from None


def _distances(mesh: Any, points: Floats) -> Floats:
    """The distance of each point from the surface, in single precision about the middle, so good to
    a millionth of the size."""
    door = open3d()
    scene = door.t.geometry.RaycastingScene(nthreads=1)
    scene.add_triangles(door.t.geometry.TriangleMesh.from_legacy(mesh))
    query = door.core.Tensor(points.astype(np.float32))
    return np.asarray(scene.compute_distance(query, nthreads=1).numpy(), np.float64)


def _refuse_unseen(built: _CloudSurface, middle: Floats, name: str) -> None:
    beyond = built.gaps / (_SEEN * built.reach)
    worst = int(beyond.argmax())
    if beyond[worst] <= 1.0 and not built.is_open:
        return
    place = ", ".join(f"{x:.1f}" for x in built.vertices[worst] + middle)
    side = built.unseen / np.linalg.norm(built.unseen)
    facing = ", ".join(f"{plain(round(float(x), 1) + 0.0)}" for x in side)
    or_else = ", or on the opposite one where the points show a hollow" * built.maybe_turned
    far = plain(float(built.gaps[worst]), 2)
    raise InputError(
        f"{name}: part of the piece was never seen, above all on the side that faces ({facing})"
        f"{or_else}: the surface through the points runs {far} mm from any of them, about "
        f"({place}); scan the piece twice, turned over in between, and join the passes"
    )


def _error_mm(built: _CloudSurface, points: Floats, name: str) -> float:
    """How far the surface may run outside the piece: the greatest distance of a point from the
    surface, or of the surface from the nearest point less the usual spacing.

    Beside an edge no point shows the whole error, so a distance beyond noise counts twice, up to
    what surfaces through known solids came to (``_OUTSIDE``). The piece's own edges may stick out
    of the surface farther, which is safe: there the piece is larger than the plan takes it for.
    """
    strayed = built.off > max(_STRAYED * longest_side(points), _SEEN * built.median_reach)
    if strayed.any():
        raise InputError(
            f"{name}: {counted(int(strayed.sum()), 'point')} of {len(strayed):,} lie up to "
            f"{plain(float(built.off.max()), 2)} mm off the surface through the others: "
            "dust, a support, or passes that do not fit; clean the cloud and save it again"
        )
    worst = float(built.off.max())
    noise = _NOISE * _DEVIATION * float(np.median(built.off))
    gap = float(built.gaps.max()) - _SAMPLED * built.median_reach
    thin = _thickness(points) < _THIN * built.median_reach
    most = np.inf if thin else _OUTSIDE * built.median_reach
    return max(worst, min(2.0 * worst - noise, most), gap)


def _thickness(points: Floats) -> float:
    """The least extent of the points along their principal axes."""
    middle = points - points.mean(axis=0)
    return float(np.ptp(middle @ np.linalg.eigh(middle.T @ middle)[1], axis=0).min())


def _repairs(built: _CloudSurface, twice: int, error: float) -> tuple[Repair, ...]:
    rms = float(np.sqrt(np.mean(built.off**2)))
    same = [Repair(f"{counted(twice, 'point')} given twice left out")] if twice else []
    sentence = (
        f"a closed surface of {len(built.faces):,} triangles built through {len(built.off):,} "
        f"points, which lie {rms:.3f} mm rms and {built.off.max():.3f} mm at most off it: "
        f"{error:.3f} mm is added to the scan error; edges and corners are rounded off, so there "
        "the piece may be larger still"
    )
    apart = [Repair(f"{counted(built.islands, 'island')} of the reconstruction left out")]
    return (*same, Repair(sentence, moved_mm=error), *(apart if built.islands else []))
