"""Models of every facet's plane: the stone is cut as in ``cutting``, ``places`` and ``table``, on
models.

A choice by size (``Taylor.least``) is made in the middle of the box; where another may be right
elsewhere in the box, both are enclosed. Values at which a tier can't be cut have no stone, and so
whatever is said of them holds.
"""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from optimizer.design.enclosures.outline import corners_of, girdle_distances
from optimizer.design.enclosures.places import place_models
from optimizer.design.enclosures.stone import (
    PartModel,
    TierModel,
    directions,
    with_planned_table,
)
from optimizer.design.enclosures.table import table_height
from optimizer.design.enclosures.taylor import NoEnclosure, Taylor, joined
from optimizer.design.model import Design, TierRule
from optimizer.design.stone import azimuths


def facet_models(
    design: Design, values: Mapping[str, Taylor], share: Taylor
) -> tuple[Taylor, Taylor, Taylor]:
    """Normals (m, 3) and offsets (m,) of all facets at width 1, as ``body.planes`` orders them, and
    the corners (n, 2) of the girdle's outline.

    ``values`` holds every parameter, angles in degrees; ``share`` is the girdle band's share of
    the width. Raises NoEnclosure where the box is too large.
    """
    stone = with_planned_table(_with_girdle(design, values))
    for rule in design.rules:
        if rule.side != "girdle":
            stone = _with_tier(stone, rule)
    order = [rule.name for rule in design.rules]
    normals, offsets = [], []
    for tier in sorted(stone.tiers, key=lambda tier: order.index(tier.rule.name)):
        facing = np.array([1.0, 1.0, -1.0 if tier.rule.side == "pavilion" else 1.0])
        normals.append(tier.normals * facing)
        offsets.append(tier.distance + share * tier.cosine * 0.5)
    return joined(normals), joined(offsets), stone.outline


def _with_girdle(design: Design, values: Mapping[str, Taylor]) -> PartModel:
    rules = [rule for rule in design.rules if rule.side == "girdle"]
    distances = girdle_distances(design, values)
    tiers = tuple(
        TierModel(
            rule,
            Taylor.constant(np.ones(distance.shape), distance.variables),
            Taylor.constant(np.zeros(distance.shape), distance.variables),
            azimuths(design, rule.settings),
            distance,
        )
        for rule, distance in zip(rules, distances, strict=True)
    )
    theta, distance = np.concatenate([t.theta for t in tiers]), joined(distances)
    order = np.argsort(theta)
    outline = corners_of(theta[order], distance[order])
    return PartModel(design, values, theta[order], outline, tiers)


def _with_tier(stone: PartModel, rule: TierRule) -> PartModel:
    if rule.touches[0].kind == "table share":
        return _with_table(stone, rule)
    places = [place_models(stone, rule, touch) for touch in rule.touches]
    unknown = [k for k, (_, height) in enumerate(places) if height is None]
    if unknown:
        stone, places = _with_level(stone, rule, places, unknown[0])
    theta = azimuths(stone.design, rule.settings)
    far = [(points * directions(theta)).sum() for points, _ in places]
    whole = tuple((points, height) for points, height in places if height is not None)
    heights = [height for _, height in whole]
    if len(heights) != len(places):
        raise NoEnclosure
    if len(places) == 2:
        sine, cosine = _angles_through(far, heights)
    else:
        one = np.ones(len(theta))
        sine, cosine = (part * one for part in _angle(stone, rule))
    distance = far[0] * sine + heights[0] * cosine
    tier = TierModel(rule, sine, cosine, theta, distance, whole)
    return replace(stone, tiers=(*stone.tiers, tier))


def _with_table(stone: PartModel, rule: TierRule) -> PartModel:
    height = table_height(stone) if stone.table_corners is None else stone.table
    if height is None:
        raise NoEnclosure
    zero = Taylor.constant(np.zeros(1), height.variables)
    table = TierModel(rule, zero, zero + 1.0, np.zeros(1), height[None])
    return replace(stone, tiers=(*stone.tiers, table), table=height)


def _with_level(
    stone: PartModel, rule: TierRule, places: list[tuple[Taylor, Taylor | None]], upper: int
) -> tuple[PartModel, list[tuple[Taylor, Taylor | None]]]:
    """The level of one place fixed by the angle at one setting; see ``cutting._with_level``."""
    if rule.angle is None or rule.angle.at is None or len(places) == 1:
        raise NoEnclosure
    facet, kind = rule.settings.index(rule.angle.at), rule.touches[upper].kind
    outward = directions(azimuths(stone.design, rule.settings))[facet]
    (lower, low), (point, _) = places[1 - upper], places[upper]
    if low is None:
        raise NoEnclosure
    sine, cosine = _angle(stone, rule)
    run = ((lower[facet] - point[facet]) * outward).sum()
    level = low[facet] + sine / cosine * run
    places = list(places)
    places[upper] = point, level * np.ones(len(rule.settings))
    if kind == "centre point":
        return replace(stone, centres={**stone.centres, rule.side: level}), places
    return replace(stone, table=level), places


def _angle(stone: PartModel, rule: TierRule) -> tuple[Taylor, Taylor]:
    """Sine and cosine of a stated angle."""
    if rule.angle is None:
        raise NoEnclosure
    degrees = stone.values[rule.angle.of] if rule.angle.of else stone.values["girdle"] * 0.0
    radians = (degrees + rule.angle.plus) * (np.pi / 180.0)
    return radians.sin(), radians.cos()


def _angles_through(far: list[Taylor], heights: list[Taylor]) -> tuple[Taylor, Taylor]:
    """Sine and cosine (n,) of the angles at which the facets pass through both places."""
    inward, up = far[0] - far[1], heights[1] - heights[0]
    sign = np.sign(inward.terms[0])
    inward, up = inward * sign, up * sign
    length = (inward * inward + up * up).power(0.5)
    return up / length, inward / length
