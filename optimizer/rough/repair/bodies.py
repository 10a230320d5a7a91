"""Bodies beside, in and around the piece: what is kept, what is dropped, and what is refused.

The piece is the closed body of the greatest volume. What else there is counts by its own volume and
by how often the whole surface winds round the places just outside it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.errors import InputError
from optimizer.mesh import Floats, Ints, Mesh
from optimizer.rough.kernels.windings import winding
from optimizer.rough.model import Repair
from optimizer.rough.repair.crossing import crossing_pairs
from optimizer.rough.repair.distance import distances
from optimizer.rough.repair.edges import Edges, components, edges_of, members_of
from optimizer.rough.repair.mend import Mended, counted
from optimizer.rough.repair.orient import signed_volumes, turn_over
from optimizer.rough.repair.windings import winding_beside
from optimizer.rough.repair.words import areas_mm2, longest_mm, mm, percent, place, sides_mm

CRUMB_SHARE = 0.01  # of the piece's volume: a body beside it that is no larger is dropped
HOLLOW_SHARE = 0.5  # of the piece's volume: what is larger is no hollow but a second wall
WALLS_APART_SHARE = 0.02  # of the longest side: how far a second wall may lie within the first
_NOTHING = 1e-9  # of the longest side cubed: far below any solid, far above rounding
_SPECK = 1e-9  # of the longest side: what is no longer is a point, whatever its triangles say
_MOST_BODIES = 1000  # each costs a look at the whole surface
_MOST_LOOKS = 30  # at corners of a crumb, each at the whole surface
_MOST_POINTS = 300  # of a second wall, whose distance from the first is measured


@dataclass(frozen=True)
class ClosedSurface:
    """A connected closed surface of a mesh: ``faces`` are its numbers there."""

    faces: Ints
    volume_mm3: float  # negative where it is wound inside out
    outside: int | None  # windings of the whole surface just outside it; None: can't be told
    middle: Floats
    longest_mm: float


def face_outwards(mesh: Mesh, edges: Edges, name: str) -> Mended:
    """The piece and its hollows, of a closed surface whose neighbours agree, wound outwards.

    Raises InputError where it encloses no volume, or isn't certain which bodies are the piece.
    """
    body = components(edges.joined() // 3, len(mesh.faces))
    volumes = signed_volumes(mesh, body)
    _refuse_flat(mesh, float(np.abs(volumes).max()), name)
    over = Mended(mesh)
    if volumes[np.argmax(np.abs(volumes))] < 0.0:
        over, volumes = turn_over(mesh), -volumes
    if len(volumes) == 1:
        return over
    judged = _judged(over.mesh, body, volumes, name)
    return Mended(judged.mesh, (*over.repairs, *judged.repairs), judged.doubts)


def doubts_of_hollows(mesh: Mesh) -> tuple[str, ...]:
    """What is doubtful about the hollows of a solid that is wound outwards."""
    body = components(edges_of(mesh).joined() // 3, len(mesh.faces))
    volumes = signed_volumes(mesh, body)
    if (volumes >= 0.0).all():
        return ()
    return _doubt_of_hollows([b for b in _bodies(mesh, body, volumes) if b.volume_mm3 < 0.0])


def _refuse_flat(mesh: Mesh, volume_mm3: float, name: str) -> None:
    """Raises InputError where the surface encloses next to nothing of its own box."""
    a, b, c = sides_mm(mesh)
    if volume_mm3 <= _NOTHING * max(a, b, c) ** 3:
        raise InputError(
            f"{name}: the surface encloses no volume ({a:.4g} × {b:.4g} × {c:.4g} mm); scan the "
            "piece from all sides"
        )


def _judged(mesh: Mesh, body: Ints, volumes: Floats, name: str) -> Mended:
    if len(volumes) > _MOST_BODIES:
        raise InputError(
            f"{name}: {len(volumes):,} separate bodies; keep the piece alone in the scan software"
        )
    main, *others = _bodies(mesh, body, volumes)
    kept, turned = np.ones(len(body), bool), np.zeros(len(body), bool)
    crumbs, hollows, walls = [], [], []
    for other in others:
        share = abs(other.volume_mm3) / main.volume_mm3
        if _bounds_nothing(other) or other.longest_mm <= _SPECK * main.longest_mm:
            crumbs.append(other)
            kept[other.faces] = False
            continue
        match (other.outside, other.volume_mm3 > 0.0):
            case (0, True) | (-1, False) if share <= CRUMB_SHARE:
                crumbs.append(other)
                kept[other.faces] = False
            case (1, True) if share <= CRUMB_SHARE and _sticks_out(mesh, main, other):
                crumbs.append(other)
                kept[other.faces] = False
            case (0, False) if share <= HOLLOW_SHARE:
                hollows.append(other)
            case (1, True) if share <= CRUMB_SHARE:
                hollows.append(other)
                turned[other.faces] = True
            case (1, True) if share > HOLLOW_SHARE and _apart(mesh, main, other) is not None:
                walls.append(other)
                kept[main.faces] = False
            case _:
                raise _several(mesh, main, others, other, name)
    if walls and hollows:  # between the walls: within the one that goes
        raise _several(mesh, main, others, hollows[0], name)
    repairs = (
        *_crumbs(mesh, main, crumbs), *_hollows(mesh, hollows), *_walls(mesh, main, walls),
    )  # fmt: skip
    doubts = (*_doubt_of_hollows(hollows), *_doubt_of_walls(mesh, main, walls))
    if kept.all() and not turned.any():
        return Mended(mesh, repairs, doubts)
    faces = np.where(turned[:, None], mesh.faces[:, ::-1], mesh.faces)[kept]
    return Mended(Mesh(mesh.vertices, faces), repairs, doubts)


def _bounds_nothing(body: ClosedSurface) -> bool:
    """Whether it is a flake with two sides and nothing between."""
    return abs(body.volume_mm3) <= _NOTHING * body.longest_mm**3


def _bodies(mesh: Mesh, body: Ints, volumes: Floats) -> list[ClosedSurface]:
    """The greatest first."""
    members = members_of(body)
    found = []
    for i in np.argsort(-np.abs(volumes), kind="stable"):
        corners = mesh.triangles[members[i]]
        low, high = corners.min(axis=(0, 1)), corners.max(axis=(0, 1))
        face = int(members[i][np.argmax(areas_mm2(corners))])
        beside = winding_beside(mesh, face)
        middle, longest = (low + high) / 2.0, float((high - low).max())
        found.append(ClosedSurface(members[i], float(volumes[i]), beside, middle, longest))
    return found


def _sticks_out(mesh: Mesh, main: ClosedSurface, other: ClosedSurface) -> bool:
    """Whether some corner of a body lies outside the piece."""
    around = mesh.faces[main.faces]
    corners = mesh.vertices[_some(np.unique(mesh.faces[other.faces]), _MOST_LOOKS)]
    return any(winding(mesh.vertices, around, corner) < 0.5 for corner in corners)


def _some(corners: Ints, most: int) -> Ints:
    """At most so many of the corners, spread evenly."""
    return corners[:: -(-len(corners) // most)]


def _apart(mesh: Mesh, main: ClosedSurface, wall: ClosedSurface) -> float | None:
    """How far a second wall lies from the first, mm; None where that is too far, or they cross, so
    that neither lies within the other."""
    if _cross(mesh, main, wall):
        return None
    some = _some(np.unique(mesh.faces[wall.faces]), _MOST_POINTS)
    gap = float(distances(mesh.vertices[some], mesh.triangles[main.faces]).max())
    return gap if gap <= WALLS_APART_SHARE * longest_mm(mesh) else None


def _cross(mesh: Mesh, one: ClosedSurface, other: ClosedSurface) -> bool:
    """Whether two bodies' surfaces pass through each other."""
    both = np.concatenate([one.faces, other.faces])
    pairs = crossing_pairs(Mesh(mesh.vertices, mesh.faces[both]), 1e-9 * longest_mm(mesh))
    return bool(((pairs < len(one.faces)).sum(axis=1) == 1).any())


