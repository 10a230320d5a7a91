"""From a design's tiers, in cutting order, to the planes of its facets at width 1.

Crown and pavilion are worked alike, each as heights above its own girdle line: the band comes
between them at the end. A facet is fixed by its setting, its angle and one point that it
touches, or by its setting and two points; each point is taken in the upright plane through the
axis at the facet's setting, as (u, h): u outwards from the axis, h above the girdle line.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from optimizer.design.intersect import raw_corners
from optimizer.design.model import Design, TierRule, Touch
from optimizer.design.outline import Support, corners, edge_lengths, fitted, pear, rounded
from optimizer.errors import InputError
from optimizer.mesh import Floats, Ints

SAME_ANGLE = 1e-9  # radians: how far the facets of one tier may differ


@dataclass(frozen=True)
class CutTier:
    """A tier with its planes: facet j is sin(angle)·u + cos(angle)·h = distance[j]."""

    rule: TierRule
    angle: float  # radians
    theta: Floats  # (n,) azimuths in radians
    distance: Floats  # (n,) from the point of the axis at the girdle line of its side

    def height(self, place: int, point: Floats) -> float:
        """Height of facet ``place`` over the girdle line at a point (2,) seen from above."""
        u = point @ _direction(self.theta[place])
        return float((self.distance[place] - np.sin(self.angle) * u) / np.cos(self.angle))


@dataclass
class Cutting:
    """The stone so far."""

    design: Design
    values: Mapping[str, float]
    tiers: list[CutTier] = field(default_factory=list)
    girdle_settings: list[int] = field(default_factory=list)
    outline: Floats = field(default_factory=lambda: np.zeros((0, 2)))
    table: float = np.nan  # height over the girdle line, once it is cut

    def tier(self, name: str) -> CutTier:
        return next(tier for tier in self.tiers if tier.rule.name == name)

    def planes(self, side: str) -> tuple[Floats, Floats]:
        """Normals (n, 3) and distances (n,) of the facets cut on this side and the girdle."""
        cut = [tier for tier in self.tiers if tier.rule.side in (side, "girdle")]
        normals = [normals_of(tier) for tier in cut]
        return np.concatenate(normals), np.concatenate([tier.distance for tier in cut])


def normals_of(tier: CutTier) -> Floats:
    """Outward unit normals (n, 3) with the tier's own side up."""
    flat = np.sin(tier.angle) * np.column_stack([np.cos(tier.theta), np.sin(tier.theta)])
    return np.column_stack([flat, np.full(len(flat), np.cos(tier.angle))])


def _direction(theta: float) -> Floats:
    return np.array([np.cos(theta), np.sin(theta)])


def cut(design: Design, values: Mapping[str, float]) -> list[CutTier]:
    """Every tier with its angle and distances at width 1; ``values`` holds every parameter.

    Raises InputError naming the tier where a sentence can't be followed.
    """
    stone = Cutting(design, values)
    for tier in _girdle(stone):
        stone.tiers.append(tier)
    for rule in design.rules:
        if rule.side != "girdle":
            stone.tiers.append(_cut_tier(stone, rule))
    order = [rule.name for rule in design.rules]
    return sorted(stone.tiers, key=lambda tier: order.index(tier.rule.name))


def _azimuths(design: Design, rule: TierRule) -> Floats:
    return 2.0 * np.pi * np.array(rule.settings) / design.gear


def _complain(design: Design, rule: TierRule, text: str) -> InputError:
    return InputError(f'{design.name}: tier "{rule.name}": {text}')


# --- the girdle ------------------------------------------------------------------------------


def _girdle(stone: Cutting) -> list[CutTier]:
    """The girdle's tiers; sets the outline's polygon."""
    rules = [rule for rule in stone.design.rules if rule.side == "girdle"]
    names = [f"{rule.name} {setting}" for rule in rules for setting in rule.settings]
    theta = np.concatenate([_azimuths(stone.design, rule) for rule in rules])
    order = np.argsort(theta)
    turns = np.diff(theta[order], append=theta[order][0] + 2.0 * np.pi)
    if turns.min() < 1e-9 or turns.max() > np.pi - 1e-9:
        raise InputError(
            f"{stone.design.name}: the girdle's settings must differ and close an outline"
        )
    distance = np.concatenate([_girdle_distance(stone, rule, theta, order) for rule in rules])
    stone.outline = corners(theta[order], distance[order])
    lost = np.flatnonzero(edge_lengths(theta[order], stone.outline) <= 0.0)
    if len(lost):
        raise InputError(f'{stone.design.name}: facet "{names[order[lost[0]]]}" is lost')
    stone.girdle_settings = [setting for rule in rules for setting in rule.settings]
    ends = np.cumsum([len(rule.settings) for rule in rules])[:-1]
    parts = zip(rules, np.split(theta, ends), np.split(distance, ends), strict=True)
    return [CutTier(rule, np.pi / 2.0, at, far) for rule, at, far in parts]


