"""Upper bounds on a stone: on its volume for one offer, and on its weight over all offers, with
what that bound covers in words."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.offers.offer import Offer
from optimizer.order import Range
from optimizer.order.demands import ZONE_WORDS
from optimizer.placement.cell_demands import BOUNDED
from optimizer.placement.demands import whole_side
from optimizer.placement.place import Want
from optimizer.rough.model import Rough

HOLLOWS = "hollows of the rough"
_BASE = ("the rough's convex hull", "the rough's weight", "the clearance all round")


@dataclass(frozen=True)
class VolumeBound:
    """No stone of an offer has a greater volume."""

    volume_mm3: float
    proved_too_small: bool  # it is proved that no stone has the least size ordered


@dataclass(frozen=True)
class Bound:
    """No stone of the covered designs that meets the demands in ``uses`` weighs more. Demands in
    ``ignores`` could only lower the bound."""

    carat: float
    covers: Mapping[str, object]  # {"designs": [...], "parameters": {...}}
    uses: tuple[str, ...]
    ignores: tuple[str, ...]


def weight_bound(
    rough: Rough,
    offers: Sequence[Offer],
    bounds: Sequence[VolumeBound],
    *,
    hollows: bool,
    convex: bool,
) -> Bound:
    """The bound in carats over all ``offers``, from the volume bound of each. ``hollows``: whether
    hollows and flaws were taken into account; ``convex``: whether the rough has no hollows."""
    carat = max(one.volume_mm3 for one in bounds) * rough.material.sg / 200.0
    covers = {
        "designs": [offer.design.name for offer in offers],
        "parameters": {offer.design.name: _covered(offer) for offer in offers},
    }
    uses, ignores = _uses(offers, hollows, convex), _ignores(offers, hollows, convex)
    return Bound(min(carat, rough.carat), covers, uses, ignores)


def _covered(offer: Offer) -> dict[str, float | Range]:
    """The value of each parameter, or its range where it is free."""
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
    return (*uses, *(ZONE_WORDS[key] for key in BOUNDED if key in _zone_keys(want)))


def _zone_keys(want: Want) -> set[str]:
    """The keys of the order's demands on a boundary."""
    return {key for key in ZONE_WORDS if getattr(want.zone, key, None) is not None}


def _ignores(offers: Sequence[Offer], hollows: bool, convex: bool) -> tuple[str, ...]:
    want = offers[0].want
    ignored = [] if hollows or convex else [HOLLOWS]
    off_table = [flaw for flaw in want.flaws if flaw.off_table]
    if want.flaws and not hollows:
        ignored.append("flaws")
    elif off_table:
        ignored.append("flaws allowed off the table")
    ignored_keys = _zone_keys(want) - set(BOUNDED)
    if want.zone is not None and whole_side(want.zone) is not None:
        ignored_keys.discard("share_percent")  # a stone all of one colour is bounded by a wall
    ignored += [text for key, text in ZONE_WORDS.items() if key in ignored_keys]
    if want.room is not None and want.room.band is not None:
        ignored.append(ZONE_WORDS["share_percent"])
    if want.room is not None and want.room.solid is not None and not want.room.round_about:
        ignored.append(ZONE_WORDS["keep_clear_mm"])
    return tuple(ignored)
