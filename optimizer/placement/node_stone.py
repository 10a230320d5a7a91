"""A body as the nodes of branch and bound see it."""

import numpy as np

from optimizer.design.model import Body
from optimizer.mesh import Floats, Ints
from optimizer.placement.kernels.node_rows import UnitStone
from optimizer.placement.proof import ball_middle

OUTWARD = 1e-9  # relative allowance for rounding in what the inscribed ball is built from
INWARD = 0.1  # of the inscribed ball's radius: no facet is nearer to the stone's middle
GUIDE = 24  # cells of the guide along a cube's side: finer than facets lie apart
ON = 1e-7  # of the size: a corner nearer than this to a facet is on it


def stone_of(body: Body) -> tuple[UnitStone, Floats]:
    """The body at size 1, and its middle (3,) in the body's own frame.

    That is the middle of the ball around it. In a flat body it may lie on a facet, of which no size
    is then the true one beyond rounding: there it moves towards the inscribed ball's.
    """
    heart, radius = _inscribed(body)
    middle = ball_middle(body.vertices)
    if np.any(body.offsets - body.normals @ middle < INWARD * radius):
        middle = middle + INWARD * (heart - middle)
    corners = np.ascontiguousarray(body.vertices - middle)
    offsets = body.offsets - body.normals @ middle
    lengths = np.linalg.norm(corners, axis=1) * (1.0 + 1e-15)
    normals = np.ascontiguousarray(body.normals)
    ways, first_way = _ways_out(corners, normals, offsets)
    stone = UnitStone(
        corners, lengths, normals, offsets, ways, first_way, heart - middle,
        radius * (1.0 - OUTWARD), _guide(normals, offsets),
    )  # fmt: skip
    return stone, middle


def _inscribed(body: Body) -> tuple[Floats, float]:
    """Middle (3,) and radius of the greatest ball in a body."""
    from scipy.optimize import linprog

    ball = linprog(
        [0.0, 0.0, 0.0, -1.0],
        A_ub=np.column_stack([body.normals, np.ones(len(body.offsets))]),
        b_ub=body.offsets,
        bounds=[(None, None)] * 3 + [(0.0, None)],
    ).x
    return ball[:3], float(ball[3])


def _guide(normals: Floats, offsets: Floats) -> Ints:
    """The facet (6, GUIDE, GUIDE) that a ray through the middle of each cell of a cube leaves by;
    sides in the order +x, −x, +y, −y, +z, −z, each by its two other axes in turn."""
    steps = (np.arange(GUIDE) + 0.5) / GUIDE * 2.0 - 1.0
    p, q = np.meshgrid(steps, steps, indexing="ij")
    ways = [
        np.roll(np.stack([np.full_like(p, sign), p, q], axis=2), axis, axis=2)
        for axis in range(3)
        for sign in (1.0, -1.0)
    ]
    return np.ascontiguousarray(np.argmax(np.array(ways) @ (normals / offsets[:, None]).T, axis=3))


def _ways_out(corners: Floats, normals: Floats, offsets: Floats) -> tuple[Floats, Ints]:
    """Unit directions (w, 3) out of each facet, its edges and its corners, and where each facet's
    begin (m+1,). Where the stone's clearance is round, the nearest point of a ball lies in one."""
    on = np.abs(normals @ corners.T - offsets[:, None]) <= ON * offsets.max()
    outward = on.T @ normals
    outward /= np.linalg.norm(outward, axis=1, keepdims=True)
    shared = on.astype(int) @ on.T.astype(int) >= 2
    ways, first = [], [0]
    for i, normal in enumerate(normals):
        beside = shared[i] & (np.arange(len(normals)) != i)
        sums = [normal[None], normal + normals[beside], 3.0 * normal + normals[beside]]
        sums += [outward[on[i]], normal + outward[on[i]]]
        out = np.vstack(sums)
        ways.append(out / np.linalg.norm(out, axis=1, keepdims=True))
        first.append(first[-1] + len(out))
    return np.ascontiguousarray(np.vstack(ways)), np.array(first)
