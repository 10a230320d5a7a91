"""An upper bound on the width of an offer's stone, and the constraints that it uses."""

from collections.abc import Sequence

import numpy as np

from optimizer.offers.offer import Offer
from optimizer.placement.bound import widest
from optimizer.placement.bounding import bound_size
from optimizer.placement.cell_demands import CellDemands, OverCells, Together
from optimizer.placement.cell_direction import CellDirection
from optimizer.placement.containers import Planes
from optimizer.placement.ground import Ground
from optimizer.placement.hollows import Hollows
from optimizer.placement.place import Want, zone_walls
from optimizer.placement.proof import ProofTask
from optimizer.placement.search import Watch

MOST_PLANES = 1500  # of the hull: between so many, a ball is larger by a thousandth


def width_bound(
    ground: Ground,
    offer: Offer,
    *,
    found: float,
    cells: int,
    gap: float,
    hollows: bool,
    watch: Watch,
) -> float:
    """No stone of this offer is wider, in mm. The sizes ordered are ignored.

    The proof goes through ``cells`` of rotations, until the bound is within ``gap`` (relative) of
    ``found``; a bound below ``found`` need not be tight. ``hollows``: whether hollows of the rough
    and flaws are taken into account.
    """
    want = offer.want
    room = room_of(ground, want)
    first = widest(want.body, room)
    if first <= found or found >= want.width_mm[1]:
        return first
    clear_of = hollows_of(ground, want, room) if hollows else None
    task = ProofTask(found, first, gap, cells)
    demands = over_cells(ground, want)
    return bound_size(want.body, want.body.rotations, room, clear_of, task, demands, watch).bound


def hollows_of(ground: Ground, want: Want, room: Planes) -> Hollows | None:
    """The hollows and flaws that no stone may enter; None where the room already excludes them."""
    if ground.convex and all(flaw.off_table for flaw in want.flaws):
        return None
    return Hollows.of(ground, room, want.skin_mm, want.flaws)


def over_cells(ground: Ground, want: Want, slack_mm: float = 0.0, turn: float = 0.0) -> Together:
    """The demands on the stone's rotation and on where the boundary lies in it, for every body
    whose corners lie within ``slack_mm`` and its facets within ``turn`` radians of the wanted
    body's."""
    parts: list[OverCells] = []
    if want.zone is not None and want.boundary is not None:
        boundary = ground.plane(want.boundary)
        parts.append(
            CellDemands.of(want.zone, boundary, want.body.least_girdle_mm / 2.0 + slack_mm)
        )
    if want.direction is not None:
        seen = want.direction.in_frame(ground.ground2scan)
        parts.append(CellDirection(seen, want.body, turn))
    return Together(tuple(parts))


def room_of(ground: Ground, want: Want) -> Planes:
    """The rough's hull less the skin, cut off at a boundary that the stone may not cross."""
    hull = _hull(ground, want)
    if want.room is not None:
        return _with_walls(hull, want.room.bounds(ground))
    if want.zone is None or want.boundary is None:
        return hull
    return _with_walls(hull, zone_walls(want.zone, ground.plane(want.boundary), 0.0))


def _with_walls(hull: Planes, walls: Sequence[Planes]) -> Planes:
    return Planes(
        np.vstack([hull.normals, *(w.normals for w in walls)]),
        np.concatenate([hull.offsets, *(w.offsets for w in walls)]),
    )


def _hull(ground: Ground, want: Want) -> Planes:
    """The planes of the rough's hull less the skin. Of very many planes, those that differ most in
    direction are kept."""
    which = ground.hull.far_apart(MOST_PLANES)
    return Planes(ground.hull.normals[which], ground.hull.offsets[which] - want.skin_mm)


def room_left(ground: Ground, offer: Offer) -> bool:
    """Whether the clearance all round leaves any room in the rough's convex hull."""
    return widest(offer.want.body, _hull(ground, offer.want)) > 0.0
