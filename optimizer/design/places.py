"""The places on the stone that a tier's sentences name, as points that facets touch."""

import numpy as np

from optimizer.design.model import TierRule, TouchRule
from optimizer.design.stone import (
    CutTier,
    PartlyCutStone,
    PlaneRow,
    azimuths,
    corner_towards,
    direction,
    nearest_setting,
    neighbours,
)
from optimizer.mesh import Floats


def place_named(stone: PartlyCutStone, rule: TierRule, touch: TouchRule, setting: int) -> Floats:
    """The point (x, y, h) that the facet at ``setting`` must touch, h over the girdle line.

    h is nan where the level of the table or of the centre point isn't known yet, or is to be fixed
    anew. Raises InputError where there is no such place.
    """
    theta = 2.0 * np.pi * setting / stone.design.gear
    match touch.kind:
        case "girdle line":
            return _level(_girdle_side(stone, rule, theta, setting), 0.0)
        case "girdle corner":
            return _level(stone.rim(theta), 0.0)
        case "centre point":
            level = np.nan if rule.fixes_level else stone.centres.get(rule.side, np.nan)
            return _level(np.zeros(2), level)
        case "table corner" | "table edge":
            level = np.nan if rule.fixes_level else stone.table
            return _level(_on_table(stone, rule, touch, theta, setting), level)
        case "slope":
            return _on_slope(stone, rule, touch, setting)
        case "ridge":
            return _on_ridge(stone, rule, touch, setting)
    return _meet(stone, rule, touch, setting)


def _level(point: Floats, height: float) -> Floats:
    return np.array([point[0], point[1], height])


def _girdle_side(stone: PartlyCutStone, rule: TierRule, theta: float, setting: int) -> Floats:
    middle = stone.rim_side(theta)
    if middle is None:
        fault = f'no girdle facet lies at setting {setting}: cut it to "the girdle corner"'
        raise stone.complaint(rule, fault)
    return middle


def _on_table(
    stone: PartlyCutStone, rule: TierRule, touch: TouchRule, theta: float, setting: int
) -> Floats:
    """The table's corner farthest out towards a setting, or the middle of its edge there."""
    plan, points = stone.design.table, stone.table_corners
    if plan is None or points is None:
        fault = f'"cut_to": the {touch.kind} must be planned; give the file a [table] with edges'
        raise stone.complaint(rule, fault)
    if touch.kind == "table corner":
        edges = azimuths(stone.design, plan.edges)
        return np.asarray(points[corner_towards(edges, theta)], np.float64)
    if setting not in plan.edges:
        raise stone.complaint(rule, f'"cut_to": [table] has no edge at setting {setting}')
    edge = plan.edges.index(setting)
    return np.asarray((points[edge - 1] + points[edge]) / 2.0, np.float64)


def _on_slope(stone: PartlyCutStone, rule: TierRule, touch: TouchRule, setting: int) -> Floats:
    """The place on a tier's facet at this setting, a share of the way to its second place, or to
    the table or axis where it has one place only."""
    other = stone.tier(touch.tier)
    if setting not in other.rule.settings:
        fault = f'"cut_to": {other.rule.name} has no facet at setting {setting}'
        raise stone.complaint(rule, fault)
    place, share = other.rule.settings.index(setting), touch.percent / 100.0
    if len(other.spots) == 2:
        start, end = (spots[place] for spots in other.spots)
        return np.asarray(start + share * (end - start), np.float64)
    outward = direction(other.theta[place])
    middle = stone.rim_side(other.theta[place])
    start = (stone.rim(other.theta[place]) @ outward) * outward if middle is None else middle
    whole = (1.0 - stone.values.get("table", 0.0)) / 2.0 if rule.side == "crown" else 0.5
    point = start - share * whole * outward
    return _level(point, other.height(place, point))


def _on_ridge(stone: PartlyCutStone, rule: TierRule, touch: TouchRule, setting: int) -> Floats:
    """The place on the ridge between two neighbours in a tier, a share of the way in.

    The way runs level, in the direction half-way between the two, from the girdle's corner to the
    axis or to the middle between the two neighbours' corners of the table.
    """
    other = stone.both(touch.tier, touch.other)
    behind, ahead = _neighbours(stone, rule, other, setting)
    turn = (other.theta[ahead] - other.theta[behind]) % (2.0 * np.pi)
    way = other.theta[behind] + turn / 2.0
    inward, start, end = direction(way), stone.rim(way), np.zeros(2)
    if rule.side == "crown" and stone.table_corners is not None and stone.design.table is not None:
        edges = azimuths(stone.design, stone.design.table.edges)
        near = [corner_towards(edges, other.theta[k]) for k in (behind, ahead)]
        end = stone.table_corners[near].mean(axis=0)
    level = float((start + touch.percent / 100.0 * (end - start)) @ inward)
    planes = [other.plane(behind), other.plane(ahead), (*inward.tolist(), 0.0, level)]
    return _crossing(stone, rule, planes)


def _neighbours(
    stone: PartlyCutStone, rule: TierRule, other: CutTier, setting: int
) -> tuple[int, int]:
    near = neighbours(other.rule.settings, setting, stone.design.gear)
    if near is None:
        fault = f'"cut_to": setting {setting} must lie between two facets of {other.rule.name}'
        raise stone.complaint(rule, fault)
    return near


def _meet(stone: PartlyCutStone, rule: TierRule, touch: TouchRule, setting: int) -> Floats:
    """Where the two neighbours of a setting in one tier meet the nearest facet of another tier."""
    pair, single = stone.tier(touch.tier), stone.tier(touch.other)
    if setting in pair.rule.settings:
        pair, single = single, pair
    near = _neighbours(stone, rule, pair, setting)
    third = nearest_setting(single.rule.settings, setting, stone.design.gear)
    planes = [pair.plane(near[0]), pair.plane(near[1]), single.plane(third)]
    return _crossing(stone, rule, planes)


def _crossing(stone: PartlyCutStone, rule: TierRule, planes: list[PlaneRow]) -> Floats:
    """The one point (3,) on three planes, by Cramer's rule: written out, it is several times as
    fast as a library's solver, and a body needs some forty of them."""
    (a, b, c, p), (d, e, f, q), (g, h, i, r) = planes
    one, two, three = e * i - f * h, f * g - d * i, d * h - e * g
    whole = a * one + b * two + c * three
    if abs(whole) < 1e-9:
        raise stone.complaint(rule, '"cut_to": the facets that are named meet in no single point')
    x = p * one + q * (c * h - b * i) + r * (b * f - c * e)
    y = p * two + q * (a * i - c * g) + r * (c * d - a * f)
    z = p * three + q * (b * g - a * h) + r * (a * e - b * d)
    return np.array([x / whole, y / whole, z / whole])
