"""The robust kernel (manifold3d) behind one door: is this a solid, and cut it by planes."""

from typing import Any
from weakref import WeakKeyDictionary

import manifold3d
import numpy as np

from optimizer.errors import InputError
from optimizer.mesh import Floats, Mesh, Plane, cross

_MADE: WeakKeyDictionary[Mesh, Any] = WeakKeyDictionary()


def as_solid(mesh: Mesh) -> Any:
    """The mesh as a robust solid. Raises InputError where the kernel sees no closed solid.

    Each solid is kept as long as its mesh: reading, sawing, marks, audit and report ask for the
    same ones, and loading a whole scan takes as long as three cuts.
    """
    solid = _MADE.get(mesh)
    if solid is None:
        solid = _MADE[mesh] = _loaded(mesh)
    return solid


def _loaded(mesh: Mesh) -> Any:
    solid = manifold3d.Manifold(
        manifold3d.Mesh64(
            vert_properties=np.ascontiguousarray(mesh.vertices, np.float64),
            tri_verts=np.ascontiguousarray(mesh.faces, np.uint64),
        )
    )
    if solid.status() != manifold3d.Error.NoError:
        raise InputError(f"the mesh is not a closed solid ({solid.status().name})")
    return solid


def as_mesh(solid: Any) -> Mesh:
    """The surface of a robust solid."""
    out = solid.to_mesh64()
    return Mesh(np.array(out.vert_properties[:, :3], np.float64), np.array(out.tri_verts, np.int64))


def trim(solid: Any, plane: Plane) -> Any:
    """The part of a robust solid with normal·x >= offset, closed by a cap."""
    return solid.trim_by_plane(tuple(plane.normal), plane.offset)


def split_by_kerf(solid: Any, plane: Plane, kerf_mm: float) -> tuple[Any, Any]:
    """(below, above): what is left of a robust solid beside a kerf centred on ``plane``."""
    half = kerf_mm / 2.0
    above = trim(solid, Plane(plane.normal, plane.offset + half))
    below = trim(solid, Plane(-plane.normal, -(plane.offset - half)))
    return below, above


def centred(solid: Any) -> Any:
    """The solid moved to the origin: far from it, volumes and hulls lose digits."""
    if solid.is_empty():
        return solid
    box = np.array(solid.bounding_box())
    return solid.translate(tuple(-(box[:3] + box[3:]) / 2.0))


def volume_of(solid: Any) -> float:
    """Volume in mm³, wherever the solid lies."""
    return float(centred(solid).volume())


def lumps(solid: Any) -> list[Any]:
    """The connected lumps of a robust solid, heaviest first, each with its hollows; none for an
    empty one, or for one whose surface is all inside out."""
    parts = solid.decompose()  # a hollow's surface is a part of its own, inside out
    whole = [lump for lump in parts if lump.volume() >= 0.0]
    for hollow in (lump for lump in parts if whole and lump.volume() < 0.0):
        surface = as_mesh(hollow)
        filled = as_solid(Mesh(surface.vertices, surface.faces[:, ::-1]))
        around = max(range(len(whole)), key=lambda i: (whole[i] ^ filled).volume())
        whole[around] = whole[around] - filled
    return sorted(whole, key=lambda lump: -volume_of(lump))


def plane_frame(normal: Floats, along: Floats) -> Floats:
    """Right-handed axes (3, 3), rows (u, v, ``normal``), u as near to ``along`` as the plane lets.

    Where ``along`` is within half a degree of the normal, the axis farthest from it serves.
    """
    u = along - (along @ normal) * normal
    if np.linalg.norm(u) < 0.01 * np.linalg.norm(along):
        axis = np.eye(3)[int(np.argmin(np.abs(normal)))]
        u = axis - (axis @ normal) * normal
    u = u / np.linalg.norm(u)
    return np.array([u, cross(normal, u), normal])


def section(solid: Any, frame: Floats, offset: float) -> tuple[Floats, ...]:
    """Closed loops, each (k, 2), in which the plane frame[2]·x = ``offset`` cuts a robust solid.

    Coordinates are along frame[0] and frame[1]; outer loops run counter-clockwise, holes
    clockwise; exact within 1e-8 mm. A point (a, b) lies at a·frame[0] + b·frame[1] +
    offset·frame[2] in space.
    """
    turned = solid.transform(np.hstack([frame, np.zeros((3, 1))]))
    loops = turned.slice(offset).to_polygons()
    return tuple(np.array(loop, np.float64) for loop in loops)


def in_space(points: Floats, frame: Floats, offset: float) -> Floats:
    """Points (n, 2) of a section, as points (n, 3) in space."""
    return np.asarray(points @ frame[:2] + offset * frame[2])


def beyond(mesh: Mesh, plane: Plane) -> Mesh:
    """The part of ``mesh`` with normal·x >= offset, closed by a cap; empty where nothing is."""
    return as_mesh(trim(as_solid(mesh), plane))


def saw(mesh: Mesh, plane: Plane, kerf_mm: float) -> tuple[Mesh, Mesh]:
    """(below, above): what is left on each side of a kerf centred on ``plane``."""
    below, above = split_by_kerf(as_solid(mesh), plane, kerf_mm)
    return as_mesh(below), as_mesh(above)
