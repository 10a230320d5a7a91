"""The stone as far as it is cut, at width 1.

Crown and pavilion are treated alike, each with heights measured up from its own girdle line; the
girdle band is put between them at the end. In the upright plane through the axis at a facet's
setting, a point is (u, h): u outwards from the axis, h above the girdle line.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from optimizer.design.model import Design, TierRule
from optimizer.errors import InputError
from optimizer.mesh import Floats

PlaneRow = tuple[float, float, float, float]
SAME_AZIMUTH = 1e-9  # radians; whole settings differ by far more


@dataclass(frozen=True)
class CutTier:
    """A tier with its planes: facet j is sin(angle_j)·u + cos(angle_j)·h = distance_j."""

    rule: TierRule
    angles: Floats  # (n,) radians
    theta: Floats  # (n,) azimuths in radians
    distance: Floats  # (n,) from the point of the axis at the girdle line of its side
    spots: tuple[Floats, ...] = ()  # for each sentence (n, 3): the places that the facets touch

    @cached_property
    def normals(self) -> Floats:
        """Outward unit normals (n, 3) with the tier's own side up."""
        flat = np.column_stack([np.cos(self.theta), np.sin(self.theta)])
        up = np.zeros(len(flat)) if self.rule.side == "girdle" else np.cos(self.angles)
        return np.column_stack([np.sin(self.angles)[:, None] * flat, up])

    @cached_property
    def _rows(self) -> list[PlaneRow]:
        return [tuple(row) for row in np.column_stack([self.normals, self.distance]).tolist()]

    def plane(self, place: int) -> PlaneRow:
        """Facet ``place`` as its normal and its distance."""
        return self._rows[place]

    def height(self, place: int, point: Floats) -> float:
        """Height of facet ``place`` over the girdle line at a point (2,) seen from above."""
        u, angle = point @ direction(self.theta[place]), self.angles[place]
        return float((self.distance[place] - np.sin(angle) * u) / np.cos(angle))


@dataclass(frozen=True)
class PartlyCutStone:
    """The girdle's outline and the tiers that are cut so far."""

    design: Design
    values: Mapping[str, float]  # every parameter
    sides: Floats  # (n,) azimuths of the girdle's facets, ascending
    outline: Floats  # (n, 2) corners of the girdle's polygon: corner i lies after side i
    tiers: tuple[CutTier, ...]
    table_corners: Floats | None = None  # (k, 2) as planned: corner i lies after edge i
    table: float = np.nan  # height of the table over the girdle line; nan until it is known
    centres: Mapping[str, float] = field(default_factory=dict)  # height of a side's centre point

    def tier(self, name: str) -> CutTier:
        """An earlier tier by its name."""
        return next(tier for tier in self.tiers if tier.rule.name == name)

    def both(self, name: str, other: str) -> CutTier:
        """Two earlier tiers as one; the first alone where ``other`` is ""."""
        one = self.tier(name)
        if not other:
            return one
        two = self.tier(other)
        rule = replace(
            one.rule,
            name=f"{name} and {other}",
            settings=one.rule.settings + two.rule.settings,
        )
        return CutTier(
            rule,
            np.append(one.angles, two.angles),
            np.append(one.theta, two.theta),
            np.append(one.distance, two.distance),
        )

    def planes(self, side: str) -> tuple[Floats, Floats]:
        """Normals (n, 3) and distances (n,) of the facets cut on this side and the girdle."""
        cut = [tier for tier in self.tiers if tier.rule.side in (side, "girdle")]
        normals = np.concatenate([tier.normals for tier in cut])
        return normals, np.concatenate([tier.distance for tier in cut])

    def rim(self, theta: float) -> Floats:
        """The girdle line's corner (2,) that lies farthest out towards an azimuth."""
        return np.asarray(self.outline[corner_towards(self.sides, theta)], np.float64)

    def rim_side(self, theta: float) -> Floats | None:
        """The middle (2,) of the girdle facet's edge at an azimuth; None where there is none."""
        side = side_at(self.sides, theta)
        if side is None:
            return None
        return np.asarray((self.outline[side - 1] + self.outline[side]) / 2.0, np.float64)

    def complaint(self, rule: TierRule, text: str) -> InputError:
        """The error to raise where a tier can't be cut as the design file says."""
        return InputError(f'{self.design.name}: tier "{rule.name}": {text}')


def azimuths(design: Design, settings: tuple[int, ...]) -> Floats:
    """Settings as azimuths in radians, (n,)."""
    return 2.0 * np.pi * np.array(settings) / design.gear


def direction(theta: float) -> Floats:
    """The level unit vector (2,) at an azimuth."""
    return np.array([np.cos(theta), np.sin(theta)])


def side_at(sides: Floats, theta: float) -> int | None:
    """The number of a polygon's side at an azimuth; ``sides`` (n,) are the azimuths of all."""
    side = corner_towards(sides, theta)
    off = (float(sides[side]) - theta + np.pi) % (2.0 * np.pi) - np.pi
    return side % len(sides) if abs(off) <= 2.0 * SAME_AZIMUTH else None


def corner_towards(sides: Floats, theta: float) -> int:
    """The number of a convex polygon's corner farthest out towards an azimuth.

    ``sides`` (n,) are the azimuths of its sides, ascending from 0; corner i follows side i. At a
    side's own azimuth both its corners are; the following one is taken. The answer doesn't depend
    on how far out the sides lie.
    """
    return int(np.searchsorted(sides, theta % (2.0 * np.pi) + SAME_AZIMUTH, side="right")) - 1


def neighbours(settings: tuple[int, ...], setting: int, gear: int) -> tuple[int, int] | None:
    """The numbers of the two settings next to one, the one behind it first; None where it is one of
    them, or where there are no two."""
    ahead = [(s - setting) % gear for s in settings]
    if 0 in ahead or len(ahead) < 2:
        return None
    return ahead.index(max(ahead)), ahead.index(min(ahead))


def nearest_setting(settings: tuple[int, ...], setting: int, gear: int) -> int:
    """The number of the setting with the shortest turn to another; of two, the first."""
    turns = [min((s - setting) % gear, (setting - s) % gear) for s in settings]
    return turns.index(min(turns))
