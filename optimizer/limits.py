"""What no stone of the order can pass: the bound in carats, and in words."""

from collections.abc import Sequence

import numpy as np

from optimizer.offer import Offer
from optimizer.placement.bound import widest
from optimizer.placement.cell_demands import CellDemands, OverCells, Together
from optimizer.placement.cell_direction import CellDirection
from optimizer.placement.containers import Planes
from optimizer.placement.demands import whole_side
from optimizer.placement.ground import Ground
from optimizer.placement.place import Want, zone_walls
from optimizer.placement.proof import prove
from optimizer.placement.search import Watch
from optimizer.plan_model import Bound
from optimizer.rough.model import Rough

MOST_PLANES = 1500  # of the hull: a ball so bounded is larger by a thousandth
_BASE = ("the rough's convex hull", "the rough's weight", "the clearance all round")
_ZONE_USED = {
    "keep_clear_mm": "the boundary not crossed",
    "offset": "the boundary's offset",
    "tilt_deg": "the boundary's tilt",
    "azimuth_deg": "the boundary's azimuth",
}


def widest_possible(
    ground: Ground, offer: Offer, *, found: float, cells: int, gap: float, watch: Watch
) -> float:
    """No stone of this offer is wider, in mm; the size window is not looked at.

    ``found``: a width of interest, below which it need not be told how far below; ``cells`` of
    rotations are looked at, until the bound is within ``gap`` (relative) of ``found``.
    """
    want = offer.want
    room = _room(ground, want)
    first = widest(want.body, room)
    if first <= found or found >= want.width_mm[1]:
        return first
    proof = prove(
        want.body.vertices, want.body.rotations, room, found=found, most=first, gap=gap,
        budget=cells, demands=_over_cells(ground, want), stop=watch.stop,
    )  # fmt: skip
    return proof.bound


def _over_cells(ground: Ground, want: Want) -> Together:
    """The demands on the turn, and on where the boundary lies in the stone."""
    parts: list[OverCells] = []
    if want.zone is not None and want.boundary is not None:
        boundary = ground.plane(want.boundary)
        parts.append(CellDemands.of(want.zone, boundary, want.body.least_girdle_mm / 2.0))
    if want.direction is not None:
        parts.append(CellDirection(want.direction.seen_in(ground.ground2scan), want.body))
    return Together(tuple(parts))


def _room(ground: Ground, want: Want) -> Planes:
    """The rough's hull less the skin, on the stone's side of a boundary that is not crossed."""
    hull = _hull(ground, want)
    if want.zone is None or want.boundary is None:
        return hull
    walls = zone_walls(want.zone, ground.plane(want.boundary), 0.0)
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


def limit(rough: Rough, offers: Sequence[Offer], widths: Sequence[float]) -> Bound:
    """The bound over all ``offers``, whose stones are at most ``widths`` mm wide."""
    sg = rough.material.sg
    most = [
        offer.want.body.volume_at(min(width, offer.want.width_mm[1])) * sg / 200.0
        for offer, width in zip(offers, widths, strict=True)
    ]
    covers = {
        "designs": [offer.design.name for offer in offers],
        "parameters": {offer.design.name: dict(offer.parameters) for offer in offers},
    }
    return Bound(min(max(most), rough.carat), covers, _uses(offers), _ignores(offers))


def _uses(offers: Sequence[Offer]) -> tuple[str, ...]:
    want = offers[0].want
    uses = list(_BASE)
    if np.isfinite(want.width_mm[1]):
        uses.append("the greatest size ordered")
    if want.body.least_girdle_mm > 0.0:
        uses.append("the least girdle")
    if want.direction is not None and want.direction.axis is not None:
        uses.append("the table's angle to the axis")
    if want.direction is not None and len(want.direction.cleavage):
        uses.append("facets clear of cleavage, angle by angle")
    asked = {} if want.zone is None else vars(want.zone)
    return (*uses, *(text for key, text in _ZONE_USED.items() if asked.get(key) is not None))


def _ignores(offers: Sequence[Offer]) -> tuple[str, ...]:
    want, ignored = offers[0].want, ["hollows of the rough"]
    if want.flaws:
        ignored.append("flaws")
    zone = want.zone
    if zone is not None and zone.share_percent is not None and whole_side(zone) is None:
        ignored.append("the boundary's share of the volume")
    return tuple(ignored)
