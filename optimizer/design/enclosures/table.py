"""A model of the table's height where the crown lets it be as wide as it must be."""

import numpy as np

from optimizer.design.enclosures.stone import SAME, PartModel, TierModel, directions
from optimizer.design.enclosures.taylor import NoEnclosure, Taylor, joined
from optimizer.mesh import Floats


def _crown(stone: PartModel) -> list[TierModel]:
    """The crown's and the girdle's tiers cut so far."""
    tiers = [t for t in stone.tiers if t.rule.side in ("crown", "girdle")]
    if any(t.sine.terms[0].min() < SAME for t in tiers):
        raise NoEnclosure
    return tiers


def _lines(stone: PartModel) -> tuple[Taylor, Taylor]:
    """Of each crown and girdle facet, (n,): its distance from the axis at the girdle line, and how
    much nearer it comes for each unit of height."""
    tiers = _crown(stone)
    far = joined([t.distance / t.sine for t in tiers])
    return far, joined([t.cosine / t.sine for t in tiers])


def table_height(stone: PartModel) -> Taylor:
    """The height at which the crown is as wide along y as the table; see ``places.table_height``.

    At height h the crown's section lies within cos θ·x + sin θ·y <= far − nearer·h for every
    facet. Its reach along y is the least of all combinations of two facets, with weights that are
    not negative, whose azimuths add up to +y (linear programming duality); likewise along −y. So
    the width is the least of lines that fall with h. The height is that of the two combinations
    that are least in the middle of the box, lowered by what any other may fall short of them.
    """
    far, nearer = _lines(stone)
    azimuth = np.concatenate([t.theta for t in _crown(stone)])
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
    turned = sign * directions(azimuth)  # (0, 1) is to be combined
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
