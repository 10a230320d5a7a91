"""Bodies beside, in and around the piece: what is kept, what is dropped, and what is refused.

The piece is the closed body of the greatest volume. Every other body is judged by its own volume
and by how often the whole surface winds round the places just outside it.
"""

import numpy as np

from optimizer.errors import InputError
from optimizer.mesh import Floats, Ints, Mesh, volume
from optimizer.rough.repair.body_words import (
    crumbs_left_out,
    doubt_of_hollows,
    doubt_of_walls,
    hollows_kept,
    outer_walls_left_out,
    several_bodies,
)
from optimizer.rough.repair.closed_surface import (
    NOTHING,
    apart,
    bodies_of,
    bounds_nothing,
    sticks_out,
)
from optimizer.rough.repair.edges import Edges, components, edges_of
from optimizer.rough.repair.mend import Mended
from optimizer.rough.repair.orient import signed_volumes, turn_over
from optimizer.rough.repair.words import areas_mm2, mm, sides_mm
from optimizer.wording.plain_number import plain

CRUMB_SHARE = 0.01  # of the piece's volume: a body beside the piece up to this size is dropped
HOLLOW_SHARE = 0.5  # of the piece's volume: a larger inner body is a second wall, not a hollow
_SPECK = 1e-9  # of the longest side: a body no longer than this counts as a point
_THINNEST = 10.0  # least mean thickness of a solid, over the resolution of its numbers
_MOST_BODIES = 1000  # each costs a look at the surface about it


def face_outwards(mesh: Mesh, edges: Edges, name: str) -> Mended:
    """The piece and its hollows, wound outwards, from a closed surface whose triangles agree.

    Raises InputError where the surface encloses no volume, or where it isn't certain which bodies
    are the piece.
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
    return doubt_of_hollows([b for b in bodies_of(mesh, body, volumes) if b.volume_mm3 < 0.0])


def _refuse_flat(mesh: Mesh, volume_mm3: float, name: str) -> None:
    """Raises InputError where the surface encloses next to nothing of its own box."""
    a, b, c = sides_mm(mesh)
    if volume_mm3 <= NOTHING * max(a, b, c) ** 3:
        raise InputError(
            f"{name}: the surface encloses no volume ({plain(a, 4)} × {plain(b, 4)} × "
            f"{plain(c, 4)} mm); scan the piece from all sides"
        )


def refuse_thin(mesh: Mesh, tolerance: float, name: str) -> None:
    """Raises InputError where a solid's two sides lie no farther apart, on average, than its
    numbers resolve, ``tolerance`` mm: which is which can't be told."""
    thick = 2.0 * volume(mesh) / float(areas_mm2(mesh.triangles).sum())
    if thick <= _THINNEST * tolerance:
        raise InputError(
            f"{name}: the surface encloses next to nothing: it is {mm(thick)} thick on average, "
            f"and its numbers resolve {mm(tolerance)}; scan the piece from all sides, or save the "
            "scan with more digits"
        )


def _judged(mesh: Mesh, body: Ints, volumes: Floats, name: str) -> Mended:
    if len(volumes) > _MOST_BODIES:
        raise InputError(
            f"{name}: {len(volumes):,} separate bodies; keep the piece alone in the scan software"
        )
    main, *others = bodies_of(mesh, body, volumes)
    kept, turned = np.ones(len(body), bool), np.zeros(len(body), bool)
    crumbs, hollows, walls = [], [], []
    for other in others:
        share = abs(other.volume_mm3) / main.volume_mm3
        if bounds_nothing(other) or other.longest_mm <= _SPECK * main.longest_mm:
            crumbs.append(other)
            kept[other.faces] = False
            continue
        match (other.outside, other.volume_mm3 > 0.0):
            case (0, True) | (-1, False) if share <= CRUMB_SHARE:
                crumbs.append(other)
                kept[other.faces] = False
            case (1, True) if share <= CRUMB_SHARE and sticks_out(mesh, main, other):
                crumbs.append(other)
                kept[other.faces] = False
            case (0, False) if share <= HOLLOW_SHARE:
                hollows.append(other)
            case (1, True) if share <= CRUMB_SHARE:
                hollows.append(other)
                turned[other.faces] = True
            case (1, True) if share > HOLLOW_SHARE and apart(mesh, main, other) is not None:
                walls.append(other)
                kept[main.faces] = False
            case _:
                raise several_bodies(mesh, main, others, other, name)
    if walls and hollows:  # between the walls: within the one that goes
        raise several_bodies(mesh, main, others, hollows[0], name)
    repairs = (
        *crumbs_left_out(mesh, main, crumbs),
        *hollows_kept(mesh, hollows),
        *outer_walls_left_out(mesh, main, walls),
    )
    doubts = (*doubt_of_hollows(hollows), *doubt_of_walls(mesh, main, walls))
    if kept.all() and not turned.any():
        return Mended(mesh, repairs, doubts)
    faces = np.where(turned[:, None], mesh.faces[:, ::-1], mesh.faces)[kept]
    return Mended(Mesh(mesh.vertices, faces), repairs, doubts)
