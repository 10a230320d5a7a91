"""One connected closed surface of a mesh, and how it lies relative to the piece."""

from dataclasses import dataclass

import numpy as np

from optimizer.mesh import Floats, Ints, Mesh
from optimizer.rough.kernels.windings import winding
from optimizer.rough.repair.crossing import crossing_pairs
from optimizer.rough.repair.distance import distances
from optimizer.rough.repair.edges import members_of
from optimizer.rough.repair.windings import winding_beside
from optimizer.rough.repair.words import areas_mm2, longest_mm

WALLS_APART_SHARE = 0.02  # of the longest side: how far a second wall may lie within the first
NOTHING = 1e-9  # of the longest side cubed: far below any solid, far above rounding
_MOST_LOOKS = 30  # corners of a crumb that are tested, each against the whole surface
_MOST_POINTS = 300  # corners of a second wall whose distance from the first is measured


@dataclass(frozen=True)
class ClosedSurface:
    """A connected closed surface of a mesh: ``faces`` are its numbers there."""

    faces: Ints
    volume_mm3: float  # negative where it is wound inside out
    outside: int | None  # windings of the whole surface just outside it; None: can't be told
    middle: Floats
    longest_mm: float


def bounds_nothing(body: ClosedSurface) -> bool:
    """Whether a body is a flake with two sides and no volume between them."""
    return abs(body.volume_mm3) <= NOTHING * body.longest_mm**3


def bodies_of(mesh: Mesh, body: Ints, volumes: Floats) -> list[ClosedSurface]:
    """The closed bodies of a mesh, the greatest first."""
    members = members_of(body)
    boxes = np.array([_box(mesh.triangles[faces]) for faces in members])
    found = []
    for i in np.argsort(-np.abs(volumes), kind="stable"):
        near = ((boxes[:, 0] <= boxes[i, 1]) & (boxes[:, 1] >= boxes[i, 0])).all(axis=1)
        beside = _windings_outside(mesh, members, int(i), np.flatnonzero(near))
        low, high = boxes[i]
        middle, longest = (low + high) / 2.0, float((high - low).max())
        found.append(ClosedSurface(members[i], float(volumes[i]), beside, middle, longest))
    return found


def _box(corners: Floats) -> tuple[Floats, Floats]:
    return corners.min(axis=(0, 1)), corners.max(axis=(0, 1))


def _windings_outside(mesh: Mesh, members: list[Ints], i: int, near: Ints) -> int | None:
    """How often the surface winds round the places just outside the largest face of body i. A
    closed body doesn't wind round places outside its box, so only the bodies ``near`` count."""
    face = int(np.argmax(areas_mm2(mesh.triangles[members[i]])))
    others = [members[k] for k in near if k != i]
    around = Mesh(mesh.vertices, mesh.faces[np.concatenate([members[i], *others])])
    return winding_beside(around, face)


def sticks_out(mesh: Mesh, main: ClosedSurface, other: ClosedSurface) -> bool:
    """Whether some corner of a body lies outside the piece."""
    around = mesh.faces[main.faces]
    corners = mesh.vertices[_some(np.unique(mesh.faces[other.faces]), _MOST_LOOKS)]
    return any(winding(mesh.vertices, around, corner) < 0.5 for corner in corners)


def _some(corners: Ints, most: int) -> Ints:
    """At most ``most`` of the corners, spread evenly."""
    return corners[:: -(-len(corners) // most)]


def apart(mesh: Mesh, main: ClosedSurface, wall: ClosedSurface) -> float | None:
    """How far a second wall lies from the first, mm; None where that is too far, or where the two
    cross, so that neither lies within the other."""
    if cross(mesh, main, wall):
        return None
    some = _some(np.unique(mesh.faces[wall.faces]), _MOST_POINTS)
    gap = float(distances(mesh.vertices[some], mesh.triangles[main.faces]).max())
    return gap if gap <= WALLS_APART_SHARE * longest_mm(mesh) else None


def cross(mesh: Mesh, one: ClosedSurface, other: ClosedSurface) -> bool:
    """Whether two bodies' surfaces pass through each other."""
    both = np.concatenate([one.faces, other.faces])
    pairs = crossing_pairs(Mesh(mesh.vertices, mesh.faces[both]), 1e-9 * longest_mm(mesh))
    return bool(((pairs < len(one.faces)).sum(axis=1) == 1).any())
