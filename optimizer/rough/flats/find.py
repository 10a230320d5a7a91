"""Flat places on a scan to measure from: found by open3d, measured on the mesh itself.

open3d proposes planar patches (Araújo and Oliveira 2020, A robust statistics approach for plane
detection in unorganized point clouds); each is then fitted to the mesh's own triangles by least
squares and kept only where it is flat, large and in one piece.
"""

from dataclasses import dataclass, replace

import numpy as np

from optimizer.errors import InputError
from optimizer.mesh import (
    Floats,
    Ints,
    Mesh,
    Plane,
    lengths,
    triangle_areas,
    unit_normals,
    vector_areas,
)
from optimizer.rough.flats.looks import looks_of
from optimizer.rough.model import ReferenceFace, Rough
from optimizer.rough.shape import largest_section_mm2
from optimizer.wording.plain_number import plain

LEAST_SHARE = 0.1  # of the largest cross-section: smaller places are poor to measure from
_SAMPLES = 30_000
_NEIGHBOURS = 30
# Strict, so that two neighbouring prism faces, which meet at 120 degrees, are not taken for one
# patch. Two values are tried, since the stricter one sometimes misses a whole face of a plain box.
_NORMAL_SPREAD_DEG = 20.0
_COPLANAR_DEG = (85.0, 75.0)
# The fit takes triangles within three times its own rms of the plane, but never farther than this.
# On a flat place the rms settles at the scan's noise; on a curved place it grows to the limit.
_WIDEST_BAND_MM = 0.15
_WIDEST_BAND_SHARE = 0.01  # of the longest side
_NARROWEST_SHARE = 1e-4
_FLAT_RMS_SHARE = 0.35  # of the widest band; a curved place settles at 0.4 or above
_BENT_RMS_SHARE = 0.1  # of the widest band: how much of the rms may be an even bend
_OVERLAP = 0.5  # two fits that share more of the smaller one's triangles are one place
_ROUNDS = 6
_FRAGMENT = 0.3  # a proposal may cover only part of the flat that it lies on
_SAME_WAY = 0.998  # cosine of about 3.6 degrees
_LEAST_FACING = 0.5  # cosine; generous, since noise tilts small triangles far


@dataclass(frozen=True)
class Flat:
    """A flat place: its plane (normal outwards), its area and how far from flat it is (rms)."""

    name: str
    plane: Plane
    area_mm2: float
    rms_mm: float


def find_flats(mesh: Mesh) -> tuple[ReferenceFace, ...]:
    """The flat places of ``measure_flats`` as reference faces, largest first.

    Raises InputError where open3d cannot be loaded.
    """
    return tuple(ReferenceFace(flat.name, flat.plane) for flat in measure_flats(mesh))


def with_flats(rough: Rough) -> Rough:
    """``rough`` with the flats of its scan as reference faces, where its rough file names none.

    Where open3d cannot be loaded, the piece gets a warning that says so instead.
    """
    if rough.reference_faces:
        return rough
    try:
        return replace(rough, reference_faces=flats_of(rough))
    except InputError as error:
        lost = (
            "flat places to measure from were not looked for, so cuts are measured from the "
            f"piece's own axes and edges ({error}); name [[reference_faces]] in the rough file "
            "instead"
        )
        return replace(rough, warnings=(*rough.warnings, lost))


def flats_of(rough: Rough) -> tuple[ReferenceFace, ...]:
    """``find_flats`` with a guess at what each looks like.

    Raises InputError where open3d cannot be loaded.
    """
    found = find_flats(rough.mesh)
    cleavage = rough.cleavage
    if not cleavage and rough.optic_axis is not None and rough.material.basal_cleavage:
        cleavage = (rough.optic_axis,)
    looks = looks_of([face.plane for face in found], rough.material.name, cleavage)
    return tuple(replace(face, looks=look) for face, look in zip(found, looks, strict=True))


def measure_flats(mesh: Mesh) -> tuple[Flat, ...]:
    """Connected places that are flat to well within the saw's error and cover at least a tenth of
    the largest cross-section; the largest first, at most one for each plane.

    Raises InputError where open3d cannot be loaded.
    """
    least = LEAST_SHARE * largest_section_mm2(mesh)
    fits = [fit for fit in _distinct_fits(mesh, least) if fit.area_mm2 >= least]
    fits.sort(key=_largest_first)
    taken = np.zeros(len(mesh.faces), bool)
    kept: list[_PlaneFit] = []
    for fit in fits:
        if taken[fit.members].mean() < _OVERLAP:
            taken[fit.members] = True
            kept.append(fit)
    return tuple(Flat(f"flat {i + 1}", f.plane, f.area_mm2, f.rms_mm) for i, f in enumerate(kept))


