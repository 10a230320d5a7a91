"""Compiled kernels of the search: a tree of boxes, gauges and contacts.

Everything is float64 and C-contiguous; the public wrappers in the other modules see to that.

A body that grows with σ is {z : normals·z <= alpha + beta·σ}. The *gauge* of a surface point y
at a pose (R, t) is the σ at which the growing body reaches y: max_i (a_i·Rᵀ(y − t) − alpha_i) /
beta_i. The best σ at a pose is the gauge's least value over the whole surface. Where the body keeps
a margin, alpha holds it with square edges (mitred): such a gauge is never too large, and where it
is near enough to matter the triangle is asked again with round ones (``nearest.grown_to``).
"""

import numpy as np
from numba import njit

from optimizer.placement.linear import linear_program
from optimizer.placement.nearest import grown_to

LEAF = 4  # triangles in a leaf of the tree
STACK = 128  # deeper than any tree that fits in memory


@njit(cache=True, nogil=True)
def tree_boxes(triangles):
    """Boxes (lowest, highest corner) of a balanced tree over triangles sorted along a curve.

    Node i has children 2i+1 and 2i+2; with L leaves, leaf j is node L−1+j and holds triangles
    j·n//L to (j+1)·n//L. (n, 3, 3) -> (2L−1, 6).
    """
    n = triangles.shape[0]
    leaves = 1
    while leaves * LEAF < n:
        leaves *= 2
    boxes = np.empty((2 * leaves - 1, 6))
    for j in range(leaves):
        node = leaves - 1 + j
        for k in range(3):
            boxes[node, k] = np.inf
            boxes[node, 3 + k] = -np.inf
        for f in range(j * n // leaves, (j + 1) * n // leaves):
            for corner in range(3):
                for k in range(3):
                    value = triangles[f, corner, k]
                    boxes[node, k] = min(boxes[node, k], value)
                    boxes[node, 3 + k] = max(boxes[node, 3 + k], value)
    for node in range(leaves - 2, -1, -1):
        for k in range(3):
            boxes[node, k] = min(boxes[2 * node + 1, k], boxes[2 * node + 2, k])
            boxes[node, 3 + k] = max(boxes[2 * node + 1, 3 + k], boxes[2 * node + 2, 3 + k])
    return boxes


@njit(cache=True, nogil=True)
def morton_codes(points, low, span):
    """Places along a space-filling (Z-order) curve, 20 bits an axis. (n, 3) -> (n,)."""
    codes = np.empty(points.shape[0], np.int64)
    for i in range(points.shape[0]):
        code = 0
        for k in range(3):
            cell = int((points[i, k] - low[k]) / span * 1048575.0)
            for bit in range(20):
                code |= ((cell >> bit) & 1) << (3 * bit + k)
        codes[i] = code
    return codes


@njit(cache=True, nogil=True)
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


@njit(cache=True, nogil=True)
def box_gauge(g, h, boxes, node, stop, first):
    """A lower bound of the gauge over a box: (bound, the facet that gives it). Ends early once
    a facet reaches ``stop``; facet ``first`` is tried first."""
    m = g.shape[0]
    cx = 0.5 * (boxes[node, 0] + boxes[node, 3])
    cy = 0.5 * (boxes[node, 1] + boxes[node, 4])
    cz = 0.5 * (boxes[node, 2] + boxes[node, 5])
    hx = 0.5 * (boxes[node, 3] - boxes[node, 0])
    hy = 0.5 * (boxes[node, 4] - boxes[node, 1])
    hz = 0.5 * (boxes[node, 5] - boxes[node, 2])
    best = -np.inf
    facet = first
    for step in range(-1, m):
        i = first if step < 0 else step
        value = (
            g[i, 0] * cx
            + g[i, 1] * cy
            + g[i, 2] * cz
            - h[i]
            - abs(g[i, 0]) * hx
            - abs(g[i, 1]) * hy
            - abs(g[i, 2]) * hz
        )
        if value > best:
            best = value
            facet = i
            if best >= stop:
                break
    return best, facet


@njit(cache=True, nogil=True)
def triangle_gauge(g, h, triangle, enough, stop, weights, shares):
    """The least gauge over one triangle, or a lower bound of it that is ``enough``.

    ``weights`` (3,) receives the barycentric place of the least point, ``shares`` (m,) the
    facets' multipliers there (they add to 1); neither is set where the answer is ``stop`` or
    more. No linear program is needed where one facet alone keeps the whole triangle at
    ``enough`` or more, or where the least value is at a corner.
    """
    m = g.shape[0]
    lower = -np.inf
    lower_facet = 0
    lower_corner = 0
    top0 = -np.inf
    top1 = -np.inf
    top2 = -np.inf
    for i in range(m):
        v0 = g[i, 0] * triangle[0, 0] + g[i, 1] * triangle[0, 1] + g[i, 2] * triangle[0, 2] - h[i]
        v1 = g[i, 0] * triangle[1, 0] + g[i, 1] * triangle[1, 1] + g[i, 2] * triangle[1, 2] - h[i]
        v2 = g[i, 0] * triangle[2, 0] + g[i, 1] * triangle[2, 1] + g[i, 2] * triangle[2, 2] - h[i]
        least = v0
        corner = 0
        if v1 < least:
            least = v1
            corner = 1
        if v2 < least:
            least = v2
            corner = 2
        if least > lower:
            lower = least
            lower_facet = i
            lower_corner = corner
            if lower >= stop:
                return lower
        top0 = max(top0, v0)
        top1 = max(top1, v1)
        top2 = max(top2, v2)
    upper = min(top0, top1, top2)
    if upper <= lower or lower >= enough:  # the facet that separates best, and its corner
        shares[:] = 0.0
        shares[lower_facet] = 1.0
        weights[:] = 0.0
        weights[lower_corner] = 1.0
        return lower
    # Unknowns: the weights of the two other corners, and the gauge; started from the facet
    # that separates best and its lowest corner, where all multipliers are not negative.
    p = lower_corner
    q = (p + 1) % 3
    r = (p + 2) % 3
    A = np.zeros((m + 3, 3))
    b = np.zeros(m + 3)
    for i in range(m):
        vp = g[i, 0] * triangle[p, 0] + g[i, 1] * triangle[p, 1] + g[i, 2] * triangle[p, 2] - h[i]
        vq = g[i, 0] * triangle[q, 0] + g[i, 1] * triangle[q, 1] + g[i, 2] * triangle[q, 2] - h[i]
        vr = g[i, 0] * triangle[r, 0] + g[i, 1] * triangle[r, 1] + g[i, 2] * triangle[r, 2] - h[i]
        A[i, 0] = vq - vp
        A[i, 1] = vr - vp
        A[i, 2] = -1.0
        b[i] = -vp
    A[m, 0] = -1.0
    A[m + 1, 1] = -1.0
    A[m + 2, 0] = 1.0
    A[m + 2, 1] = 1.0
    b[m + 2] = 1.0
    start = np.array([m, m + 1, lower_facet])
    inverse = np.zeros((3, 3))
    inverse[0, 0] = -1.0
    inverse[1, 1] = -1.0
    inverse[2, 0] = -A[lower_facet, 0]
    inverse[2, 1] = -A[lower_facet, 1]
    inverse[2, 2] = -1.0
    c = np.array([0.0, 0.0, -1.0])
    x, basis, y, state = linear_program(A, b, c, start, inverse, 100)
    shares[:] = 0.0
    if state != 0:  # never seen; the lower bound is still sound
        shares[lower_facet] = 1.0
        weights[:] = 0.0
        weights[lower_corner] = 1.0
        return lower
    for k in range(3):
        if basis[k] < m:
            shares[basis[k]] = y[k]
    weights[q] = min(max(x[0], 0.0), 1.0)
    weights[r] = min(max(x[1], 0.0), 1.0)
    weights[p] = 1.0 - weights[q] - weights[r]
    return max(lower, x[2])


@njit(cache=True, nogil=True)
def _over_one_facet(g, h, shares, point, margin, value):
    """Whether a point held off by one facet alone has its foot on that facet, inside all others:
    then square and round edges come to the same."""
    facet = -1
    for i in range(g.shape[0]):
        if shares[i] > 1.0 - 1e-12:
            facet = i
    if facet < 0:
        return False
    steep = np.sqrt(g[facet] @ g[facet])
    foot = point - g[facet] * (margin / steep)
    for i in range(g.shape[0]):
        if i != facet and g[i] @ foot - h[i] - value > -margin * np.sqrt(g[i] @ g[i]):
            return False
    return True


@njit(cache=True, nogil=True)
def _rounded(g, h, shares, weights, triangle, base, pace, margins, value, stop, pull, point):
    """The triangle's gauge with round edges, from its mitred gauge and what that rests on."""
    for k in range(3):
        pull[k] = 0.0
        point[k] = 0.0
        for corner in range(3):
            point[k] += weights[corner] * triangle[corner, k]
    for i in range(g.shape[0]):
        if shares[i] != 0.0:
            for k in range(3):
                pull[k] += shares[i] * g[i, k]
    # No margin, no edges to round; or the body is entered whatever its margin; or it is enough.
    margin = margins[0] + margins[1] * value
    if margin <= 0.0 or value >= stop or _over_one_facet(g, h, shares, point, margin, value):
        return value
    return grown_to(base, pace, margins[0], margins[1], triangle, value, stop, pull, point)


@njit(cache=True, nogil=True)
def surface_gauge(triangles, boxes, g, h, base, pace, margins, floor, ceiling):
    """Least gauge over all triangles, at most ``ceiling``; ends early (returning a value below
    ``floor``) once it is known to be below ``floor``.

    ``base`` + ``pace``·σ (k, 3): the corners in the scan frame; ``margins``: (m0, m1), the margin
    being m0 + m1·σ.
    """
    n = triangles.shape[0]
    leaves = (boxes.shape[0] + 1) // 2
    weights, shares = np.zeros(3), np.zeros(g.shape[0])
    pull, point = np.empty(3), np.empty(3)
    nodes = np.empty(STACK, np.int64)
    bounds = np.empty(STACK)
    facets = np.empty(STACK, np.int64)
    best = ceiling
    nodes[0] = 0
    bounds[0], facets[0] = box_gauge(g, h, boxes, 0, best, 0)
    size = 1
    while size > 0:
        size -= 1
        if bounds[size] >= best:
            continue
        node = nodes[size]
        hint = facets[size]
        if node >= leaves - 1:
            j = node - (leaves - 1)
            for f in range(j * n // leaves, (j + 1) * n // leaves):
                value = triangle_gauge(g, h, triangles[f], best, best, weights, shares)
                if value >= best:
                    continue
                value = _rounded(
                    g,
                    h,
                    shares,
                    weights,
                    triangles[f],
                    base,
                    pace,
                    margins,
                    value,
                    best,
                    pull,
                    point,
                )
                if value < best:
                    best = value
                    if best < floor:
                        return best
            continue
        left, left_facet = box_gauge(g, h, boxes, 2 * node + 1, best, hint)
        right, right_facet = box_gauge(g, h, boxes, 2 * node + 2, best, hint)
        near, far = (1, 2) if left <= right else (2, 1)
        nodes[size] = 2 * node + far
        bounds[size] = right if far == 2 else left
        facets[size] = right_facet if far == 2 else left_facet
        nodes[size + 1] = 2 * node + near
        bounds[size + 1] = left if near == 1 else right
        facets[size + 1] = left_facet if near == 1 else right_facet
        size += 2
    return best


@njit(cache=True, nogil=True)
def surface_contacts(
    triangles, boxes, g, h, base, pace, margins, exact, cut, index, points, pulls, gauges
):
    """Every triangle whose gauge is below ``cut``, into arrays with room for c of them: its
    number into ``index``, where it holds the body (scan frame) into ``points`` (c, 3), the
    direction in which the gauge grows there into ``pulls`` (c, 3), the gauge into ``gauges``.
    From ``exact`` on, the facet that separates the triangle best is enough in place of the
    gauge. Returns how many; c + 1: there are more than c. Other arguments as ``surface_gauge``."""
    n = triangles.shape[0]
    leaves = (boxes.shape[0] + 1) // 2
    weights, shares = np.zeros(3), np.zeros(g.shape[0])
    pull, point = np.empty(3), np.empty(3)
    nodes = np.empty(STACK, np.int64)
    count = 0
    nodes[0] = 0
    size = 1
    while size > 0:
        size -= 1
        node = nodes[size]
        bound, _ = box_gauge(g, h, boxes, node, cut, 0)
        if bound >= cut:
            continue
        if node < leaves - 1:
            nodes[size] = 2 * node + 2
            nodes[size + 1] = 2 * node + 1
            size += 2
            continue
        j = node - (leaves - 1)
        for f in range(j * n // leaves, (j + 1) * n // leaves):
            value = triangle_gauge(g, h, triangles[f], exact, cut, weights, shares)
            if value >= cut:
                continue
            # From ``exact`` on no more is asked than the facet that keeps the triangle off.
            value = _rounded(
                g, h, shares, weights, triangles[f], base, pace, margins, value,
                value if value >= exact else cut, pull, point,
            )  # fmt: skip
            if value >= cut:
                continue
            if count == gauges.shape[0]:
                return count + 1
            index[count] = f
            gauges[count] = value
            points[count] = point
            pulls[count] = pull
            count += 1
    return count


@njit(cache=True, nogil=True)
def point_gauge(points, order, g, h, floor, ceiling):
    """Least gauge over ``points`` (n, 3) visited in ``order`` (n,), at most ``ceiling``; ends
    early once below ``floor``."""
    best = ceiling
    facet = 0
    for index in order:
        x = points[index, 0]
        y = points[index, 1]
        z = points[index, 2]
        value = -np.inf
        for step in range(-1, g.shape[0]):
            i = facet if step < 0 else step
            candidate = g[i, 0] * x + g[i, 1] * y + g[i, 2] * z - h[i]
            if candidate > value:
                value = candidate
                if value >= best:
                    facet = i
                    break
        if value < best:
            best = value
            if best < floor:
                return best
    return best


@njit(cache=True, nogil=True)
def point_contacts(points, g, h, cut, index, pulls, gauges):
    """As ``surface_contacts``, for points alone, all of which have room."""
    count = 0
    facet = 0
    for p in range(points.shape[0]):
        x = points[p, 0]
        y = points[p, 1]
        z = points[p, 2]
        value = -np.inf
        active = facet
        for step in range(-1, g.shape[0]):
            i = facet if step < 0 else step
            candidate = g[i, 0] * x + g[i, 1] * y + g[i, 2] * z - h[i]
            if candidate > value:
                value = candidate
                active = i
                if value >= cut:
                    facet = i
                    break
        if value < cut:
            index[count] = p
            gauges[count] = value
            pulls[count] = g[active]
            count += 1
    return count


@njit(cache=True, nogil=True)
def tournament(points, centres, orders, rotations, normals, alpha, beta, ceiling, keep, best):
    """For each rotation the centre with the greatest gauge: (gauges, centre indices).

    ``orders`` (c, n) visits the points nearest to each centre first. A pose is dropped once it
    falls below ``keep`` times the best seen so far (``best`` at the start).
    """
    count = rotations.shape[0]
    gauges = np.full(count, -np.inf)
    which = np.zeros(count, np.int64)
    for r in range(count):
        for c in range(centres.shape[0]):
            g, h = world_facets(normals, alpha, beta, rotations[r], centres[c])
            floor = max(keep * best, gauges[r])
            value = point_gauge(points, orders[c], g, h, floor, ceiling)
            if value >= floor and value > gauges[r]:
                gauges[r] = value
                which[r] = c
                best = max(best, value)
    return gauges, which


@njit(cache=True, nogil=True)
def winding_number(triangles, point):
    """How often the surface winds round the point: 1 inside, 0 outside (Van Oosterom and
    Strackee 1983, solid angle of a triangle)."""
    total = 0.0
    for f in range(triangles.shape[0]):
        ax = triangles[f, 0, 0] - point[0]
        ay = triangles[f, 0, 1] - point[1]
        az = triangles[f, 0, 2] - point[2]
        bx = triangles[f, 1, 0] - point[0]
        by = triangles[f, 1, 1] - point[1]
        bz = triangles[f, 1, 2] - point[2]
        cx = triangles[f, 2, 0] - point[0]
        cy = triangles[f, 2, 1] - point[1]
        cz = triangles[f, 2, 2] - point[2]
        a = np.sqrt(ax * ax + ay * ay + az * az)
        b = np.sqrt(bx * bx + by * by + bz * bz)
        c = np.sqrt(cx * cx + cy * cy + cz * cz)
        determinant = ax * (by * cz - bz * cy) - ay * (bx * cz - bz * cx) + az * (bx * cy - by * cx)
        divisor = (
            a * b * c
            + (ax * bx + ay * by + az * bz) * c
            + (bx * cx + by * cy + bz * cz) * a
            + (cx * ax + cy * ay + cz * az) * b
        )
        total += np.arctan2(determinant, divisor)
    return total / (2.0 * np.pi)
