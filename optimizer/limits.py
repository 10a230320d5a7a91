"""What no stone of the order can pass: the bound in carats, and in words."""

from collections.abc import Sequence

import numpy as np

from optimizer.offer import Offer
from optimizer.placement.bound import widest
from optimizer.placement.containers import Planes
from optimizer.placement.ground import Ground
from optimizer.placement.place import zone_walls
from optimizer.plan_model import Bound
from optimizer.rough.model import Rough

_BASE = ("the rough's convex hull", "the rough's weight", "the clearance all round")


def widest_possible(ground: Ground, offer: Offer) -> float:
    """No stone of this offer is wider, in mm; the size window is not looked at."""
    want = offer.want
    walls: tuple[Planes, ...] = ()
    if want.zone is not None and want.boundary is not None:
        walls = zone_walls(want.zone, ground.plane(want.boundary), want.skin_mm)
    return widest(want.body, ground.hull, walls, want.skin_mm)


def room_left(ground: Ground, offer: Offer) -> bool:
    """Whether the clearance all round leaves anything of the rough's convex hull."""
    return widest(offer.want.body, ground.hull, (), offer.want.skin_mm) > 0.0


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
    if want.zone is not None and want.zone.keep_clear_mm is not None:
        uses.append("the boundary not crossed")
    return tuple(uses)


def _ignores(offers: Sequence[Offer]) -> tuple[str, ...]:
    zone = offers[0].want.zone
    asked = {} if zone is None else vars(zone)
    words = {
        "share_percent": "the boundary's share of the volume",
        "offset": "the boundary's offset",
        "tilt_deg": "the boundary's tilt",
        "azimuth_deg": "the boundary's azimuth",
    }
    ignored = [text for key, text in words.items() if asked.get(key) is not None]
    return ("hollows of the rough", "how the stone must be turned to fit", *ignored)
