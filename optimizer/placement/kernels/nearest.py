"""Compiled: how far a growing convex body keeps from a triangle, exactly and with round corners.

Distances by the method of Gilbert, Johnson and Keerthi (A fast procedure for computing the distance
between complex objects in three-dimensional space, 1988). Whatever its rounding, an answer counts
only through the direction found: along it, body and triangle are apart by the difference of
their supports, so that a size given here is never too large.
"""

import numpy as np

from optimizer.compiled import compiled

ROUNDS = 50  # of closing in on the nearest points; a handful is the rule
NEWTON = 30  # of growing the body up to the triangle; three or four are the rule
CLOSE = 1e-11  # relative gap of the squares of distance and separation at which to stop: 1e-12 mm


@compiled
def _dot(a, b):
    """The dot product a · b of two vectors (3,)."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


@compiled
def _solve(products, chosen, size, gram, shares):
    """Shares of the point nearest to the origin on the point, line, plane or space through some
    corners; False where they are degenerate or the point lies outside them.

    ``products`` (4, 4) are the corners' dot products, ``gram`` (3, 4) is room to work in.
    """
    if size == 1:
        shares[0] = 1.0
        return True
    n = size - 1
    c = chosen[0]
    scale = 0.0
    for i in range(n):
        p = chosen[i + 1]
        gram[i, 3] = products[c, c] - products[p, c]
        for j in range(n):
            q = chosen[j + 1]
            gram[i, j] = products[p, q] - products[p, c] - products[c, q] + products[c, c]
        scale += gram[i, i]
    for i in range(n):  # elimination; the matrix is positive definite where it is regular
        pivot = gram[i, i]
        if pivot <= 1e-14 * scale:
            return False
        for r in range(i + 1, n):
            factor = gram[r, i] / pivot
            for k in range(i, n):
                gram[r, k] -= factor * gram[i, k]
            gram[r, 3] -= factor * gram[i, 3]
    total = 0.0
    for i in range(n - 1, -1, -1):
        value = gram[i, 3]
        for k in range(i + 1, n):
            value -= gram[i, k] * shares[k + 1]
        shares[i + 1] = value / gram[i, i]
        if shares[i + 1] < 0.0:
            return False
        total += shares[i + 1]
    shares[0] = 1.0 - total
    return shares[0] >= 0.0


@compiled
def _nearest_to_origin(W, count, products, chosen, gram, shares, best_shares):
    """Shares of the ``count`` corners of a simplex at its point nearest to the origin, tried over
    all its faces; those not needed get 0. The last corner is new: no face without it is nearer."""
    for i in range(count):
        for j in range(count):
            products[i, j] = _dot(W[i], W[j])
    best = np.inf
    last = count - 1
    for mask in range(1 << last):
        size = np.int64(1)
        chosen[0] = last
        for i in range(last):
            if (mask >> i) & 1:
                chosen[size] = i
                size += 1
        if not _solve(products, chosen, size, gram, shares):
            continue
        length = 0.0
        for i in range(size):
            for j in range(size):
                length += shares[i] * shares[j] * products[chosen[i], chosen[j]]
        if length < best:
            best = length
            best_shares[:] = 0.0
            for i in range(size):
                best_shares[chosen[i]] = shares[i]


@compiled
def direction_between(corners, triangle, normal, point):
    """The direction from a convex body to a triangle along which they are farthest apart.

    ``corners`` (k, 3). ``normal`` (3,) holds a first guess and receives the unit direction,
    ``point`` (3,) the body's point nearest to the triangle. The two must not meet.
    """
    W, A = np.zeros((4, 3)), np.zeros((4, 3))
    products, gram = np.empty((4, 4)), np.empty((3, 4))
    shares, trial, chosen = np.zeros(4), np.zeros(4), np.zeros(4, np.int64)
    count = 0
    v = normal.copy()
    for _ in range(ROUNDS):
        far, near = 0, 0
        most, least = -np.inf, np.inf
        for k in range(corners.shape[0]):
            along = _dot(corners[k], v)
            if along > most:
                most = along
                far = k
        for j in range(3):
            along = _dot(triangle[j], v)
            if along < least:
                least = along
                near = j
        length = _dot(v, v)
        # Along v the two are least − most apart (times |v|); once that is |v|² nothing is nearer.
        if count > 0 and length - (least - most) <= CLOSE * length:
            break
        repeated = False
        for i in range(count):
            same = True
            for k in range(3):
                same = same and W[i, k] == triangle[near, k] - corners[far, k]
            repeated = repeated or same
        if repeated:
            break
        for k in range(3):
            W[count, k] = triangle[near, k] - corners[far, k]
            A[count, k] = corners[far, k]
        count += 1
        _nearest_to_origin(W, count, products, chosen, gram, trial, shares)
        kept = 0
        v[:] = 0.0
        point[:] = 0.0
        for i in range(count):
            if shares[i] > 0.0:
                for k in range(3):
                    v[k] += shares[i] * W[i, k]
                    point[k] += shares[i] * A[i, k]
                    W[kept, k] = W[i, k]
                    A[kept, k] = A[i, k]
                kept += 1
        count = kept
        if count == 4 or _dot(v, v) == 0.0:
            break
    length = np.sqrt(_dot(v, v))
    if length > 0.0:
        for k in range(3):
            normal[k] = v[k] / length


@compiled
def grown_to(base, pace, margin, margin_pace, triangle, sigma, stop, pull, point):
    """The greatest σ at which the body base + pace·σ keeps margin + margin_pace·σ from a triangle.

    ``base``, ``pace`` (k, 3) in the scan frame; ``sigma``: one that is known to keep it. Newton's
    method, which never passes the answer since the distance is convex in σ; ends early at ``stop``.
    ``pull`` (3,) holds a first guess of the direction and receives how σ grows as the triangle
    moves away, ``point`` (3,) the body's nearest point.
    """
    normal = pull / np.sqrt(_dot(pull, pull))
    corners = np.empty_like(base)
    for _ in range(NEWTON):
        for k in range(base.shape[0]):
            for i in range(3):
                corners[k, i] = base[k, i] + pace[k, i] * sigma
        direction_between(corners, triangle, normal, point)
        level = np.inf
        for j in range(3):
            level = min(level, _dot(triangle[j], normal) - margin)
        grown = np.inf
        speed = 1.0
        for k in range(base.shape[0]):
            rate = _dot(normal, pace[k]) + margin_pace
            if rate > 0.0:
                reached = (level - _dot(normal, base[k])) / rate
                if reached < grown:
                    grown = reached
                    speed = rate
        for i in range(3):
            pull[i] = normal[i] / speed
        if grown <= sigma + 1e-12 * (1.0 + abs(sigma)):
            break
        sigma = grown
        if sigma >= stop:
            break
    return sigma