def _largest_first(fit: "_PlaneFit") -> tuple[float, ...]:
    """The sort key of a fit. Files name flats by their number in this order, so rounding errors, as
    between the equal sides of a block, must not change it."""
    return (-float(f"{plain(fit.area_mm2)}"), *(round(float(x), 3) for x in fit.plane.normal))


def _distinct_fits(mesh: Mesh, least_mm2: float) -> "list[_PlaneFit]":
    """A fit for each proposal that is large enough and does not lie on a plane already fitted."""
    triangles = _Triangles.of(mesh)
    fits: list[_PlaneFit] = []
    for patch in _proposals(mesh):
        if patch.box_mm2 < _FRAGMENT * least_mm2:
            break  # largest first
        if not any(_same_place(patch, fit.plane, triangles.longest_side) for fit in fits):
            fit = _settle(triangles, Plane.through(patch.middle, patch.normal))
            fits += [fit] if fit else []
    return fits


def _same_place(patch: "_Patch", plane: Plane, longest_side: float) -> bool:
    gap = abs(patch.middle @ plane.normal - plane.offset)
    aligned = patch.normal @ plane.normal > _SAME_WAY
    return bool(aligned and gap < min(_WIDEST_BAND_MM, _WIDEST_BAND_SHARE * longest_side))


@dataclass(frozen=True)
class _Patch:
    """A proposal: where it lies, which way it faces, and the area of the rectangle around it."""

    middle: Floats
    normal: Floats
    box_mm2: float


def _proposals(mesh: Mesh) -> list[_Patch]:
    """open3d's planar patches of points spread evenly over the surface, largest first."""
    from optimizer.rough.open3d_door import open3d

    o3d = open3d()
    points, outward = _spread_points(mesh)
    o3d.utility.random.seed(0)
    cloud = o3d.geometry.PointCloud(o3d.utility.Vector3dVector(points))
    nearest = o3d.geometry.KDTreeSearchParamKNN(knn=_NEIGHBOURS)
    cloud.estimate_normals(nearest)
    normals = np.asarray(cloud.normals)
    normals = normals * np.where(np.sum(normals * outward, axis=1) < 0.0, -1.0, 1.0)[:, None]
    cloud.normals = o3d.utility.Vector3dVector(normals)
    found = []
    for coplanar in _COPLANAR_DEG:
        found += cloud.detect_planar_patches(
            normal_variance_threshold_deg=_NORMAL_SPREAD_DEG,
            coplanarity_deg=coplanar,
            outlier_ratio=0.5,
            min_plane_edge_length=0.05 * float(np.ptp(mesh.vertices, axis=0).max()),
            min_num_points=_NEIGHBOURS,
            search_param=nearest,
        )
    patches = [
        _Patch(np.array(p.center), np.array(p.R)[:, 2], float(p.extent[0] * p.extent[1]))
        for p in found
    ]
    return sorted(patches, key=lambda p: (-p.box_mm2, *p.middle))


def _spread_points(mesh: Mesh) -> tuple[Floats, Floats]:
    """``_SAMPLES`` points on the surface, evenly by area, and the normals of their triangles."""
    rng = np.random.default_rng(0)
    normals = vector_areas(mesh.triangles)
    running = np.cumsum(lengths(normals))
    chosen = np.searchsorted(running, (np.arange(_SAMPLES) + 0.5) / _SAMPLES * running[-1])
    u, v = rng.random((2, _SAMPLES, 1))
    root = np.sqrt(u)  # Osada et al. 2002, Shape distributions: even over a triangle
    a, b, c = np.moveaxis(mesh.triangles[chosen], 1, 0)
    return (1.0 - root) * a + root * (1.0 - v) * b + root * v * c, normals[chosen]


@dataclass(frozen=True)
class _Triangles:
    vertices: Floats  # (n, 3)
    corners: Floats  # (m, 3, 3)
    centre: Floats  # (m, 3)
    area: Floats  # (m,)
    normal: Floats  # (m, 3)
    faces: Ints
    longest_side: float

    @staticmethod
    def of(mesh: Mesh) -> "_Triangles":
        corners = mesh.triangles
        longest = float(np.ptp(mesh.vertices, axis=0).max())
        return _Triangles(
            mesh.vertices, corners, corners.mean(axis=1), triangle_areas(corners),
            unit_normals(corners), mesh.faces, longest,
        )  # fmt: skip


