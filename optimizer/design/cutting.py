"""From a design's tiers, in cutting order, to the planes of its facets at width 1.

A facet is fixed by its setting, its angle and one place that it touches, or by its setting and
two places. Where the second place's level is open (the table's, or the centre point's), the angle
at one setting decides the level.
"""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from optimizer.design.girdle import cut_girdle
from optimizer.design.model import Design, TierRule
from optimizer.design.places import place_named
from optimizer.design.stone import CutTier, PartlyCutStone, azimuths
from optimizer.design.table import table_height, with_planned_table
from optimizer.mesh import Floats
from optimizer.wording.plain_number import plain


def cut(
    design: Design, values: Mapping[str, float], angle_step_deg: float | None = None
) -> list[CutTier]:
    """Every tier with its angles and distances, in the file's order.

    ``values`` holds every parameter. With ``angle_step_deg`` angles are set to whole steps and
    facets are cut to their first place, so that the second may be missed. The girdle is cut first
    wherever the file puts it, since all other tiers are measured from it. Raises InputError, naming
    the tier, where a sentence can't be followed.
    """
    stone = with_planned_table(cut_girdle(design, values))
    for rule in design.rules:
        if rule.side != "girdle":
            stone = _with_tier(stone, rule, angle_step_deg)
    order = [rule.name for rule in design.rules]
    return sorted(stone.tiers, key=lambda tier: order.index(tier.rule.name))


def _with_tier(
    stone: PartlyCutStone, rule: TierRule, angle_step_deg: float | None
) -> PartlyCutStone:
    if rule.touches[0].kind == "table share":
        return _with_table(stone, rule)
    spots = [
        np.array([place_named(stone, rule, touch, setting) for setting in rule.settings])
        for touch in rule.touches
    ]
    open_level = np.array([np.isnan(spot).any() for spot in spots])
    if open_level.any():
        stone, spots = _with_level(stone, rule, spots, open_level)
    theta = azimuths(stone.design, rule.settings)
    profiles = [_profile(spot, theta) for spot in spots]
    if len(profiles) == 2:
        angles = _angles_through(stone, rule, *profiles)
    else:
        angles = np.full(len(theta), _angle(stone, rule))
    if angle_step_deg is not None:
        step = np.radians(angle_step_deg)
        angles = np.round(angles / step) * step
    distance = profiles[0][:, 0] * np.sin(angles) + profiles[0][:, 1] * np.cos(angles)
    if distance.min() <= 0.0:
        raise stone.complaint(rule, '"cut_to": the facets would cut through the axis')
    tier = CutTier(rule, angles, theta, distance, tuple(spots))
    return replace(stone, tiers=(*stone.tiers, tier))


def _with_table(stone: PartlyCutStone, rule: TierRule) -> PartlyCutStone:
    height = table_height(stone, rule) if stone.table_corners is None else stone.table
    if np.isnan(height):
        raise stone.complaint(rule, '"cut_to": first cut a tier to "the table corner"')
    table = CutTier(rule, np.zeros(1), np.zeros(1), np.array([height]))
    return replace(stone, tiers=(*stone.tiers, table), table=height)


def _with_level(
    stone: PartlyCutStone, rule: TierRule, spots: list[Floats], open_level: Floats
) -> tuple[PartlyCutStone, list[Floats]]:
    """The stone and the places with the open level of one place fixed by the rule's angle."""
    upper = int(np.argmax(open_level))
    kind = rule.touches[upper].kind
    at = rule.angle.at if rule.angle else None
    if len(spots) == 1 or at is None or open_level.all():
        fault = f'"cut_to": nothing says yet how high the {kind} lies: name a second place, and '
        raise stone.complaint(rule, fault + 'the angle "at" one setting')
    facet = rule.settings.index(at)
    theta = azimuths(stone.design, rule.settings)[facet : facet + 1]
    (far, low), (near, _) = (
        _profile(spots[k][facet : facet + 1], theta)[0] for k in (1 - upper, upper)
    )
    level = float(low + np.tan(_angle(stone, rule)) * (far - near))
    spots[upper] = np.column_stack([spots[upper][:, :2], np.full(len(rule.settings), level)])
    if kind == "centre point":
        return replace(stone, centres={**stone.centres, rule.side: level}), spots
    return replace(stone, table=level), spots


def _profile(spots: Floats, theta: Floats) -> Floats:
    """Places (n, 3) as (u, h) in the upright planes at azimuths ``theta``, (n, 2)."""
    outward = np.column_stack([np.cos(theta), np.sin(theta)])
    return np.column_stack([np.einsum("ij,ij->i", spots[:, :2], outward), spots[:, 2]])


def _angle(stone: PartlyCutStone, rule: TierRule) -> float:
    assert rule.angle is not None
    degrees = rule.angle.plus + (stone.values[rule.angle.of] if rule.angle.of else 0.0)
    flat = degrees == 0.0 and len(rule.settings) == 1
    if not (0.0 < degrees < 90.0 or flat):
        raise stone.complaint(
            rule, f"the angle comes to {plain(degrees)} degrees; it must lie between 0 and 90"
        )
    return float(np.radians(degrees))


def _angles_through(stone: PartlyCutStone, rule: TierRule, first: Floats, second: Floats) -> Floats:
    """The angle (n,) at which each facet passes through its place in ``first`` (n, 2) and its
    place in ``second`` (n, 2)."""
    inward, up = (second - first).T * [[-1.0], [1.0]]
    if (inward * up).min() <= 0.0:
        raise stone.complaint(
            rule, '"cut_to": a facet through both places would slope the wrong way'
        )
    return np.asarray(np.arctan2(np.abs(up), np.abs(inward)), np.float64)
