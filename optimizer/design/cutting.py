"""From a design's tiers, in cutting order, to the planes of its facets at width 1.

A facet is fixed by its setting, its angle and one place that it touches, or by its setting and
two places.
"""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from optimizer.design.girdle import cut_girdle
from optimizer.design.model import Design, TierRule
from optimizer.design.places import place_named, table_height
from optimizer.design.stone import CutTier, PartlyCutStone, azimuths
from optimizer.mesh import Floats
from optimizer.wording.plain_number import plain

SAME_ANGLE = 1e-9  # radians: how far the facets of one tier may differ


def cut(design: Design, values: Mapping[str, float]) -> list[CutTier]:
    """Every tier with its angle and distances, in the file's order.

    ``values`` holds every parameter. The girdle is cut first wherever the file puts it, since all
    other tiers are measured from it. Raises InputError, naming the tier, where a sentence can't be
    followed.
    """
    stone = cut_girdle(design, values)
    for rule in design.rules:
        if rule.side != "girdle":
            stone = _with_tier(stone, rule)
    order = [rule.name for rule in design.rules]
    return sorted(stone.tiers, key=lambda tier: order.index(tier.rule.name))


def _with_tier(stone: PartlyCutStone, rule: TierRule) -> PartlyCutStone:
    theta = azimuths(stone.design, rule)
    if rule.touches[0].kind == "table share":
        height = table_height(stone, rule)
        table = CutTier(rule, 0.0, theta, np.array([height]))
        return replace(stone, tiers=(*stone.tiers, table), table=height)
    places = [
        np.array([place_named(stone, rule, touch, setting) for setting in rule.settings])
        for touch in rule.touches
    ]
    angle = _angle(stone, rule) if rule.angle else _angle_through(stone, rule, *places)
    distance = places[0] @ [np.sin(angle), np.cos(angle)]
    if distance.min() <= 0.0:
        raise stone.complaint(rule, '"cut_to": the facets would cut through the axis')
    return replace(stone, tiers=(*stone.tiers, CutTier(rule, angle, theta, distance)))


def _angle(stone: PartlyCutStone, rule: TierRule) -> float:
    assert rule.angle is not None
    degrees = rule.angle.plus + (stone.values[rule.angle.of] if rule.angle.of else 0.0)
    if not 0.0 < degrees < 90.0:
        raise stone.complaint(
            rule, f"the angle comes to {plain(degrees)} degrees; it must lie between 0 and 90"
        )
    return float(np.radians(degrees))


def _angle_through(stone: PartlyCutStone, rule: TierRule, first: Floats, second: Floats) -> float:
    """The one angle at which every facet of the tier passes through its place in ``first`` (n, 2)
    and its place in ``second`` (n, 2)."""
    inward, up = (second - first).T * [[-1.0], [1.0]]
    angles = np.arctan2(np.abs(up), np.abs(inward))
    if (inward * up).min() <= 0.0:
        raise stone.complaint(
            rule, '"cut_to": a facet through both places would slope the wrong way'
        )
    if np.ptp(angles) > SAME_ANGLE:
        fault = '"cut_to": its facets would need unequal angles; state one angle, and one place'
        raise stone.complaint(rule, fault)
    return float(angles[0])
