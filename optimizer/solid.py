"""The robust kernel (manifold3d) behind one door: is this a solid, and cut it by planes."""

from typing import Any

import manifold3d
import numpy as np

from optimizer.errors import InputError
from optimizer.mesh import Mesh, Plane


def as_solid(mesh: Mesh) -> Any:
    """The mesh as a robust solid. Raises InputError where the kernel sees no closed solid."""
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
    return Mesh(
        np.array(out.vert_properties[:, :3], np.float64), np.array(out.tri_verts, np.int64)
    )


def beyond(mesh: Mesh, plane: Plane) -> Mesh:
    """The part of ``mesh`` with normal·x >= offset, closed by a cap; empty where nothing is."""
    return as_mesh(as_solid(mesh).trim_by_plane(tuple(plane.normal), plane.offset))


def saw(mesh: Mesh, plane: Plane, kerf_mm: float) -> tuple[Mesh, Mesh]:
    """(below, above): what is left on each side of a kerf centred on ``plane``."""
    half = kerf_mm / 2.0
    above = beyond(mesh, Plane(plane.normal, plane.offset + half))
    below = beyond(mesh, Plane(-plane.normal, -(plane.offset - half)))
    return below, above
