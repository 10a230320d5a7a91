"""Compiled: the gauge of a growing body over triangles and over the whole surface.

A body that grows with σ is {z : normals·z <= alpha + beta·σ}. The *gauge* of a surface point y
at a pose (R, t) is the σ at which the growing body reaches y: max_i (a_i·Rᵀ(y − t) − alpha_i) /
beta_i. The best σ at a pose is the gauge's least value over the whole surface. Where the body keeps
a margin, alpha holds it with square edges (mitred): such a gauge is never too large, and where it
is near enough to matter the triangle is asked again with round ones (``nearest.grown_to``).

On the way down the tree a box keeps only those facets that can be the greatest somewhere in it:
near a contact that is one or two, of a stone's fifty.

``placed`` is a growth laid in the scan frame: (g, h, base, pace, margins), where the facets' values
are g·y − h, the body's corners base + pace·σ (k, 3) and its margin margins[0] + margins[1]·σ.
``room`` is what ``workspace`` gives: place to work in, one a thread.
"""

import numpy as np

from optimizer.boxes.kernels.build import STACK
from optimizer.compiled import compiled
from optimizer.placement.kernels.linear import linear_program
from optimizer.placement.kernels.nearest import grown_to
from optimizer.placement.kernels.rows import put


@compiled
def world_facets(normals, alpha, beta, rotation, translation):
    """Facets in the scan frame, scaled so that the gauge is max_i g[i]·y − h[i]."""
    m = normals.shape[0]
    g = np.empty((m, 3))
    h = np.empty(m)
    for i in range(m):
        h[i] = alpha[i] / beta[i]
        for k in range(3):
            total = 0.0
            for j in range(3):
                total += rotation[k, j] * normals[i, j]
            g[i, k] = total / beta[i]
            h[i] += g[i, k] * translation[k]
    return g, h


@compiled
def workspace(m):
    """Room to work in for a body of m facets: (values (m, 3), weights (3,), shares (m,), pull (3,),
    point (3,), nodes, bounds, counts (STACK,), lists (STACK, m), here (m,)).

    ``weights`` are the barycentric place of a triangle's least point, ``shares`` the facets'
    multipliers there (they add to 1), ``pull`` and ``point`` what they come to; ``lists`` and
    ``counts`` the facets that a node on the stack keeps.
    """
    return (
        np.empty((m, 3)), np.empty(3), np.empty(m), np.empty(3), np.empty(3),
        np.empty(STACK, np.int64), np.empty(STACK), np.empty(STACK, np.int64),
        np.empty((STACK, m), np.int64), np.empty(m, np.int64),
    )  # fmt: skip


@compiled
def box_gauge(g, h, boxes, node, stop, facets, count, kept, most):
    """A lower bound of the gauge over a box, and how many of ``facets`` can be the greatest
    somewhere in it: these go into ``kept``, the one that gives the bound first.

    Ends early, with nothing kept, once a facet reaches ``stop``. ``most`` (m,) is room.
    """
    cx = 0.5 * (boxes[node, 0] + boxes[node, 3])
    cy = 0.5 * (boxes[node, 1] + boxes[node, 4])
    cz = 0.5 * (boxes[node, 2] + boxes[node, 5])
    hx = 0.5 * (boxes[node, 3] - boxes[node, 0])
    hy = 0.5 * (boxes[node, 4] - boxes[node, 1])
    hz = 0.5 * (boxes[node, 5] - boxes[node, 2])
    nx, ny, nz = boxes[node, 6], boxes[node, 7], boxes[node, 8]
    off = 0.5 * (boxes[node, 9] + boxes[node, 10]) - (nx * cx + ny * cy + nz * cz)
    thick = 0.5 * (boxes[node, 10] - boxes[node, 9])
    best = -np.inf
    first = 0
    for step in range(count):
        i = facets[step]
        x, y, z = g[i, 0], g[i, 1], g[i, 2]
        # Along the normal the slab bounds, aside of it the box: any such split of g is sound.
        along = x * nx + y * ny + z * nz
        middle = x * cx + y * cy + z * cz + along * off - h[i]
        half = abs(x - along * nx) * hx + abs(y - along * ny) * hy + abs(z - along * nz) * hz
        half += abs(along) * thick
        most[step] = middle + half
        if middle - half > best:
            best = middle - half
            first = step
            if best >= stop:
                return best, 0
    kept[0] = facets[first]
    size = 1
    for step in range(count):
        if most[step] >= best and step != first:
            kept[size] = facets[step]
            size += 1
    return best, size


