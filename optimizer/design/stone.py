"""The stone as far as it is cut, at width 1.

Crown and pavilion are treated alike, each with heights measured up from its own girdle line; the
girdle band is put between them at the end. In the upright plane through the axis at a facet's
setting, a point is (u, h): u outwards from the axis, h above the girdle line.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from optimizer.design.model import Design, TierRule
from optimizer.errors import InputError
from optimizer.mesh import Floats


@dataclass(frozen=True)
class CutTier:
    """A tier with its planes: facet j is sin(angle)·u + cos(angle)·h = distance[j]."""

    rule: TierRule
    angle: float  # radians
    theta: Floats  # (n,) azimuths in radians
    distance: Floats  # (n,) from the point of the axis at the girdle line of its side

    @property
    def normals(self) -> Floats:
        """Outward unit normals (n, 3) with the tier's own side up."""
        flat = np.sin(self.angle) * np.column_stack([np.cos(self.theta), np.sin(self.theta)])
        up = 0.0 if self.rule.side == "girdle" else np.cos(self.angle)
        return np.column_stack([flat, np.full(len(flat), up)])

    def height(self, place: int, point: Floats) -> float:
        """Height of facet ``place`` over the girdle line at a point (2,) seen from above."""
        u = point @ direction(self.theta[place])
        return float((self.distance[place] - np.sin(self.angle) * u) / np.cos(self.angle))


@dataclass(frozen=True)
class PartlyCutStone:
    """The girdle's outline and the tiers that are cut so far."""

    design: Design
    values: Mapping[str, float]  # every parameter
    outline: Floats  # (n, 2) corners of the girdle's polygon, counter-clockwise
    tiers: tuple[CutTier, ...]
    table: float = np.nan  # height of the table over the girdle line; nan until it is cut

    def tier(self, name: str) -> CutTier:
        """An earlier tier by its name."""
        return next(tier for tier in self.tiers if tier.rule.name == name)

    def planes(self, side: str) -> tuple[Floats, Floats]:
        """Normals (n, 3) and distances (n,) of the facets cut on this side and the girdle."""
        cut = [tier for tier in self.tiers if tier.rule.side in (side, "girdle")]
        normals = np.concatenate([tier.normals for tier in cut])
        return normals, np.concatenate([tier.distance for tier in cut])

    def rim(self, outward: Floats) -> float:
        """u of the girdle line's point that lies farthest out in a direction (2,)."""
        return float((self.outline @ outward).max())

    def complaint(self, rule: TierRule, text: str) -> InputError:
        """The error to raise where a tier can't be cut as the design file says."""
        return InputError(f'{self.design.name}: tier "{rule.name}": {text}')


def azimuths(design: Design, rule: TierRule) -> Floats:
    """The tier's settings as azimuths in radians, (n,)."""
    return 2.0 * np.pi * np.array(rule.settings) / design.gear


def direction(theta: float) -> Floats:
    """The level unit vector (2,) at an azimuth."""
    return np.array([np.cos(theta), np.sin(theta)])
