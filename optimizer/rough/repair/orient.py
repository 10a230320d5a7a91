"""Windings: triangles turned so that neighbours agree, and bodies so that they face outwards."""

import numpy as np

from optimizer.errors import InputError
from optimizer.mesh import Floats, Ints, Mesh, cross
from optimizer.rough.model import Repair
from optimizer.rough.repair.edges import Edges, components
from optimizer.rough.repair.mend import Mended, counted
from optimizer.rough.repair.words import place


def make_agree(mesh: Mesh, edges: Edges, name: str) -> Mended:
    """The mesh with faces turned so that neighbours agree, in each body the fewer of the two ways.

    Raises InputError where a surface has only one side.
    """
    sides = edges.joined()
    same_way = edges.forward(sides[:, 0]) == edges.forward(sides[:, 1])
    if not same_way.any():
        return Mended(mesh)
    body = components(sides // 3, len(mesh.faces))
    against = np.flatnonzero(_against(sides // 3, same_way, body, mesh, name))
    faces = mesh.faces.copy()
    faces[against] = faces[against][:, ::-1]
    turned = counted(len(against), "triangle")
    repair = Repair(
        f"{turned} wound against their neighbours turned", mesh.triangles[against].mean(axis=1)
    )
    return Mended(Mesh(mesh.vertices, faces), (repair,))


def _against(pairs: Ints, same_way: np.ndarray, body: Ints, mesh: Mesh, name: str) -> np.ndarray:
    """Which faces (m,) must be turned. Each face is in a graph twice, as read and turned, and is
    joined to the version of its neighbour that agrees with it. So a body falls into two halves, one
    the reverse of the other."""
    count = len(body)
    a, b = pairs.T
    swap = np.where(same_way, count, 0)
    doubled = np.vstack(
        [np.column_stack([a, b + swap]), np.column_stack([a + count, b + count - swap])]
    )
    half = components(doubled, 2 * count)
    first = np.unique(body, return_index=True)[1][body]  # of each face's body, its first face
    one_sided = half[first] == half[first + count]
    if one_sided.any():
        middle = mesh.triangles[one_sided].mean(axis=(0, 1))
        raise InputError(
            f"{name}: a surface about {place(middle)} has only one side; it bounds no solid, "
            "rescan it"
        )
    against = half[:count] != half[first]
    mostly = 2 * np.bincount(body, against) > np.bincount(body)
    return np.asarray(against ^ mostly[body])


def signed_volumes(mesh: Mesh, body: Ints) -> Floats:
    """Volume (k,) of each body in mm³, negative where it is wound inside out."""
    first = np.unique(body, return_index=True)[1][body]
    v = mesh.triangles - mesh.triangles[first, :1]  # far from the origin, digits would be lost
    return np.bincount(body, np.einsum("ij,ij->i", v[:, 0], cross(v[:, 1], v[:, 2]))) / 6.0


def turn_over(mesh: Mesh) -> Mended:
    """The mesh with every face turned."""
    faces = np.ascontiguousarray(mesh.faces[:, ::-1])
    repair = Repair("the surface was inside out: every triangle turned")
    return Mended(Mesh(mesh.vertices, faces), (repair,))