@compiled
def triangle_gauge(g, h, facets, count, triangle, enough, stop, room):
    """The least gauge over one triangle, or a lower bound of it that is ``enough``.

    ``facets`` (count,) are those that may count. The room's weights and shares tell the least
    point and what holds it; they are not set where the answer is ``stop`` or more. No linear
    program is needed where one facet alone keeps the whole triangle at ``enough`` or more, or
    where the least value is at a corner.
    """
    values, weights, shares = room[0], room[1], room[2]
    lower, best, low = -np.inf, 0, 0
    top0, top1, top2 = -np.inf, -np.inf, -np.inf
    for step in range(count):
        i = facets[step]
        v0 = g[i, 0] * triangle[0, 0] + g[i, 1] * triangle[0, 1] + g[i, 2] * triangle[0, 2] - h[i]
        v1 = g[i, 0] * triangle[1, 0] + g[i, 1] * triangle[1, 1] + g[i, 2] * triangle[1, 2] - h[i]
        v2 = g[i, 0] * triangle[2, 0] + g[i, 1] * triangle[2, 1] + g[i, 2] * triangle[2, 2] - h[i]
        values[step, 0], values[step, 1], values[step, 2] = v0, v1, v2
        least, corner = v0, 0
        if v1 < least:
            least, corner = v1, 1
        if v2 < least:
            least, corner = v2, 2
        if least > lower:
            lower, best, low = least, step, corner
            if lower >= stop:
                return lower
        top0 = max(top0, v0)
        top1 = max(top1, v1)
        top2 = max(top2, v2)
    shares[:] = 0.0
    weights[:] = 0.0
    # The facet that separates best, and its corner.
    shares[facets[best]] = 1.0
    weights[low] = 1.0
    if min(top0, top1, top2) <= lower or lower >= enough:
        return lower
    inside = _least_inside(values, facets, count, np.int64(best), np.int64(low), weights, shares)
    return max(lower, inside)


@compiled
def _least_inside(values, facets, count, best, low, weights, shares):
    """The least over a triangle of the greatest of ``values`` (count, 3), linear between corners.

    Unknowns: the weights of the two other corners, and the value; started from the facet that
    separates best and its lowest corner, where all multipliers are not negative.
    """
    q, r = (low + 1) % 3, (low + 2) % 3
    A = np.zeros((count + 3, 3))
    b = np.zeros(count + 3)
    for i in range(count):
        A[i, 0] = values[i, q] - values[i, low]
        A[i, 1] = values[i, r] - values[i, low]
        A[i, 2] = -1.0
        b[i] = -values[i, low]
    A[count, 0] = -1.0
    A[count + 1, 1] = -1.0
    A[count + 2, 0] = 1.0
    A[count + 2, 1] = 1.0
    b[count + 2] = 1.0
    start = np.array([count, count + 1, best])
    inverse = np.zeros((3, 3))
    inverse[0, 0] = -1.0
    inverse[1, 1] = -1.0
    inverse[2, 0] = -A[best, 0]
    inverse[2, 1] = -A[best, 1]
    inverse[2, 2] = -1.0
    c = np.array([0.0, 0.0, -1.0])
    x, basis, y, state = linear_program(A, b, c, start, inverse)
    if state != 0:  # never seen; the lower bound is still sound
        return -np.inf
    shares[facets[best]] = 0.0
    for k in range(3):
        if basis[k] < count:
            shares[facets[basis[k]]] = y[k]
    weights[q] = min(max(x[0], 0.0), 1.0)
    weights[r] = min(max(x[1], 0.0), 1.0)
    weights[low] = 1.0 - weights[q] - weights[r]
    return x[2]


@compiled
def _over_one_facet(g, h, shares, point, margin, value):
    """Whether a point held off by one facet alone has its foot on that facet, inside all others:
    then square and round edges come to the same."""
    facet = -1
    for i in range(g.shape[0]):
        if shares[i] > 1.0 - 1e-12:
            facet = i
    if facet < 0:
        return False
    steep = np.sqrt(g[facet, 0] ** 2 + g[facet, 1] ** 2 + g[facet, 2] ** 2)
    x = point[0] - g[facet, 0] * (margin / steep)
    y = point[1] - g[facet, 1] * (margin / steep)
    z = point[2] - g[facet, 2] * (margin / steep)
    for i in range(g.shape[0]):
        beyond = g[i, 0] * x + g[i, 1] * y + g[i, 2] * z - h[i] - value
        length = np.sqrt(g[i, 0] ** 2 + g[i, 1] ** 2 + g[i, 2] ** 2)
        if i != facet and beyond > -margin * length:
            return False
    return True


