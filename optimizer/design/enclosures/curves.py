"""Models of how far curves reach; see ``optimizer.design.curves``."""

from functools import reduce

import numpy as np

from optimizer.design.curves import Arcs, arcs_of
from optimizer.design.enclosures.taylor import Taylor, stacked
from optimizer.design.model import Outline
from optimizer.mesh import Floats


def touching(outline: Outline, theta: Floats, curve: Taylor) -> Taylor:
    """Distances (n,) of sides that touch the outline's curve of a length, width and shift (3,)."""
    long, wide = curve[0], curve[1]
    match outline.shape:
        case "rounded":
            far = _rounded(outline.fullness, theta, long, wide)
        case "pear":
            far = _pear(theta, long, wide)
        case "egg":
            far = _egg(theta, long, wide)
        case _:
            far = _bowed(arcs_of(outline), theta, long, wide)
    return far + curve[2] * np.cos(theta)


def _rounded(fullness: float, theta: Floats, long: Taylor, wide: Taylor) -> Taylor:
    q = fullness / (fullness - 1.0)
    along = (long * 0.5).power(q) * np.abs(np.cos(theta)) ** q
    across = (wide * 0.5).power(q) * np.abs(np.sin(theta)) ** q
    return (along + across).power(1.0 / q)


def _pear(theta: Floats, long: Taylor, wide: Taylor) -> Taylor:
    ratio = long / wide
    middle = 0.5 - ratio * 0.5
    radius = (ratio - 0.5) * (ratio - 0.5) + 0.25
    x, y = np.cos(theta), np.abs(np.sin(theta))
    arc = middle * x + (0.5 - radius) * y + radius
    point, back = ratio * 0.5 * x, middle * x + 0.5
    edge = (radius - 0.5) / radius
    sides = []
    for i in range(len(theta)):
        if x[i] <= 0.0:
            sides.append(back[i])
        elif y[i] < edge.low:
            sides.append(point[i])
        elif y[i] >= edge.high:
            sides.append(arc[i])
        else:
            sides.append(arc[i].or_else(point[i]))
    return stacked(sides) * wide


def _egg(theta: Floats, long: Taylor, wide: Taylor) -> Taylor:
    ratio = long / wide
    middle, reach = 0.5 - ratio * 0.5, ratio - 0.5
    x, y = np.cos(theta), np.sin(theta)
    front = (reach * reach * x**2 + 0.25 * y**2).power(0.5)
    is_front = (x > 0.0).astype(float)
    return (middle * x + front * is_front + 0.5 * (1.0 - is_front)) * wide


def _bowed(arcs: Arcs, theta: Floats, long: Taylor, wide: Taylor) -> Taylor:
    x = long * (np.cos(theta) / arcs.extents[0])
    y = wide * (np.sin(theta) / arcs.extents[1])
    length = (x * x + y * y).power(0.5)
    return stacked([_reach(arcs, x[i], y[i], length[i]) for i in range(len(theta))])


def _reach(arcs: Arcs, x: Taylor, y: Taylor, length: Taylor) -> Taylor:
    """How far the arcs reach towards a vector (x, y): on each arc, and at each tip, between whose
    normals it may lie."""
    before, after = arcs.ends, np.roll(arcs.starts, -1)  # of the normals at the tip after an arc
    at_tips = np.roll(arcs.tips, -1, axis=0)
    found: list[Taylor] = []
    for i in range(len(at_tips)):
        if _may_lie(x, y, arcs.starts[i], arcs.ends[i]):
            on_arc = x * arcs.centres[i, 0] + y * arcs.centres[i, 1]
            found.append(on_arc + length * arcs.radius[i])
        if _may_lie(x, y, before[i], after[i]):
            found.append(x * at_tips[i, 0] + y * at_tips[i, 1])
    return reduce(Taylor.or_else, found)


def _may_lie(x: Taylor, y: Taylor, start: float, end: float) -> bool:
    """Whether a vector may lie between two azimuths, which are less than half a turn apart."""
    past = y * np.cos(start) - x * np.sin(start)
    short = x * np.sin(end) - y * np.cos(end)
    along = x * (np.cos(start) + np.cos(end)) + y * (np.sin(start) + np.sin(end))
    return bool(past.high >= 0.0 and short.high >= 0.0 and along.high >= 0.0)
