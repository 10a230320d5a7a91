"""Models of the places that a tier's facets touch; see ``optimizer.design.places``."""

import numpy as np

from optimizer.design.enclosures.stone import PartModel, corners_towards, directions
from optimizer.design.enclosures.taylor import NoEnclosure, Taylor, meeting, stacked
from optimizer.design.model import TierRule, TouchRule
from optimizer.design.stone import azimuths, nearest_setting, neighbours
from optimizer.mesh import Floats, Ints


def place_models(
    stone: PartModel, rule: TierRule, touch: TouchRule
) -> tuple[Taylor, Taylor | None]:
    """The places of all facets of a tier: points (n, 2) seen from above, and heights (n,) over the
    girdle line, None where their level isn't known yet. Raises NoEnclosure."""
    theta = azimuths(stone.design, rule.settings)
    count, variables = len(theta), stone.outline.variables
    zero = Taylor.constant(np.zeros(count), variables)
    match touch.kind:
        case "girdle line":
            return stone.rim_sides(theta), zero
        case "girdle corner":
            return stone.rims(theta), zero
        case "centre point":
            level = None if rule.fixes_level else stone.centres.get(rule.side)
            return stacked([zero, zero]), None if level is None else zero + level
        case "table corner" | "table edge":
            known = None if rule.fixes_level else stone.table
            height = None if known is None else zero + known
            return _on_table(stone, touch, rule), height
        case "slope":
            return _on_slopes(stone, rule, touch)
        case "ridge":
            return _on_ridges(stone, rule, touch)
        case "meet":
            return _meets(stone, rule, touch)
    raise NoEnclosure


def _on_table(stone: PartModel, touch: TouchRule, rule: TierRule) -> Taylor:
    plan, points = stone.design.table, stone.table_corners
    if plan is None or points is None:
        raise NoEnclosure
    if touch.kind == "table corner":
        return points[_table_corners(stone, azimuths(stone.design, rule.settings))]
    edge = np.array([plan.edges.index(setting) for setting in rule.settings])
    return (points[edge - 1] + points[edge]) * 0.5


def _on_slopes(stone: PartModel, rule: TierRule, touch: TouchRule) -> tuple[Taylor, Taylor]:
    other = stone.tier(touch.tier)
    which = np.array([other.rule.settings.index(setting) for setting in rule.settings])
    if len(other.places) == 2:
        (start, low), (end, high) = ((p[which], h[which]) for p, h in other.places)
        share = touch.percent / 100.0
        return start + (end - start) * share, low + (high - low) * share
    theta = other.theta[which]
    outward = directions(theta)
    start = stone.rim_sides(theta)
    if not stone.there(theta).all():
        along = (start * outward).sum()[:, None] * outward
        there = stone.there(theta)[:, None].astype(float)
        start = start * there + along * (1.0 - there)
    whole = Taylor.constant(0.5, stone.outline.variables)
    if rule.side == "crown":
        whole = (1.0 - stone.values["table"]) * 0.5 if "table" in stone.values else whole
    points = start - whole * (touch.percent / 100.0 * outward)
    return points, other.heights(which, points)


def _on_ridges(stone: PartModel, rule: TierRule, touch: TouchRule) -> tuple[Taylor, Taylor]:
    other = stone.tier(touch.tier, touch.other)
    behind, ahead = _neighbours(stone, rule.settings, other.rule.settings)
    turn = (other.theta[ahead] - other.theta[behind]) % (2.0 * np.pi)
    middle = other.theta[behind] + turn / 2.0
    inward = directions(middle)
    way = stone.rims(middle) * (1.0 - touch.percent / 100.0)
    if rule.side == "crown" and stone.table_corners is not None:
        near = (_table_corners(stone, other.theta[k]) for k in (behind, ahead))
        ends = [stone.table_corners[corner] for corner in near]
        way = way + (ends[0] + ends[1]) * (0.5 * touch.percent / 100.0)
    upright = Taylor.constant(np.column_stack([inward, np.zeros(len(middle))]), way.variables)
    planes = [(other.normals[k], other.distance[k]) for k in (behind, ahead)]
    return _crossings([*planes, (upright, (way * inward).sum())])


def _meets(stone: PartModel, rule: TierRule, touch: TouchRule) -> tuple[Taylor, Taylor]:
    points, heights = [], []
    for setting in rule.settings:
        pair, single = stone.tier(touch.tier), stone.tier(touch.other)
        if setting in pair.rule.settings:
            pair, single = single, pair
        gear = stone.design.gear
        near = _neighbours(stone, (setting,), pair.rule.settings)
        third = np.array([nearest_setting(single.rule.settings, setting, gear)])
        planes = [(pair.normals[k], pair.distance[k]) for k in near]
        point, height = _crossings([*planes, (single.normals[third], single.distance[third])])
        points.append(point[0])
        heights.append(height[0])
    return stacked(points, axis=-2), stacked(heights)


def _table_corners(stone: PartModel, theta: Floats) -> Ints:
    """The numbers of the planned table's corners farthest out towards azimuths."""
    if stone.design.table is None:
        raise NoEnclosure
    return corners_towards(azimuths(stone.design, stone.design.table.edges), theta)


def _neighbours(stone: PartModel, at: tuple[int, ...], settings: tuple[int, ...]) -> list[Ints]:
    """The numbers of the facets behind and ahead of settings ``at``; see ``stone.neighbours``."""
    near = [neighbours(settings, setting, stone.design.gear) for setting in at]
    if None in near:
        raise NoEnclosure
    return list(np.array(near, np.int64).T)


def _crossings(planes: list[tuple[Taylor, Taylor]]) -> tuple[Taylor, Taylor]:
    points = meeting([normals for normals, _ in planes], [distance for _, distance in planes])
    return points[:, :2], points[:, 2]
