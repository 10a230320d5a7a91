"""What no stone of the order can pass: the bound in carats, and in words."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.offers.bound import Bound
from optimizer.offers.offer import Offer
from optimizer.order import Range
from optimizer.order.demands import ZONE_WORDS
from optimizer.placement.bound import widest
from optimizer.placement.bounding import bound_size
from optimizer.placement.cell_demands import BOUNDED, CellDemands, OverCells, Together
from optimizer.placement.cell_direction import CellDirection
from optimizer.placement.containers import Planes
from optimizer.placement.demands import whole_side
from optimizer.placement.ground import Ground
from optimizer.placement.hollows import Hollows
from optimizer.placement.place import Want, zone_walls
from optimizer.placement.search import Watch
from optimizer.rough.model import Rough

MOST_PLANES = 1500  # of the hull: a ball so bounded is larger by a thousandth
HOLLOWS = "hollows of the rough"
_BASE = ("the rough's convex hull", "the rough's weight", "the clearance all round")


@dataclass(frozen=True)
class Most:
    """What no stone of an offer passes."""

    volume_mm3: float
    too_small: bool  # it is proved that the least size ordered is out of reach


def widest_possible(
    ground: Ground,
    offer: Offer,
    *,
    found: float,
    cells: int,
    gap: float,
    hollows: bool,
    watch: Watch,
) -> float:
    """No stone of this offer is wider, in mm; the size window is not looked at.

    ``found``: a width of interest, below which it need not be told how far below; ``cells`` of
    rotations are looked at, until the bound is within ``gap`` (relative) of ``found``;
    ``hollows``: whether those of the rough, and flaws, are looked at as well.
    """
    want = offer.want
    room = room_of(ground, want)
    first = widest(want.body, room)
    if first <= found or found >= want.width_mm[1]:
        return first
    proof = bound_size(
        want.body, want.body.rotations, room, hollows_of(ground, want, room) if hollows else None,
        found=found, most=first, gap=gap, budget=cells, demands=over_cells(ground, want),
        watch=watch,
    )  # fmt: skip
    return proof.bound


def hollows_of(ground: Ground, want: Want, room: Planes) -> Hollows | None:
    """What no stone may enter; None where the room itself says it all."""
    if ground.convex and all(flaw.off_table for flaw in want.flaws):
        return None
    return Hollows.of(ground, room, want.skin_mm, want.flaws)


def over_cells(ground: Ground, want: Want, slack_mm: float = 0.0, turn: float = 0.0) -> Together:
    """The demands on the turn, and on where the boundary lies in the stone, whose corners may lie
    ``slack_mm`` off those of the wanted body and its facets be turned by ``turn`` radians."""
    parts: list[OverCells] = []
    if want.zone is not None and want.boundary is not None:
        boundary = ground.plane(want.boundary)
        parts.append(
            CellDemands.of(want.zone, boundary, want.body.least_girdle_mm / 2.0 + slack_mm)
        )
    if want.direction is not None:
        seen = want.direction.seen_in(ground.ground2scan)
        parts.append(CellDirection(seen, want.body, turn))
    return Together(tuple(parts))


def room_of(ground: Ground, want: Want) -> Planes:
    """The rough's hull less the skin, on the stone's side of a boundary that is not crossed."""
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
    """The planes of the rough's hull less the skin; of very many, those far apart."""
    which = ground.hull.far_apart(MOST_PLANES)
    return Planes(ground.hull.normals[which], ground.hull.offsets[which] - want.skin_mm)


def room_left(ground: Ground, offer: Offer) -> bool:
    """Whether the clearance all round leaves anything of the rough's convex hull."""
    return widest(offer.want.body, _hull(ground, offer.want)) > 0.0


def limit(
    rough: Rough, offers: Sequence[Offer], most: Sequence[Most], *, hollows: bool, convex: bool
) -> Bound:
    """The bound over all ``offers``, none of whose stones passes its ``most``; ``hollows``: whether
    those and flaws were looked at; ``convex``: the rough has none."""
    carat = max(one.volume_mm3 for one in most) * rough.material.sg / 200.0
    covers = {
        "designs": [offer.design.name for offer in offers],
        "parameters": {offer.design.name: _covered(offer) for offer in offers},
    }
    uses, ignores = _uses(offers, hollows, convex), _ignores(offers, hollows, convex)
    return Bound(min(carat, rough.carat), covers, uses, ignores)


def _covered(offer: Offer) -> dict[str, float | Range]:
    """Each parameter's value, or the range that is covered."""
    free = () if offer.freedom is None else offer.freedom.family.free
    return {**offer.parameters, **{f.name: (f.low, f.high) for f in free}}


def _uses(offers: Sequence[Offer], hollows: bool, convex: bool) -> tuple[str, ...]:
    want = offers[0].want
    uses = list(_BASE)
    if hollows and not convex:
        uses.append(HOLLOWS)
    if hollows and not all(flaw.off_table for flaw in want.flaws):
        uses.append("flaws")
    if np.isfinite(want.width_mm[1]):
        uses.append("the greatest size ordered")
    if want.body.least_girdle_mm > 0.0:
        uses.append("the least girdle")
    if want.direction is not None and want.direction.axis is not None:
        uses.append("the table's angle to the axis")
    if want.direction is not None and len(want.direction.cleavage):
        uses.append("facets clear of cleavage, angle by angle")
    if want.room is not None and want.room.planes:
        uses.append(ZONE_WORDS["keep_clear_mm"])
    if want.room is not None and want.room.round_about:
        uses.append("planes round the ball of colour")
    return (*uses, *(ZONE_WORDS[key] for key in BOUNDED if key in _asked_of_zone(want)))


def _asked_of_zone(want: Want) -> set[str]:
    """The keys of what is asked of the boundary."""
    return {key for key in ZONE_WORDS if getattr(want.zone, key, None) is not None}


def _ignores(offers: Sequence[Offer], hollows: bool, convex: bool) -> tuple[str, ...]:
    want = offers[0].want
    ignored = [] if hollows or convex else [HOLLOWS]
    loose = [flaw for flaw in want.flaws if flaw.off_table]
    if want.flaws and not hollows:
        ignored.append("flaws")
    elif loose:
        ignored.append("flaws allowed off the table")
    loose_keys = _asked_of_zone(want) - set(BOUNDED)
    if want.zone is not None and whole_side(want.zone) is not None:
        loose_keys.discard("share_percent")  # all or nothing of the stone is a wall
    ignored += [text for key, text in ZONE_WORDS.items() if key in loose_keys]
    if want.room is not None and want.room.band is not None:
        ignored.append(ZONE_WORDS["share_percent"])
    if want.room is not None and want.room.solid is not None and not want.room.round_about:
        ignored.append(ZONE_WORDS["keep_clear_mm"])
    return tuple(ignored)
