"""Compiled: which triangles pass through each other by more than a tolerance.

Two cross where an edge of one runs clearly through the inside of the other, or two edges meet
between their ends at an angle; neighbours may touch in what they share.
"""

import math

import numpy as np

from optimizer.boxes.kernels.build import STACK
from optimizer.compiled import compiled

_LEAST_SINE = 1e-2  # edges that meet at a smaller angle lie along each other


@compiled
def search(corners, faces, boxes, last, first_leaf, end_leaf, tol, most_found, most_tried):
    """(crossing pairs whose first triangle lies in the given leaves of a tree of boxes, (k, 2), by
    number in the tree; how many pairs were tried); stops at ``most_found`` or ``most_tried``.

    ``last`` is the last leaf under each node.
    """
    found = [(0, 0) for _ in range(0)]
    width = (len(boxes) + 1) // 2
    stack = np.empty(STACK, np.int64)
    tried = 0
    for leaf in range(first_leaf, end_leaf):
        own = width - 1 + leaf
        stack[0], depth = 0, 1
        while depth > 0 and len(found) < most_found and tried < most_tried:
            depth -= 1
            node = stack[depth]
            if last[node] < leaf or _apart(boxes[node], boxes[own], tol):
                continue
            if node >= width - 1:
                other = node - width + 1
                tried += _try_leaves(corners, faces, width, leaf, other, tol, found)
            else:
                stack[depth], stack[depth + 1] = 2 * node + 1, 2 * node + 2
                depth += 2
    pairs = np.empty((len(found), 2), np.int64)
    for k in range(len(found)):
        pairs[k, 0], pairs[k, 1] = found[k]
    return pairs, tried


@compiled
def _try_leaves(corners, faces, leaves, leaf, other, tol, found):
    """Add the crossing pairs of two leaves to ``found``; return how many pairs lie close."""
    n, tried = len(corners), 0
    for i in range(leaf * n // leaves, (leaf + 1) * n // leaves):
        for j in range(max(i + 1, other * n // leaves), (other + 1) * n // leaves):
            if _boxes_apart(corners[i], corners[j], tol) or _shared(faces[i], faces[j]) > 1:
                continue
            tried += 1
            if _cross(corners[i], corners[j], tol):
                found.append((i, j))
    return tried


@compiled
def _apart(one, other, tol):
    """Do two boxes (lowest and highest corner) lie farther apart than ``tol`` along an axis?"""
    for k in range(3):  # noqa: SIM110 (numba compiles no generators)
        if one[k] > other[3 + k] + tol or one[3 + k] < other[k] - tol:
            return True
    return False


@compiled
def _boxes_apart(a, b, tol):
    for k in range(3):
        if min(a[0, k], a[1, k], a[2, k]) > max(b[0, k], b[1, k], b[2, k]) + tol:
            return True
        if max(a[0, k], a[1, k], a[2, k]) < min(b[0, k], b[1, k], b[2, k]) - tol:
            return True
    return False


@compiled
def _shared(f, g):
    n = 0
    for i in range(3):
        for j in range(3):
            n += f[i] == g[j]
    return n


@compiled
def _cross(a, b, tol):
    """Do triangles ``a`` and ``b`` (3, 3) pass through each other by more than ``tol``?"""
    n_a, solid_a = _unit_normal(a, tol)
    n_b, solid_b = _unit_normal(b, tol)
    if (solid_b and _one_side(a, b[0], n_b, tol)) or (solid_a and _one_side(b, a[0], n_a, tol)):
        return False
    if (solid_b and _pierces(a, b, n_b, tol)) or (solid_a and _pierces(b, a, n_a, tol)):
        return True
    for i in range(3):
        for j in range(3):
            if _edges_meet(a[i], a[(i + 1) % 3], b[j], b[(j + 1) % 3], tol):
                return True
    return False


@compiled
def _dot(u, v):
    """The dot product u · v of two vectors (3,)."""
    return u[0] * v[0] + u[1] * v[1] + u[2] * v[2]


@compiled
def _times(u, v):
    """The cross product u × v, (3,)."""
    return (u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0])


@compiled
def _less(u, v):
    return (u[0] - v[0], u[1] - v[1], u[2] - v[2])


@compiled
def _unit_normal(t, tol):
    """(normal, whether the triangle is wider than ``tol`` everywhere it counts)."""
    e, f, g = _less(t[1], t[0]), _less(t[2], t[0]), _less(t[2], t[1])
    n = _times(e, f)
    area2 = math.sqrt(_dot(n, n))
    longest = math.sqrt(max(_dot(e, e), _dot(f, f), _dot(g, g)))
    if area2 <= 2.0 * tol * longest:
        return (0.0, 0.0, 0.0), False
    return (n[0] / area2, n[1] / area2, n[2] / area2), True


@compiled
def _one_side(t, origin, n, tol):
    """Does ``t`` lie clear of the plane, all of it on one side?"""
    d0, d1, d2 = (
        _dot(_less(t[0], origin), n), _dot(_less(t[1], origin), n), _dot(_less(t[2], origin), n),
    )  # fmt: skip
    return min(d0, d1, d2) > tol or max(d0, d1, d2) < -tol


@compiled
def _pierces(t, b, n, tol):
    """Does an edge of ``t`` go from beyond one side of ``b`` to beyond the other, through it?"""
    for i in range(3):
        p, q = t[i], t[(i + 1) % 3]
        d_p, d_q = _dot(_less(p, b[0]), n), _dot(_less(q, b[0]), n)
        if (d_p > tol and d_q < -tol) or (d_p < -tol and d_q > tol):
            s = d_p / (d_p - d_q)
            x = (p[0] + s * (q[0] - p[0]), p[1] + s * (q[1] - p[1]), p[2] + s * (q[2] - p[2]))
            if _well_inside(x, b, n, tol):
                return True
    return False


@compiled
def _well_inside(x, b, n, tol):
    for i in range(3):
        e = _less(b[(i + 1) % 3], b[i])
        inward = _times(n, e)
        if _dot(_less(x, b[i]), inward) <= tol * math.sqrt(_dot(e, e)):
            return False
    return True


@compiled
def _edges_meet(p, q, r, s, tol):
    """Do segments pq and rs meet within ``tol``, both clearly between their ends, at an angle?"""
    u, v, w = _less(q, p), _less(s, r), _less(p, r)
    uu, uv, vv, uw, vw = _dot(u, u), _dot(u, v), _dot(v, v), _dot(u, w), _dot(v, w)
    det = uu * vv - uv * uv
    if det <= _LEAST_SINE * _LEAST_SINE * uu * vv:
        return False
    i, j = (uv * vw - vv * uw) / det, (uu * vw - uv * uw) / det
    margin = 2.0 * tol * math.sqrt(uu * vv / det)
    own, other = margin / math.sqrt(uu), margin / math.sqrt(vv)
    if not (own < i < 1.0 - own and other < j < 1.0 - other):
        return False
    gap = (w[0] + i * u[0] - j * v[0], w[1] + i * u[1] - j * v[1], w[2] + i * u[2] - j * v[2])
    return _dot(gap, gap) <= tol * tol
