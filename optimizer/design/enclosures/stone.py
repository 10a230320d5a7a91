"""Models of the stone as far as it is cut; see ``optimizer.design.stone`` and ``table``."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from optimizer.design.enclosures.outline import corners_of
from optimizer.design.enclosures.taylor import NoEnclosure, Taylor, joined, stacked
from optimizer.design.model import Design, TierRule
from optimizer.design.stone import azimuths, corner_towards, side_at
from optimizer.mesh import Floats, Ints

SAME = 1e-9  # of a sine or cosine: settings are whole, so that others differ by far more


@dataclass(frozen=True)
class TierModel:
    """A tier whose facet j is sine_j·u + cosine_j·h = distance_j in the plane through the axis at
    azimuth theta_j; see ``stone.CutTier``."""

    rule: TierRule
    sine: Taylor  # (n,) of the angles
    cosine: Taylor
    theta: Floats
    distance: Taylor
    places: tuple[tuple[Taylor, Taylor], ...] = ()  # that it is cut to: (n, 2), and heights (n,)

    @property
    def normals(self) -> Taylor:
        """Outward unit normals (n, 3) with the tier's own side up."""
        level = directions(self.theta)
        return stacked([self.sine * level[:, 0], self.sine * level[:, 1], self.cosine])

    def heights(self, which: Ints, points: Taylor) -> Taylor:
        """Heights (k,) of the facets ``which`` (k,) at points (k, 2) seen from above."""
        u = (points * directions(self.theta[which])).sum()
        return (self.distance[which] - self.sine[which] * u) / self.cosine[which]


@dataclass(frozen=True)
class PartModel:
    """See ``stone.PartlyCutStone``."""

    design: Design
    values: Mapping[str, Taylor]
    sides: Floats  # (n,) azimuths of the girdle's facets, ascending
    outline: Taylor  # (n, 2) corner i lies after side i
    tiers: tuple[TierModel, ...]
    table_corners: Taylor | None = None  # (k, 2)
    table: Taylor | None = None  # its height
    centres: Mapping[str, Taylor] = field(default_factory=dict)

    def tier(self, name: str, other: str = "") -> TierModel:
        """An earlier tier by its name, or two as one."""
        one = next(tier for tier in self.tiers if tier.rule.name == name)
        if not other:
            return one
        two = self.tier(other)
        rule = replace(one.rule, settings=one.rule.settings + two.rule.settings)
        parts = ((one.sine, two.sine), (one.cosine, two.cosine), (one.distance, two.distance))
        sine, cosine, distance = (joined(list(both)) for both in parts)
        return TierModel(rule, sine, cosine, np.append(one.theta, two.theta), distance)

    def rims(self, theta: Floats) -> Taylor:
        """The girdle line's corners (k, 2) farthest out towards azimuths (k,)."""
        return self.outline[corners_towards(self.sides, theta)]

    def rim_sides(self, theta: Floats) -> Taylor:
        """The middles (k, 2) of the girdle facets' edges at azimuths (k,), or the corners where
        there is no facet."""
        corner = corners_towards(self.sides, theta)
        other = np.where(self.there(theta), corner - 1, corner)
        return (self.outline[other] + self.outline[corner]) * 0.5

    def there(self, theta: Floats) -> NDArray[np.bool_]:
        """Mask (k,): whether a girdle facet lies at azimuths (k,)."""
        return np.array([side_at(self.sides, at) is not None for at in theta])


def corners_towards(sides: Floats, theta: Floats) -> Ints:
    """See ``stone.corner_towards``, at azimuths (k,)."""
    return np.array([corner_towards(sides, at) for at in theta], np.int64)


def directions(theta: Floats) -> Floats:
    """The level unit vectors (k, 2) at azimuths."""
    return np.column_stack([np.cos(theta), np.sin(theta)])


def with_planned_table(stone: PartModel) -> PartModel:
    """See ``table.with_planned_table``."""
    plan = stone.design.table
    if plan is None:
        return stone
    share, length = stone.values["table"], stone.values["length_to_width"]
    front, back = ((1.0 - share) * (0.5 * end) for end in plan.ends)
    shrink = stacked([1.0 - (front + back) / length, share])
    theta = azimuths(stone.design, plan.edges)
    distance = (stone.rim_sides(theta) * shrink * directions(theta)).sum()
    points = corners_of(theta, distance)
    scale = share / (points[:, 1].greatest() - points[:, 1].least())
    if not float(scale.low) > 0.0:
        raise NoEnclosure
    middle = stacked([back - (front + back) * stone.design.outline.axis, share * 0.0])
    return replace(stone, table_corners=points * scale + middle)