def _crumbs(mesh: Mesh, main: ClosedSurface, crumbs: Sequence[ClosedSurface]) -> tuple[Repair, ...]:
    if not crumbs:
        return ()
    volume = sum(abs(body.volume_mm3) for body in crumbs)
    largest = max(crumbs, key=lambda body: body.longest_mm)
    sentence = (
        f"{counted(len(crumbs), 'separate body', 'separate bodies')} beside the piece left out, "
        f"{volume:.3g} mm³ or {percent(volume / main.volume_mm3)} of it, the largest "
        f"{mm(largest.longest_mm)} long about {place(largest.middle)}; the piece keeps its size"
    )
    return (Repair(sentence, *_touched(mesh, crumbs)),)


def _hollows(mesh: Mesh, hollows: Sequence[ClosedSurface]) -> tuple[Repair, ...]:
    if not hollows:
        return ()
    volume = sum(abs(body.volume_mm3) for body in hollows)
    sentence = (
        f"{counted(len(hollows), 'closed surface')} within the piece taken for "
        f"{'a hollow' if len(hollows) == 1 else 'hollows'} that stones keep clear of, "
        f"{volume:.3g} mm³; the piece becomes smaller"
    )
    return (Repair(sentence, *_touched(mesh, hollows)),)


def _doubt_of_hollows(hollows: Sequence[ClosedSurface]) -> tuple[str, ...]:
    if not hollows:
        return ()
    largest = max(hollows, key=lambda body: body.longest_mm)
    return (
        f"the scan shows {counted(len(hollows), 'hollow')} within the piece, the largest "
        f"{mm(largest.longest_mm)} long about {place(largest.middle)}: if the stone is sound "
        "there, remove the inner surface in the scan software",
    )