def _girdle_distance(stone: Cutting, rule: TierRule, every: Floats, order: Ints) -> Floats:
    theta = _azimuths(stone.design, rule)
    long, kind = stone.values["length_to_width"], rule.touches[0].kind
    x, y = np.abs(np.cos(theta)), np.abs(np.sin(theta))
    if kind == "width":
        return _square_on(stone, rule, y, 0.5)
    if kind == "length":
        return _square_on(stone, rule, x, long / 2.0)
    if kind == "tip":
        if x.min() < 0.1:
            raise _complain(stone.design, rule, '"the tip" serves settings near the length axis')
        return x * long / 2.0
    if kind == "corner share":
        return x * long / 2.0 + y * (0.5 - stone.values["corner"])
    return _on_curve(stone, rule, every[order])[np.searchsorted(every[order], theta)]


def _square_on(stone: Cutting, rule: TierRule, facing: Floats, distance: float) -> Floats:
    if (1.0 - facing).max() > 1e-12:
        kind = rule.touches[0].kind
        raise _complain(stone.design, rule, f'"the {kind}" serves settings that face it squarely')
    return np.full(len(facing), distance)


def _on_curve(stone: Cutting, rule: TierRule, theta: Floats) -> Floats:
    outline = stone.design.outline
    girdles = [tier for tier in stone.design.rules if tier.side == "girdle"]
    if outline.shape == "straight":
        raise _complain(stone.design, rule, '"the outline" needs a curve: [outline] shape')
    if any(tier.touches[0].kind != "outline" for tier in girdles):
        raise _complain(stone.design, rule, 'cut every girdle tier to "the outline", or none')
    curve: Support = pear if outline.shape == "pear" else rounded(outline.fullness)
    return fitted(curve, theta, stone.values["length_to_width"])


# --- crown and pavilion ----------------------------------------------------------------------


def _cut_tier(stone: Cutting, rule: TierRule) -> CutTier:
    theta = _azimuths(stone.design, rule)
    if rule.touches[0].kind == "table share":
        stone.table = _table_height(stone)
        return CutTier(rule, 0.0, theta, np.array([stone.table]))
    points = [[_point(stone, rule, touch, place) for place in range(len(theta))]
              for touch in rule.touches]  # fmt: skip
    first = np.array(points[0])
    angle = _angle(stone, rule) if rule.angle else _angle_through(stone, rule, points)
    distance = first[:, 0] * np.sin(angle) + first[:, 1] * np.cos(angle)
    if distance.min() <= 0.0:
        raise _complain(stone.design, rule, '"cut_to": the facets would cut through the axis')
    return CutTier(rule, angle, theta, distance)


def _angle(stone: Cutting, rule: TierRule) -> float:
    assert rule.angle is not None
    degrees = rule.angle.plus + (stone.values[rule.angle.of] if rule.angle.of else 0.0)
    if not 0.0 < degrees < 90.0:
        raise _complain(stone.design, rule, f"the angle comes to {degrees:g}; it must be in 0..90")
    return float(np.radians(degrees))


def _angle_through(
    stone: Cutting, rule: TierRule, points: list[list[tuple[float, float]]]
) -> float:
    """The one angle at which every facet of the tier runs through both its points."""
    (u, h), (v, k) = (np.array(side).T for side in points)
    angles = np.arctan2(np.abs(k - h), np.abs(u - v))
    rising = ((k - h) * (u - v)).min()
    if rising <= 0.0 or np.ptp(angles) > SAME_ANGLE:
        fault = "facets slope the wrong way" if rising <= 0.0 else "facets need unequal angles"
        raise _complain(stone.design, rule, f'"cut_to": the {fault}; state one angle instead')
    return float(angles[0])


def _point(stone: Cutting, rule: TierRule, touch: Touch, place: int) -> tuple[float, float]:
    """The point (u, h) that a sentence names for the tier's facet number ``place``."""
    setting = rule.settings[place]
    outward = _direction(2.0 * np.pi * setting / stone.design.gear)
    rim = float((stone.outline @ outward).max())
    if touch.kind == "girdle line":
        if setting not in stone.girdle_settings:
            fault = f'no girdle facet at setting {setting}: cut it to "the girdle corner"'
            raise _complain(stone.design, rule, fault)
        return rim, 0.0
    if touch.kind == "girdle corner":
        return rim, 0.0
    other = stone.tier(touch.tier)
    if touch.kind == "slope":
        return _on_slope(stone, rule, other, touch.percent / 100.0, setting, rim)
    if np.isnan(stone.table) and rule.side == "crown":
        raise _complain(stone.design, rule, f'"cut_to": cut the table before this {touch.kind}')
    near = _neighbours(stone, rule, other, setting)
    if touch.kind == "table edge":
        edges = [_table_edge(stone, rule, other, j) for j in near]
        return max(float(edge @ outward) for edge in edges), stone.table
    point, height = _on_ridge(stone, rule, other, touch.percent / 100.0, near)
    return float(point @ outward), height