@compiled
def held_triangle(placed, facets, count, triangle, enough, stop, room):
    """A triangle's gauge with round edges: as ``triangle_gauge``, and where it is below ``stop``
    the room's pull and point are set. From ``enough`` on the edges stay square."""
    g, h, base, pace, margins = placed
    weights, shares, pull, point = room[1], room[2], room[3], room[4]
    value = triangle_gauge(g, h, facets, count, triangle, enough, stop, room)
    if value >= stop:
        return value
    for k in range(3):
        pull[k] = 0.0
        point[k] = 0.0
        for corner in range(3):
            point[k] += weights[corner] * triangle[corner, k]
        for step in range(count):
            pull[k] += shares[facets[step]] * g[facets[step], k]
    # No margin, no edges to round; or the body is entered whatever its margin; or it is enough.
    margin = margins[0] + margins[1] * value
    if margin <= 0.0 or value >= enough or _over_one_facet(g, h, shares, point, margin, value):
        return value
    return grown_to(base, pace, margins[0], margins[1], triangle, value, stop, pull, point)


@compiled
def least_gauge(triangles, boxes, root, placed, facets, count, exact, floor, ceiling, room, held):
    """Least gauge over the triangles under a node, at most ``ceiling``: (gauge, triangle), the
    triangle −1 where none is below the ceiling.

    Ends early once it is known to be below ``floor``. ``facets`` (count,) can be the greatest
    under the node. From ``exact`` on, the facet that separates a triangle best stands for its
    gauge. ``held`` (2, 3) receives the point and the pull.
    """
    g, h = placed[0], placed[1]
    nodes, bounds, counts, lists, here = room[5], room[6], room[7], room[8], room[9]
    most, pull, point = room[2], room[3], room[4]
    n = triangles.shape[0]
    leaves = (boxes.shape[0] + 1) // 2
    best, which = ceiling, -1
    nodes[0] = root
    bounds[0], counts[0] = box_gauge(g, h, boxes, root, best, facets, count, lists[0], most)
    size = 1
    while size > 0:
        size -= 1
        if bounds[size] >= best:
            continue
        node, kept = nodes[size], counts[size]
        if node >= leaves - 1:
            j = node - (leaves - 1)
            for f in range(j * n // leaves, (j + 1) * n // leaves):
                value = held_triangle(
                    placed, lists[size], kept, triangles[f], min(exact, best), best, room
                )
                if value < best:
                    best, which = value, f
                    put(held[0], point)
                    put(held[1], pull)
                    if best < floor:
                        return best, which
            continue
        put(here, lists[size, :kept])
        # The child that promises less goes on top of the stack, the other below it.
        for child in range(2):
            node_c, slot = 2 * node + 1 + child, size + child
            nodes[slot] = node_c
            bounds[slot], counts[slot] = box_gauge(
                g, h, boxes, node_c, best, here, kept, lists[slot], most
            )
        if bounds[size] < bounds[size + 1]:
            _swap(nodes, bounds, counts, lists, size)
        size += 2
    return best, which


@compiled
def _swap(nodes, bounds, counts, lists, slot):
    """Exchange two neighbours on the stack."""
    nodes[slot], nodes[slot + 1] = nodes[slot + 1], nodes[slot]
    bounds[slot], bounds[slot + 1] = bounds[slot + 1], bounds[slot]
    most = max(counts[slot], counts[slot + 1])
    for i in range(most):
        lists[slot, i], lists[slot + 1, i] = lists[slot + 1, i], lists[slot, i]
    counts[slot], counts[slot + 1] = counts[slot + 1], counts[slot]


@compiled
def surface_gauge(triangles, boxes, placed, floor, ceiling):
    """Least gauge over all triangles, at most ``ceiling``; ends early (returning a value below
    ``floor``) once it is known to be below ``floor``."""
    m = placed[0].shape[0]
    room, held = workspace(m), np.empty((2, 3))
    return least_gauge(
        triangles, boxes, np.int64(0), placed, np.arange(m), m, np.inf, floor, ceiling, room, held
    )[0]