def _walls(mesh: Mesh, main: ClosedSurface, walls: Sequence[ClosedSurface]) -> tuple[Repair, ...]:
    if not walls:
        return ()
    points, area = _touched(mesh, [main])
    apart = max(_apart(mesh, main, wall) or 0.0 for wall in walls)
    sentence = (
        f"of two walls within each other the outer one left out, {area:.4g} mm², up to {mm(apart)} "
        "off the inner one; the piece becomes smaller"
    )
    return (Repair(sentence, points, area, apart),)


def _doubt_of_walls(
    mesh: Mesh, main: ClosedSurface, walls: Sequence[ClosedSurface]
) -> tuple[str, ...]:
    if not walls:
        return ()
    apart = max(_apart(mesh, main, wall) or 0.0 for wall in walls)
    return (
        f"the scan has two walls up to {mm(apart)} apart, of which the inner one is kept: the "
        "piece may be that much larger; join the passes anew in the scan software",
    )


def _touched(mesh: Mesh, bodies: Sequence[ClosedSurface]) -> tuple[Floats, float]:
    """(the middles of the bodies, the area of their surfaces)."""
    area = sum(float(areas_mm2(mesh.triangles[body.faces]).sum()) for body in bodies)
    return np.array([body.middle for body in bodies]), area


def _several(
    mesh: Mesh, main: ClosedSurface, others: Sequence[ClosedSurface], one: ClosedSurface, name: str
) -> InputError:
    sizes = f"{len(others) + 1} bodies, the greatest {mm(main.longest_mm)} long"
    this = f"one of {mm(one.longest_mm)} about {place(one.middle)}"
    share = percent(abs(one.volume_mm3) / main.volume_mm3)
    if (one.outside == 0 and one.volume_mm3 < 0.0) or one.outside == 1:
        return InputError(
            f"{name}: {sizes}; {this}, with {share} of its volume, lies within it, and whether it "
            "is a hollow or a second wall isn't certain; remove what isn't there in the scan "
            "software, or rescan the piece"
        )
    if _cross(mesh, main, one):
        return InputError(
            f"{name}: {sizes}; {this}, with {share} of its volume, runs through its surface: "
            "passes of the scan that were badly joined, or something else scanned along; join the "
            "passes anew, or remove what isn't the piece, in the scan software"
        )
    return InputError(
        f"{name}: {sizes}; {this} has {share} of its volume, too much to leave out; keep the piece "
        "and remove the others in the scan software"
    )
