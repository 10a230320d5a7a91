"""Models of the girdle facets' distances from the axis, as functions of the free parameters.

They follow ``girdle.cut_girdle``. Where the girdle touches a curve, its distances solve equations,
whose solution is enclosed as a fixed point (``_fitted``).
"""

from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from itertools import pairwise

import numpy as np

from optimizer.design.curves import curve_of
from optimizer.design.enclosures.curves import touching
from optimizer.design.enclosures.taylor import (
    NoEnclosure,
    Taylor,
    iterated,
    joined,
    stacked,
)
from optimizer.design.model import Design, Outline, TierRule
from optimizer.design.outline import fitted
from optimizer.design.stone import azimuths
from optimizer.mesh import Floats

SOLVED = 1e-13  # of the width: a fixed point in floating point is good to a few 1e-16
STEPS = 60  # of the iteration for the polynomial, at most
GROWN = 20  # times that the tube about the polynomial is widened, before its proof is given up
FARTHEST = 1e-2  # of the width: a wider tube says nothing


def girdle_distances(design: Design, values: Mapping[str, Taylor]) -> list[Taylor]:
    """Of each girdle tier in the file's order, distances (n,). Raises NoEnclosure."""
    rules = [rule for rule in design.rules if rule.side == "girdle"]
    if any(rule.touches[0].kind != "outline" for rule in rules):
        return [_straight(design, rule, values) for rule in rules]
    theta = np.concatenate([azimuths(design, rule.settings) for rule in rules])
    order = np.argsort(theta)
    ascending = _on_curve(design, theta[order], values["length_to_width"])
    every = ascending[np.argsort(order)]
    ends = np.cumsum([0, *(len(rule.settings) for rule in rules)])
    return [every[first:last] for first, last in pairwise(ends)]


def corners_of(theta: Floats, distance: Taylor) -> Taylor:
    """See ``outline.corners``: (n, 2)."""
    after, far = np.roll(theta, -1), distance[np.roll(np.arange(len(theta)), -1)]
    turn = np.sin(after - theta)
    x = (distance * np.sin(after) - far * np.sin(theta)) * (1.0 / turn)
    y = (far * np.cos(theta) - distance * np.cos(after)) * (1.0 / turn)
    return stacked([x, y])


def _straight(design: Design, rule: TierRule, values: Mapping[str, Taylor]) -> Taylor:
    theta = azimuths(design, rule.settings)
    x, y = np.abs(np.cos(theta)), np.abs(np.sin(theta))
    ahead = np.where(np.cos(theta) > 0.0, 1.0 - design.outline.axis, design.outline.axis)
    reach = values["length_to_width"] * ahead
    match rule.touches[0].kind:
        case "width":
            return reach * 0.0 + np.full(len(theta), 0.5)
        case "length":
            return reach
        case "tip":
            return reach * x
        case "side point":
            return reach * 0.0 + y * 0.5
        case "corner share":
            return reach * x + (0.5 - values["corner"]) * y
    raise NoEnclosure


def _on_curve(design: Design, theta: Floats, length: Taylor) -> Taylor:
    """Distances (n,) at ascending azimuths. The length is a number, or one of the variables."""
    outline, variables = design.outline, length.variables
    slopes = length.terms[1 : 1 + variables]
    middle = float(length.terms[0])
    if not slopes.any():
        exact = Taylor.constant(fitted(curve_of(outline), theta, middle, outline.axis), variables)
        return replace(exact, radius=np.full(len(theta), SOLVED))
    number = int(np.argmax(np.abs(slopes)))
    along = _fitted(outline, tuple(theta), middle, float(slopes[number]))
    return along.over(variables, [number])


@lru_cache(maxsize=256)
def _fitted(outline: Outline, azimuth: tuple[float, ...], middle: float, half: float) -> Taylor:
    """See ``outline.fitted``: distances (n,) in one variable, the length middle + half·d.

    T(y) = y − misfit(y) takes the curve's length, width and shift y to better ones. With the
    polynomial y₀(d) that its iteration comes to, and three variables e more, T(y₀ + ρe) is modelled
    over all d and e; where it stays within y₀ + ρ[−1, 1]³, T has a fixed point there for every d
    (Brouwer), and y₀ + ρ[−1, 1]³ encloses it.
    """
    theta = np.array(azimuth)

    def better(curve: Taylor, length: Taylor) -> Taylor:
        return curve - _misfit(outline, theta, curve, length)

    length = Taylor.variable(0, 1, middle, half)
    guess = joined([length[None], Taylor.constant([1.0, 0.0], 1)])
    guess = iterated(guess, lambda curve: better(curve, length), STEPS)
    wide, length = guess.over(4, [0]), Taylor.variable(0, 4, middle, half)
    reach = np.full(3, 1e-15)
    for _ in range(GROWN):
        tube = wide + stacked([Taylor.variable(1 + k, 4, 0.0, reach[k]) for k in range(3)])
        moved = (better(tube, length) - wide).magnitude
        if bool(np.all(moved <= reach)):
            return touching(outline, theta, tube).under(1)
        reach = 1.5 * moved
        if reach.max() > FARTHEST:
            break
    raise NoEnclosure


def _misfit(outline: Outline, theta: Floats, curve: Taylor, length: Taylor) -> Taylor:
    """What the polygon about the curve has too much in length and width, and in its shift, (3,)."""
    points = corners_of(theta, touching(outline, theta, curve))
    x, y = points[:, 0], points[:, 1]
    front, back = x.greatest(), x.least()
    too_wide = y.greatest() - y.least() - 1.0
    off = (front + back) * 0.5 - length * (0.5 - outline.axis)
    return stacked([front - back - length, too_wide, off])
