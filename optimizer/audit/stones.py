"""Whether each stone is the solid that the plan states, and whether its figures are true."""

from collections.abc import Callable

import numpy as np

from optimizer.audit.common import LENGTH_MM, RELATIVE, SAME_MM, close, require, robust
from optimizer.design.model import Body
from optimizer.mesh import Floats, Ints, Mesh, vector_areas
from optimizer.placement.model import Pose
from optimizer.plan_model import Stone
from optimizer.solid import centred, volume_of
from optimizer.wording.plain_number import plain

_ORTHONORMAL = 1e-12


def pose_is_rigid(pose: Pose, name: str) -> str:
    """The rotation is proper and orthonormal, the width positive, everything finite."""
    R = np.asarray(pose.rotation, float)
    numbers = np.concatenate([R.ravel(), np.ravel(pose.translation), [pose.width]])
    require(
        R.shape == (3, 3) and numbers.shape == (13,) and bool(np.isfinite(numbers).all()),
        f"{name} has a finite pose",
        f"rotation {R.shape}, {int(np.sum(~np.isfinite(numbers)))} numbers not finite",
        "a 3 × 3 rotation, 3 translations, all finite",
    )
    require(pose.width > 0.0, f"{name} has a width", f"{plain(pose.width)} mm", "more than nothing")
    off = float(np.abs(R @ R.T - np.eye(3)).max())
    turn = float(np.linalg.det(R))
    require(
        off <= _ORTHONORMAL and turn > 0.0,
        f"{name} is turned, not bent or mirrored",
        f"R·Rᵀ off the identity by {plain(off, 3)}, determinant {turn:.6f}",
        f"off by at most {plain(_ORTHONORMAL, 1)}, determinant +1",
    )
    return f"{name} is placed by a proper rotation: R·Rᵀ is off the identity by {plain(off, 1)}."


def is_convex_solid(mesh: Mesh, name: str) -> str:
    """The mesh is closed, wound outward and convex: its hull encloses no more than it does."""
    _require_closed(mesh, name)
    solid = robust(mesh, name)
    volume, hull = volume_of(solid), volume_of(centred(solid).hull())
    require(
        abs(hull - volume) <= RELATIVE * volume,
        f"{name} is convex",
        f"{plain(volume, 12)} mm³, its hull {plain(hull, 12)} mm³",
        f"the same to {plain(RELATIVE, 1)}",
    )
    return (
        f"{name} is one closed, convex solid, wound outward: {len(mesh.faces)} triangles, "
        f"{volume:.6f} mm³, its hull the same to {plain(abs(hull / volume - 1.0), 1)}."
    )


def _require_closed(mesh: Mesh, name: str) -> None:
    """Each directed edge occurs once, and so does its reverse."""
    ends = mesh.faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    edges, times = np.unique(ends, axis=0, return_counts=True)
    reversed_edges = np.unique(ends[:, ::-1], axis=0)
    unmatched = len(np.setdiff1d(_keys(edges), _keys(reversed_edges))) + int(np.sum(times > 1))
    require(
        unmatched == 0,
        f"{name} is closed",
        f"{unmatched} edges without exactly one neighbour",
        "none",
    )


def _keys(edges: Ints) -> Ints:
    """A number for each edge."""
    return edges[:, 0] * (int(edges.max()) + 1) + edges[:, 1]


