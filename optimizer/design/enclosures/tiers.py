"""Models of every facet's plane: the stone is cut as in ``cutting`` and ``places``, on models.

A choice that cutting makes between places (the farthest corner, the nearest edge) is made by
``Taylor.least`` and ``greatest``, which enclose it wherever in the box it changes. Values at which
a tier can't be cut have no stone, and so whatever is said of them holds.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from optimizer.design.enclosures.outline import corners_of, girdle_distances
from optimizer.design.enclosures.taylor import NoEnclosure, Taylor, joined, stacked
from optimizer.design.model import Design, TierRule, TouchRule
from optimizer.design.stone import azimuths
from optimizer.mesh import Floats, Ints

SAME = 1e-9  # of a sine or cosine: settings are whole, so that others differ by far more


@dataclass(frozen=True)
class TierModel:
    """A tier whose facet j is sine·u + cosine·h = distance[j] in the plane through the axis at
    azimuth theta[j]; see ``stone.CutTier``."""

    rule: TierRule
    sine: Taylor  # of the angle, ()
    cosine: Taylor
    theta: Floats  # (n,)
    distance: Taylor  # (n,)

    def heights(self, which: Ints, points: Taylor) -> Taylor:
        """Heights (k,) of the facets ``which`` (k,) at points (k, 2) seen from above."""
        u = (points * _directions(self.theta[which])).sum()
        return (self.distance[which] - self.sine * u) / self.cosine


@dataclass(frozen=True)
class PartModel:
    """The stone as far as it is cut; see ``stone.PartlyCutStone``."""

    design: Design
    values: Mapping[str, Taylor]
    outline: Taylor  # (n, 2) corners
    tiers: tuple[TierModel, ...]
    table: Taylor | None = None

    def side(self, name: str) -> list[TierModel]:
        """The tiers cut on this side and on the girdle, the table left out."""
        return [
            t
            for t in self.tiers
            if t.rule.side in (name, "girdle") and t.rule.touches[0].kind != "table share"
        ]

    def rim(self, theta: Floats) -> Taylor:
        """u of the girdle line's farthest point at azimuths (k,)."""
        return (self.outline * _directions(theta)[:, None]).sum().greatest()


def facet_models(
    design: Design, values: Mapping[str, Taylor], share: Taylor
) -> tuple[Taylor, Taylor, Taylor]:
    """Normals (m, 3) and offsets (m,) of all facets at width 1, as ``body.planes`` orders them, and
    the corners (n, 2) of the girdle's outline.

    ``values`` holds every parameter, angles in degrees; ``share`` is the girdle band's share of
    the width. Raises NoEnclosure where the box is too large.
    """
    stone = _with_girdle(design, values)
    for rule in design.rules:
        if rule.side != "girdle":
            stone = _with_tier(stone, rule)
    order = [rule.name for rule in design.rules]
    normals, offsets = [], []
    for tier in sorted(stone.tiers, key=lambda tier: order.index(tier.rule.name)):
        sign = -1.0 if tier.rule.side == "pavilion" else 1.0
        level, ones = _directions(tier.theta), np.ones(len(tier.theta))
        flat = [tier.sine * level[:, 0], tier.sine * level[:, 1]]
        normals.append(stacked([*flat, tier.cosine * (sign * ones)]))
        offsets.append(tier.distance + share * tier.cosine * 0.5)
    return joined(normals), joined(offsets), stone.outline


def _directions(theta: Floats) -> Floats:
    return np.column_stack([np.cos(theta), np.sin(theta)])


def _with_girdle(design: Design, values: Mapping[str, Taylor]) -> PartModel:
    rules = [rule for rule in design.rules if rule.side == "girdle"]
    distances, zero = girdle_distances(design, values), values["girdle"] * 0.0
    tiers = tuple(
        TierModel(rule, zero + 1.0, zero, azimuths(design, rule), distance)
        for rule, distance in zip(rules, distances, strict=True)
    )
    theta, distance = np.concatenate([t.theta for t in tiers]), joined(distances)
    order = np.argsort(theta)
    return PartModel(design, values, corners_of(theta[order], distance[order]), tiers)


