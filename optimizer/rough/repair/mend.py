"""Harmless faults of scan files: found, put right, and reported with their number."""

from dataclasses import dataclass

import numpy as np

from optimizer.mesh import Floats, Ints, Mesh
from optimizer.rough.model import Repair


@dataclass(frozen=True)
class Mended:
    """A mesh, what was put right in it, and doubts: where the piece may differ from the mesh."""

    mesh: Mesh
    repairs: tuple[Repair, ...] = ()
    doubts: tuple[str, ...] = ()


def counted(n: int, one: str, many: str = "") -> str:
    """A number with its noun: ``1 triangle``, ``2,000 triangles``."""
    return f"{n:,} {one if n == 1 else many or one + 's'}"


def merge_corners(mesh: Mesh) -> Mended:
    """One vertex for all corner points at exactly the same place; unused points are left out.

    Where every triangle has corner points of its own, as formats without shared ones store them,
    nothing was wrong with the scan and nothing is reported.
    """
    first, group = _same_rows(mesh.vertices)
    faces = group[mesh.faces]
    used = np.zeros(len(first), bool)
    used[faces] = True
    renumbered = np.cumsum(used) - 1
    kept = Mesh(mesh.vertices[first[used]], renumbered[faces])
    repairs = []
    if len(first) < len(mesh.vertices) and not _unshared(mesh):
        same = counted(len(mesh.vertices) - len(first), "duplicate vertex", "duplicate vertices")
        repairs.append(Repair(f"{same} merged"))
    if not used.all():
        loose = counted(int((~used).sum()), "point")
        repairs.append(Repair(f"{loose} that no triangle uses left out"))
    return Mended(kept, tuple(repairs))


def _unshared(mesh: Mesh) -> bool:
    """Whether every triangle has corner points that no other uses."""
    count = 3 * len(mesh.faces)
    return len(mesh.vertices) == count == len(np.unique(mesh.faces))


def _same_rows(points: Floats) -> tuple[Ints, Ints]:
    """(first row of each distinct point in file order, each row's number among those).

    Rows are sorted by a 64-bit hash of their bits, several times faster than by columns; in the
    unlikely case that two distinct points share a hash, the sort by columns decides.
    """
    bits = np.ascontiguousarray(points + 0.0).view(np.uint64)  # + 0.0: -0.0 equals 0.0
    key = np.zeros(len(bits), np.uint64)
    for column in bits.T:  # the multiplier of splitmix64 (Steele, Lea, Flood 2014)
        key = (key ^ column) * np.uint64(0xBF58476D1CE4E5B9)
        key ^= key >> np.uint64(27)
    _, first, group = np.unique(key, return_index=True, return_inverse=True)
    if not np.array_equal(points[first][group], points):
        _, first, group = np.unique(points, axis=0, return_index=True, return_inverse=True)
    order = np.argsort(first)
    rank = np.empty(len(order), np.int64)
    rank[order] = np.arange(len(order))
    return first[order].astype(np.int64), rank[group.reshape(-1)]


def drop_needless_faces(mesh: Mesh) -> Mended:
    """Leave out faces that use a vertex twice, and faces on the same three vertices as another.

    Of such duplicates the first stays, unless the surface is closed there without it: then they
    bound nothing, and all are left out.
    """
    a, b, c = mesh.faces.T
    proper = (a != b) & (b != c) & (c != a)
    faces = mesh.faces if proper.all() else mesh.faces[proper]
    repairs = []
    if not proper.all():
        empty = counted(int((~proper).sum()), "triangle")
        repairs.append(Repair(f"{empty} with two corners at one point left out"))
    kept = _without_doubles(faces)
    if not kept.all():
        twice = mesh.vertices[faces[~kept]]
        duplicates = counted(len(twice), "duplicate triangle")
        repairs.append(Repair(f"{duplicates} left out", twice.mean(axis=1)))
        faces = faces[kept]
    return Mended(mesh if faces is mesh.faces else Mesh(mesh.vertices, faces), tuple(repairs))


def _without_doubles(faces: Ints) -> np.ndarray:
    """Which faces (m,) stay where several lie on the same three corners."""
    _, first, count = np.unique(_corner_keys(faces), return_index=True, return_counts=True)
    if len(first) == len(faces):
        return np.ones(len(faces), bool)
    kept = np.zeros(len(faces), bool)
    kept[first] = (count == 1) | ~_closed_without(faces[first])
    return kept


def _closed_without(faces: Ints) -> np.ndarray:
    """Whether an even number of others meet in each side of each of the faces, no two of which lie
    on the same corners."""
    sides = np.sort(faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
    key = sides[:, 0] * (int(faces.max(initial=0)) + 1) + sides[:, 1]
    _, edge, meeting = np.unique(key, return_inverse=True, return_counts=True)
    return np.asarray((meeting[edge.reshape(-1, 3)] % 2 == 1).all(axis=1))


def _corner_keys(faces: Ints) -> Ints:
    """A number for each set of three corners: equal where the sets are equal."""
    low, middle, high = np.sort(faces, axis=1).T
    count = int(faces.max(initial=0)) + 1
    pair = np.unique(low * count + middle, return_inverse=True)[1].reshape(-1)
    return np.asarray(pair * count + high, np.int64)