def is_the_design(stone: Stone, rebuild: Callable[[Stone], Body], name: str) -> str:
    """The stone equals, corner by corner, the solid rebuilt from the stated parameters, which lie
    in their ranges."""
    for key, value in stone.parameters.items():
        allowed = stone.design.parameters.get(key)
        require(allowed is not None, f"{name}'s parameters", f"{key} is stated", "known names")
        assert allowed is not None
        require(
            allowed.low - RELATIVE <= value <= allowed.high + RELATIVE,
            f"{name}'s {key}",
            f"{plain(value, 9)} stated",
            f"{plain(allowed.low)} to {plain(allowed.high)}",
        )
    planned, rebuilt = stone.placement.body, rebuild(stone)
    width = stone.placement.pose.width
    off = _corners_apart(planned.mesh_at(width), rebuilt.mesh_at(width))
    require(
        off <= SAME_MM,
        f"{name} equals the {stone.design.name} rebuilt from its parameters",
        f"corners {plain(off, 3)} mm apart",
        f"at most {plain(SAME_MM, 1)} mm",
    )
    return (
        f"{name} equals the {stone.design.name} rebuilt from its parameters: "
        f"{len(rebuilt.vertices)} corners within {plain(off, 1)} mm."
    )


def _corners_apart(one: Mesh, other: Mesh) -> float:
    """Largest distance in mm between corners of the same index; infinite where triangles differ."""
    if one.vertices.shape != other.vertices.shape or not np.array_equal(one.faces, other.faces):
        return float("inf")
    return float(np.linalg.norm(one.vertices - other.vertices, axis=1).max())


def figures_are_true(stone: Stone, mesh: Mesh, sg: float, name: str) -> str:
    """Sizes and weight are as stated, measured on the mesh in the scan frame."""
    at_home = stone_frame(stone, mesh)
    length, width, depth = np.ptp(at_home.vertices, axis=0)
    girdle = thinnest_girdle(at_home, stone.placement.body.facet_of_face)
    volume = volume_of(robust(mesh, name))
    carat = volume * sg / 200.0
    for what, stated, measured in (
        ("length", stone.length_mm, length),
        ("width", stone.width_mm, width),
        ("depth", stone.depth_mm, depth),
        ("girdle", stone.girdle_mm, girdle),
        ("width in the pose", stone.placement.pose.width, width),
    ):
        close(f"{name}'s {what}", stated, float(measured), LENGTH_MM, "mm")
    close(f"{name}'s volume", stone.volume_mm3, volume, RELATIVE * volume, "mm³")
    close(f"{name}'s weight", stone.carat, carat, RELATIVE * carat, "ct")
    _require_range(stone, name)
    return (
        f"{name} measures {length:.4f} × {width:.4f} × {depth:.4f} mm with a girdle of "
        f"{girdle:.4f} mm, and weighs {carat:.6f} ct at {plain(sg)} g/cm³, as stated."
    )


def stone_frame(stone: Stone, mesh: Mesh) -> Mesh:
    """The placed mesh moved back from the scan frame to the stone frame."""
    pose = stone.placement.pose
    return Mesh((mesh.vertices - pose.translation) @ pose.rotation, mesh.faces)


def _require_range(stone: Stone, name: str) -> None:
    low, high = stone.carat_range
    require(
        0.0 <= low <= stone.carat <= high and np.isfinite(high),
        f"{name}'s range of weight",
        f"{plain(low)} to {plain(high)} ct about {plain(stone.carat)} ct",
        "ordered, with the weight in it",
    )


def thinnest_girdle(mesh: Mesh, facet_of_face: Ints) -> float:
    """The least thickness in mm of the band of vertical facets; zero where there is no band.

    Along a convex facet the thickness is a concave function of the place, so it is least at one of
    the facet's two ends.
    """
    bands = [_band(mesh.triangles[facet_of_face == k]) for k in np.unique(facet_of_face)]
    return min((b for b in bands if b is not None), default=0.0)


def _band(triangles: Floats) -> float | None:
    """The thinner end of one facet (k, 3, 3) in mm; None where the facet isn't vertical."""
    normal = vector_areas(triangles).sum(axis=0)
    normal /= np.linalg.norm(normal)
    if abs(normal[2]) > SAME_MM:
        return None
    corners = triangles.reshape(-1, 3)
    along = corners @ np.array([-normal[1], normal[0], 0.0])
    ends = (corners[along < along.min() + LENGTH_MM], corners[along > along.max() - LENGTH_MM])
    return float(min(np.ptp(end[:, 2]) for end in ends))
