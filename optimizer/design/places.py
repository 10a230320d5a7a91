"""The places on the stone that a tier's sentences name, as points (u, h) that facets touch."""

import numpy as np

from optimizer.design.intersect import raw_corners
from optimizer.design.model import TierRule, TouchRule
from optimizer.design.stone import CutTier, PartlyCutStone, direction
from optimizer.mesh import Floats


def place_named(
    stone: PartlyCutStone, rule: TierRule, touch: TouchRule, setting: int
) -> tuple[float, float]:
    """The place that the facet at ``setting`` must touch. Raises InputError where there is none."""
    outward = direction(2.0 * np.pi * setting / stone.design.gear)
    if touch.kind == "girdle line":
        _check_on_girdle(stone, rule, setting)
    if touch.kind in ("girdle line", "girdle corner"):
        return stone.rim(outward), 0.0
    other = stone.tier(touch.tier)
    if touch.kind == "slope":
        return _on_slope(stone, rule, other, touch.percent / 100.0, setting)
    if np.isnan(stone.table) and rule.side == "crown":
        raise stone.complaint(rule, f'"cut_to": cut the table before this {touch.kind}')
    near = _neighbours(stone, rule, other, setting)
    if touch.kind == "table edge":
        edges = [_table_edge(stone, rule, other, place) for place in near]
        return max(float(edge @ outward) for edge in edges), stone.table
    return _on_ridge(stone, rule, other, touch.percent / 100.0, near, outward)


def _check_on_girdle(stone: PartlyCutStone, rule: TierRule, setting: int) -> None:
    girdle = [tier for tier in stone.tiers if tier.rule.side == "girdle"]
    if not any(setting in tier.rule.settings for tier in girdle):
        fault = f'no girdle facet lies at setting {setting}: cut it to "the girdle corner"'
        raise stone.complaint(rule, fault)


def _on_slope(
    stone: PartlyCutStone, rule: TierRule, other: CutTier, share: float, setting: int
) -> tuple[float, float]:
    """The place on ``other``'s facet at this setting, a share of the way to the table or axis."""
    if setting not in other.rule.settings:
        fault = f'"cut_to": {other.rule.name} has no facet at setting {setting}'
        raise stone.complaint(rule, fault)
    place = other.rule.settings.index(setting)
    outward = direction(other.theta[place])
    whole = (1.0 - stone.values["table"]) / 2.0 if rule.side == "crown" else 0.5
    u = stone.rim(outward) - share * whole
    return u, other.height(place, u * outward)


def _neighbours(
    stone: PartlyCutStone, rule: TierRule, other: CutTier, setting: int
) -> tuple[int, int]:
    """The numbers in ``other`` of the two facets next to ``setting``, the following one first."""
    ahead = [(s - setting) % stone.design.gear for s in other.rule.settings]
    if 0 in ahead or len(ahead) < 2:
        fault = f'"cut_to": setting {setting} must lie between two facets of {other.rule.name}'
        raise stone.complaint(rule, fault)
    return int(np.argmin(ahead)), int(np.argmax(ahead))


def _table_edge(stone: PartlyCutStone, rule: TierRule, tier: CutTier, place: int) -> Floats:
    """The middle (2,) of the edge between the table and one facet, after the tiers cut so far."""
    normals, distances = stone.planes("crown")
    sloping = normals[:, 2] < 1.0 - 1e-12
    flat, room = normals[sloping, :2], (distances - stone.table * normals[:, 2])[sloping]
    outward = direction(tier.theta[place])
    foot = outward * (tier.distance[place] - np.cos(tier.angle) * stone.table) / np.sin(tier.angle)
    along = np.array([-outward[1], outward[0]])
    speed, left = flat @ along, room - flat @ foot
    reach = np.divide(left, speed, out=np.zeros_like(left), where=np.abs(speed) > 1e-12)
    high, low = reach[speed > 1e-12].min(), reach[speed < -1e-12].max()
    if high <= low:
        name = f"{tier.rule.name} {tier.rule.settings[place]}"
        raise stone.complaint(rule, f'"cut_to": facet "{name}" doesn\'t reach the table')
    return np.asarray(foot + along * (low + high) / 2.0, np.float64)


def _on_ridge(
    stone: PartlyCutStone,
    rule: TierRule,
    other: CutTier,
    share: float,
    near: tuple[int, int],
    outward: Floats,
) -> tuple[float, float]:
    """The place on the ridge between two neighbours of ``other``: half-way between them in azimuth,
    a share of the way in from the outline."""
    ahead, behind = near
    turn = (other.theta[ahead] - other.theta[behind]) % (2.0 * np.pi)
    inward = direction(other.theta[behind] + turn / 2.0)
    start, end = inward * _rim_along(stone.outline, inward), np.zeros(2)
    if rule.side == "crown":
        end = np.mean([_table_edge(stone, rule, other, place) for place in near], axis=0)
    point = start + share * (end - start)
    return float(point @ outward), min(other.height(place, point) for place in near)


def _rim_along(outline: Floats, outward: Floats) -> float:
    """How far the outline's polygon reaches from the axis in one direction."""
    run = np.roll(outline, -1, axis=0) - outline
    sides = np.column_stack([run[:, 1], -run[:, 0]])
    room, facing = np.einsum("ij,ij->i", sides, outline), sides @ outward
    return float((room[facing > 0] / facing[facing > 0]).min())


def table_height(stone: PartlyCutStone, rule: TierRule) -> float:
    """The height at which the crown, as cut so far, is as wide along y as the table must be.

    A solid's width changes linearly with height between the corners of its shadow in the (y, h)
    plane, so interpolation between the corners' heights is exact.
    """
    normals, distances = stone.planes("crown")
    floor = np.array([[0.0, 0.0, -1.0]])
    points = raw_corners(np.vstack([normals, floor]), np.append(distances, 1.0))
    y, h = points[:, 1], points[:, 2]
    levels = np.unique(h[h >= -1e-12])
    widths = np.array([_shadow_width(y, h, level) for level in levels])
    share = stone.values["table"]
    if not (len(widths) and widths[-1] <= share <= widths[0]):
        raise stone.complaint(rule, "the crown is nowhere as wide as the table share")
    return float(np.interp(-share, -widths, levels))


def _shadow_width(y: Floats, h: Floats, level: float) -> float:
    """Width at one height of the convex hull of points (y, h)."""
    below, above = np.flatnonzero(h <= level), np.flatnonzero(h >= level)
    rise = h[above][None] - h[below][:, None]
    share = np.divide(level - h[below][:, None], rise, out=np.zeros_like(rise), where=rise > 0)
    across = y[below][:, None] + share * (y[above][None] - y[below][:, None])
    return float(across.max() - across.min())