def _with_tier(stone: PartModel, rule: TierRule) -> PartModel:
    theta = azimuths(stone.design, rule)
    if rule.touches[0].kind == "table share":
        table = _table_height(stone)
        zero = table * 0.0
        tier = TierModel(rule, zero, zero + 1.0, theta, table[None])
        return replace(stone, tiers=(*stone.tiers, tier), table=table)
    places = [_places(stone, rule, touch) for touch in rule.touches]
    u, h = places[0]
    sine, cosine = _angle(stone, rule) if rule.angle else _angle_through(places)
    tier = TierModel(rule, sine, cosine, theta, u * sine + h * cosine)
    return replace(stone, tiers=(*stone.tiers, tier))


def _angle(stone: PartModel, rule: TierRule) -> tuple[Taylor, Taylor]:
    assert rule.angle is not None
    degrees = stone.values[rule.angle.of] if rule.angle.of else stone.values["girdle"] * 0.0
    radians = (degrees + rule.angle.plus) * (np.pi / 180.0)
    return radians.sin(), radians.cos()


def _angle_through(places: list[tuple[Taylor, Taylor]]) -> tuple[Taylor, Taylor]:
    """Sine and cosine of the angle at which the tier's first facet passes through both places."""
    (u, h), (v, g) = places
    inward, up = (u - v)[0], (g - h)[0]
    if inward.terms[0] < 0.0:
        inward, up = -inward, -up
    length = (inward * inward + up * up).power(0.5)
    return up / length, inward / length


def _places(stone: PartModel, rule: TierRule, touch: TouchRule) -> tuple[Taylor, Taylor]:
    """The places (u, h) that the facets of a tier touch, each (n,); see ``places.place_named``."""
    theta = azimuths(stone.design, rule)
    if touch.kind in ("girdle line", "girdle corner"):
        rim = stone.rim(theta)
        return rim, rim * 0.0
    other = next(t for t in stone.tiers if t.rule.name == touch.tier)
    share = touch.percent / 100.0
    if touch.kind == "slope":
        which = np.array([other.rule.settings.index(s) for s in rule.settings])
        whole = (1.0 - stone.values["table"]) * 0.5 if rule.side == "crown" else 0.5
        u = stone.rim(theta) - whole * share
        return u, (other.distance[which] - other.sine * u) / other.cosine
    gear = stone.design.gear
    ahead = [[(s - setting) % gear for s in other.rule.settings] for setting in rule.settings]
    near = np.argmin(ahead, axis=1), np.argmax(ahead, axis=1)
    if touch.kind == "table edge":
        assert stone.table is not None
        edges = [(_table_edges(stone, other, n) * _directions(theta)).sum() for n in near]
        return stacked(edges).greatest(), edges[0] * 0.0 + stone.table
    return _on_ridge(stone, rule, other, share, near, theta)


def _table_edges(stone: PartModel, tier: TierModel, which: Ints) -> Taylor:
    """The middles (k, 2) of the edges between the table and facets; see ``places._table_edge``."""
    assert stone.table is not None
    theta = tier.theta[which]
    outward, along = _directions(theta), _directions(theta + np.pi / 2.0)
    foot = (tier.distance[which] - tier.cosine * stone.table) / tier.sine
    lines = _lines(stone)
    azimuth = np.concatenate([t.theta for t in stone.side("crown")])
    room = lines[0] - lines[1] * stone.table  # distances from the axis at the table's height
    across, speed = np.cos(azimuth - theta[:, None]), np.sin(azimuth - theta[:, None])
    towards, away = speed > SAME, speed < -SAME
    left = room - foot[:, None] * across
    reach = left * (1.0 / np.where(towards | away, speed, 1.0))
    high, low = reach.least(towards), reach.greatest(away)
    middle = (low + high) * 0.5
    return foot[:, None] * outward + middle[:, None] * along


def _lines(stone: PartModel) -> tuple[Taylor, Taylor]:
    """Of each crown and girdle facet, (n,): its distance from the axis at the girdle line, and how
    much nearer it comes for each unit of height."""
    tiers = stone.side("crown")
    ones = [np.ones(len(t.theta)) for t in tiers]
    far = joined([t.distance / t.sine for t in tiers])
    return far, joined([(t.cosine / t.sine) * one for t, one in zip(tiers, ones, strict=True)])