def _on_slope(
    stone: Cutting, rule: TierRule, other: CutTier, share: float, setting: int, rim: float
) -> tuple[float, float]:
    """On ``other``'s facet at the same setting, a share of the way to the table or the axis."""
    if setting not in other.rule.settings:
        fault = f'"cut_to": {other.rule.name} has no facet at setting {setting}'
        raise _complain(stone.design, rule, fault)
    whole = (1.0 - stone.values["table"]) / 2.0 if rule.side == "crown" else 0.5
    u = rim - share * whole
    place = other.rule.settings.index(setting)
    return u, other.height(place, u * _direction(other.theta[place]))


def _neighbours(stone: Cutting, rule: TierRule, other: CutTier, setting: int) -> tuple[int, int]:
    """Places in ``other`` of the facets nearest on either side of a setting."""
    gear = stone.design.gear
    ahead = [(s - setting) % gear for s in other.rule.settings]
    if 0 in ahead or len(ahead) < 2:
        fault = f'"cut_to": setting {setting} must lie between two facets of {other.rule.name}'
        raise _complain(stone.design, rule, fault)
    return int(np.argmin(ahead)), int(np.argmax(ahead))


def _table_edge(stone: Cutting, rule: TierRule, tier: CutTier, place: int) -> Floats:
    """The middle (2,) of the table's edge on one facet, by the tiers cut so far."""
    normals, distances = stone.planes("crown")
    upright = normals[:, 2] > 1.0 - 1e-12
    normals, room = normals[~upright], (distances - stone.table * normals[:, 2])[~upright]
    outward = _direction(tier.theta[place])
    foot = outward * (tier.distance[place] - np.cos(tier.angle) * stone.table) / np.sin(tier.angle)
    along = np.array([-outward[1], outward[0]])
    speed, left = normals[:, :2] @ along, room - normals[:, :2] @ foot
    crossing = np.abs(speed) > 1e-12
    reach = left[crossing] / speed[crossing]
    high, low = reach[speed[crossing] > 0].min(), reach[speed[crossing] < 0].max()
    if high <= low:
        name = f"{tier.rule.name} {tier.rule.settings[place]}"
        raise _complain(stone.design, rule, f'"cut_to": facet "{name}" doesn\'t reach the table')
    return np.asarray(foot + along * (low + high) / 2.0, np.float64)


def _on_ridge(
    stone: Cutting, rule: TierRule, other: CutTier, share: float, near: tuple[int, int]
) -> tuple[Floats, float]:
    """Between two neighbours of ``other``: straight in from the outline, half-way in azimuth."""
    ahead, behind = near
    turn = (other.theta[ahead] - other.theta[behind]) % (2.0 * np.pi)
    outward = _direction(other.theta[behind] + turn / 2.0)
    end = np.zeros(2)
    if rule.side == "crown":
        end = sum((_table_edge(stone, rule, other, j) for j in near), np.zeros(2)) / 2.0
    start = outward * _rim_along(stone.outline, outward)
    point = start + share * (end - start)
    return point, min(other.height(j, point) for j in near)


def _rim_along(outline: Floats, outward: Floats) -> float:
    """How far the outline's polygon reaches from the axis in one direction."""
    run = np.roll(outline, -1, axis=0) - outline
    sides = np.column_stack([run[:, 1], -run[:, 0]])
    rooms = np.einsum("ij,ij->i", sides, outline)
    facing = sides @ outward
    return float((rooms[facing > 0] / facing[facing > 0]).min())


def _table_height(stone: Cutting) -> float:
    """Where the crown so far is as wide along y as the table shall be.

    A solid's width at height h follows the straight pieces of its shadow in the (y, h) plane,
    so it is exact by interpolation between the heights of its corners.
    """
    normals, distances = stone.planes("crown")
    normals = np.vstack([normals, [0.0, 0.0, -1.0]])
    corners3 = raw_corners(normals, np.append(distances, 1.0))
    y, h = corners3[:, 1], corners3[:, 2]
    levels = np.unique(h[h >= -1e-12])
    widths = np.array([_shadow_width(y, h, level) for level in levels])
    share = stone.values["table"]
    if widths.max() < share or widths[-1] > share:
        raise InputError(f"{stone.design.name}: the crown is nowhere as wide as the table share")
    return float(np.interp(-share, -widths, levels))


def _shadow_width(y: Floats, h: Floats, level: float) -> float:
    """Width at one height of the convex hull of points (y, h)."""
    below, above = np.flatnonzero(h <= level), np.flatnonzero(h >= level)
    rise = h[above][None] - h[below][:, None]
    share = np.divide(level - h[below][:, None], rise, out=np.zeros_like(rise), where=rise > 0)
    across = y[below][:, None] + share * (y[above][None] - y[below][:, None])
    return float(across.max() - across.min())
