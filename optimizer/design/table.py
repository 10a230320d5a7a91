"""The table: its outline as planned before the crown is cut, or its height where the crown lets it
be as wide as it must be."""

from dataclasses import replace

import numpy as np

from optimizer.design.intersect import raw_corners
from optimizer.design.model import TierRule
from optimizer.design.outline import corners, edge_lengths
from optimizer.design.stone import PartlyCutStone, azimuths, direction
from optimizer.errors import InputError
from optimizer.mesh import Floats


def with_planned_table(stone: PartlyCutStone) -> PartlyCutStone:
    """The stone with its table's corners, where its design plans them. Raises InputError.

    The outline is drawn in: by half of 1 less the table's share at the sides, and by ``ends``
    times as much at the ends. It then leads from the girdle's corner towards each edge's setting
    (or from the middle of the girdle facet there) to a point of that edge. In the end the polygon
    is scaled to the exact share.
    """
    plan = stone.design.table
    if plan is None:
        return stone
    share, length = stone.values["table"], stone.values["length_to_width"]
    front, back = (end * (1.0 - share) / 2.0 for end in plan.ends)
    shrink = np.array([1.0 - (front + back) / length, share])
    middle = [back - stone.design.outline.axis * (front + back), 0.0]
    if shrink[0] <= 0.0:
        raise InputError(f'{stone.design.name}: [table] "ends" leaves the table no length')
    theta = azimuths(stone.design, plan.edges)
    distance = np.array([_on_rim(stone, at) * shrink @ direction(at) for at in theta])
    points = corners(theta, distance)
    lost = np.flatnonzero(edge_lengths(theta, points) <= 0.0)
    if len(lost):
        raise InputError(f"{stone.design.name}: the table's edge {plan.edges[lost[0]]} is lost")
    scale = share / float(np.ptp(points[:, 1]))
    return replace(stone, table_corners=scale * points + middle)


def _on_rim(stone: PartlyCutStone, theta: float) -> Floats:
    middle = stone.rim_side(theta)
    return stone.rim(theta) if middle is None else middle


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