def _on_ridge(
    stone: PartModel, rule: TierRule, other: TierModel, share: float, near: tuple[Ints, Ints],
    theta: Floats,
) -> tuple[Taylor, Taylor]:  # fmt: skip
    """See ``places._on_ridge``."""
    ahead, behind = near
    turn = (other.theta[ahead] - other.theta[behind]) % (2.0 * np.pi)
    middle = other.theta[behind] + turn / 2.0
    girdle = [t for t in stone.tiers if t.rule.side == "girdle"]
    azimuth, distance = (
        np.concatenate([t.theta for t in girdle]),
        joined([t.distance for t in girdle]),
    )
    facing = np.cos(azimuth - middle[:, None])
    rim = (distance * (1.0 / np.where(facing > SAME, facing, 1.0))).least(facing > SAME)
    point = rim[:, None] * _directions(middle) * (1.0 - share)
    if rule.side == "crown":
        ends = [_table_edges(stone, other, which) for which in near]
        point = point + (ends[0] + ends[1]) * (0.5 * share)
    height = stacked([other.heights(which, point) for which in near]).least()
    return (point * _directions(theta)).sum(), height


def _table_height(stone: PartModel) -> Taylor:
    """The height at which the crown is as wide along y as the table; see ``places.table_height``.

    At height h the crown's section lies within cos θ·x + sin θ·y <= far − nearer·h for every
    facet. Its reach along y is the least of all combinations of two facets, with weights that are
    not negative, whose azimuths add up to +y (linear programming duality); likewise along −y. So
    the width is the least of lines that fall with h. The height is that of the two combinations
    that are least in the middle of the box, lowered by what any other may fall short of them.
    """
    far, nearer = _lines(stone)
    azimuth = np.concatenate([t.theta for t in stone.side("crown")])
    ways = [_combined(azimuth, far, nearer, sign) for sign in (1.0, -1.0)]
    share = stone.values["table"]
    low, high = 0.0, 10.0
    for _ in range(80):
        middle = 0.5 * (low + high)
        width = sum(float((f.terms[0] - n.terms[0] * middle).min()) for f, n in ways)
        low, high = (middle, high) if width >= float(share.terms[0]) else (low, middle)
    best = [int(np.argmin(f.terms[0] - n.terms[0] * low)) for f, n in ways]
    chosen = [(f[k], n[k]) for (f, n), k in zip(ways, best, strict=True)]
    falls = chosen[0][1] + chosen[1][1]
    height = (chosen[0][0] + chosen[1][0] - share) / falls
    short, slowest = 0.0, np.inf
    for (f, n), (own, fall), k in zip(ways, chosen, best, strict=True):
        under = -((f - own) - (n - fall) * height).low
        under[k] = 0.0
        short += max(float(under.max()), 0.0)
        at_risk = under >= 0.0
        slowest = min(slowest, float(n.low[at_risk].min()))
    if slowest <= 0.0:
        raise NoEnclosure
    return height.lowered(np.asarray(short / slowest))


def _combined(azimuth: Floats, far: Taylor, nearer: Taylor, sign: float) -> tuple[Taylor, Taylor]:
    """The lines far − nearer·h of all combinations of two facets that add up to ±y."""
    turned = sign * _directions(azimuth)  # (0, 1) is to be combined
    right = np.flatnonzero(turned[:, 0] > SAME)
    left = np.flatnonzero(turned[:, 0] < -SAME)
    i, j = (index.ravel() for index in np.meshgrid(right, left))
    turn = turned[i, 0] * turned[j, 1] - turned[j, 0] * turned[i, 1]
    first, second = -turned[j, 0] / np.where(turn > SAME, turn, 1.0), turned[i, 0]
    second = second / np.where(turn > SAME, turn, 1.0)
    keep = turn > SAME
    straight = np.flatnonzero((np.abs(turned[:, 0]) <= SAME) & (turned[:, 1] > 0.0))
    i, j = (np.concatenate([index[keep], straight]) for index in (i, j))
    first = np.concatenate([first[keep], np.ones(len(straight))])
    second = np.concatenate([second[keep], np.zeros(len(straight))])
    return far[i] * first + far[j] * second, nearer[i] * first + nearer[j] * second