@dataclass(frozen=True)
class _PlaneFit:
    plane: Plane
    members: Ints
    area_mm2: float
    rms_mm: float


def _settle(triangles: _Triangles, plane: Plane) -> _PlaneFit | None:
    """Fit a plane, take the triangles near it, and repeat; None where the place is not flat."""
    widest = min(_WIDEST_BAND_MM, _WIDEST_BAND_SHARE * triangles.longest_side)
    band, members, rms = widest, np.zeros(0, np.int64), 0.0
    for _ in range(_ROUNDS):
        before, members = members, _near(triangles, plane, band)
        if not len(members):
            return None
        if np.array_equal(before, members):
            break
        plane = _fitted(triangles, members, plane)
        rms = _rms(triangles, members, plane)
        band = min(max(3.0 * rms, _NARROWEST_SHARE * triangles.longest_side), widest)
    members = _largest_piece(triangles, members)
    plane = _fitted(triangles, members, plane)
    rms = _rms(triangles, members, plane)
    bent = _bend_rms(triangles, members, plane)
    if rms > _FLAT_RMS_SHARE * widest or bent > _BENT_RMS_SHARE * widest:
        return None
    area = float(triangles.area[members] @ (triangles.normal[members] @ plane.normal))
    return _PlaneFit(plane, members, area, rms)


def _near(triangles: _Triangles, plane: Plane, band: float) -> Ints:
    """The triangles that face the plane's way and have every corner within ``band`` of it."""
    close = np.abs(triangles.vertices @ plane.normal - plane.offset) <= band
    near = np.flatnonzero(close[triangles.faces].all(axis=1))
    return np.asarray(near[triangles.normal[near] @ plane.normal > _LEAST_FACING], np.int64)


def _fitted(triangles: _Triangles, members: Ints, facing: Plane) -> Plane:
    """The least-squares plane of the triangles, each weighed by its area.

    Over a triangle the mean of x xᵀ is (9 c cᵀ + Σ v vᵀ)/12, exactly, with c its centre.
    """
    weight = triangles.area[members] / triangles.area[members].sum()
    middle = weight @ triangles.centre[members]
    c, v = triangles.centre[members] - middle, triangles.corners[members] - middle
    second = 9.0 * np.einsum("i,ij,ik->jk", weight, c, c) + np.einsum("i,ipj,ipk->jk", weight, v, v)
    normal = np.linalg.eigh(second)[1][:, 0]
    return Plane.through(middle, normal if normal @ facing.normal > 0.0 else -normal)


def _rms(triangles: _Triangles, members: Ints, plane: Plane) -> float:
    """Root mean square distance of the triangles' corners from the plane, weighed by area."""
    gap = triangles.corners[members] @ plane.normal - plane.offset
    weight = triangles.area[members] / triangles.area[members].sum()
    return float(np.sqrt(weight @ (gap**2).mean(axis=1)))


def _bend_rms(triangles: _Triangles, members: Ints, plane: Plane) -> float:
    """The part of the rms that an evenly bent surface of second degree accounts for."""
    across = np.linalg.svd(plane.normal[None])[2][1:]
    used = np.unique(triangles.faces[members])
    points = triangles.vertices[used]
    x, y = ((points - points.mean(axis=0)) @ across.T / triangles.longest_side).T
    gap = points @ plane.normal - plane.offset
    terms = np.column_stack([np.ones_like(x), x, y, x * x, x * y, y * y])
    bend = terms[:, 3:] @ np.linalg.lstsq(terms, gap, rcond=None)[0][3:]
    flat = terms[:, :3]  # the part that a tilt and a shift of the plane explain is no bend
    return float(np.std(bend - flat @ np.linalg.lstsq(flat, bend, rcond=None)[0]))


def _largest_piece(triangles: _Triangles, members: Ints) -> Ints:
    """The connected piece (through shared corners) with the most area."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    faces = triangles.faces[members]
    a, b = faces[:, [0, 1]].ravel(), faces[:, [1, 2]].ravel()
    count = int(faces.max()) + 1
    graph = coo_array((np.ones(len(a), np.int8), (a, b)), shape=(count, count))
    piece = connected_components(graph, directed=False)[1][faces[:, 0]]
    area = np.bincount(piece, triangles.area[members])
    return np.asarray(members[piece == np.argmax(area)], np.int64)
