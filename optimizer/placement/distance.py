"""The exact distance from a placed stone to the rough's surface."""

import numpy as np
from numba import njit

from optimizer.mesh import Floats, Mesh
from optimizer.placement.containers import Surface

STACK = 128  # as in kernels: deeper than any tree that fits in memory


@njit(cache=True, nogil=True)
def _point_segment(p, a, b):
    """Squared distance from a point to a segment."""
    edge = b - a
    length = edge @ edge
    share = 0.0
    if length > 0.0:
        share = min(max(((p - a) @ edge) / length, 0.0), 1.0)
    gap = p - a - share * edge
    return gap @ gap


@njit(cache=True, nogil=True)
def _segments(a, b, c, d):
    """Squared distance between segments ab and cd: the lines' closest points where both lie
    inside, else an end of one against the other."""
    u, v, w = b - a, d - c, a - c
    uu, uv, vv = u @ u, u @ v, v @ v
    uw, vw = u @ w, v @ w
    determinant = uu * vv - uv * uv
    best = min(
        _point_segment(a, c, d), _point_segment(b, c, d),
        _point_segment(c, a, b), _point_segment(d, a, b),
    )  # fmt: skip
    if determinant > 1e-14 * uu * vv:
        s = (uv * vw - vv * uw) / determinant
        t = (uu * vw - uv * uw) / determinant
        if 0.0 < s < 1.0 and 0.0 < t < 1.0:
            gap = w + s * u - t * v
            best = min(best, gap @ gap)
    return best


@njit(cache=True, nogil=True)
def _point_over_face(p, triangle):
    """Squared distance from a point to a triangle's plane where its foot lies inside, else inf."""
    a, b, c = triangle[0], triangle[1], triangle[2]
    u, v, w = b - a, c - a, p - a
    normal = np.array(
        [u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]]
    )
    length = normal @ normal
    if length == 0.0:
        return np.inf
    uu, uv, vv, wu, wv = u @ u, u @ v, v @ v, w @ u, w @ v
    determinant = uu * vv - uv * uv
    s = (vv * wu - uv * wv) / determinant
    t = (uu * wv - uv * wu) / determinant
    if s < 0.0 or t < 0.0 or s + t > 1.0:
        return np.inf
    height = w @ normal
    return height * height / length


@njit(cache=True, nogil=True)
def _triangles(p, q):
    """Squared distance between two triangles that do not cross."""
    best = np.inf
    for i in range(3):
        best = min(best, _point_over_face(p[i], q), _point_over_face(q[i], p))
        for j in range(3):
            best = min(best, _segments(p[i], p[(i + 1) % 3], q[j], q[(j + 1) % 3]))
    return best


@njit(cache=True, nogil=True)
def _box_gap(boxes, node, low, high):
    """Squared distance between a node's box and the box low..high."""
    total = 0.0
    for k in range(3):
        gap = max(boxes[node, k] - high[k], low[k] - boxes[node, 3 + k], 0.0)
        total += gap * gap
    return total


@njit(cache=True, nogil=True)
def _least_distance(stone, triangles, boxes):
    """Squared distance between two sets of triangles that do not cross."""
    n = triangles.shape[0]
    leaves = (boxes.shape[0] + 1) // 2
    nodes = np.empty(STACK, np.int64)
    best = np.inf
    for k in range(stone.shape[0]):
        low = np.minimum(np.minimum(stone[k, 0], stone[k, 1]), stone[k, 2])
        high = np.maximum(np.maximum(stone[k, 0], stone[k, 1]), stone[k, 2])
        nodes[0] = 0
        size = 1
        while size > 0:
            size -= 1
            node = nodes[size]
            if _box_gap(boxes, node, low, high) >= best:
                continue
            if node >= leaves - 1:
                j = node - (leaves - 1)
                for f in range(j * n // leaves, (j + 1) * n // leaves):
                    best = min(best, _triangles(stone[k], triangles[f]))
                continue
            left, right = 2 * node + 1, 2 * node + 2
            if _box_gap(boxes, left, low, high) <= _box_gap(boxes, right, low, high):
                left, right = right, left
            nodes[size], nodes[size + 1] = left, right
            size += 2
    return best


def distance_to_surface(stone: Mesh, surface: Surface) -> float:
    """Least distance in mm from a stone to the surface that it does not cross (same frame).

    Exact over all triangle pairs: corner against face, edge against edge.
    """
    triangles = np.ascontiguousarray(stone.triangles)
    return float(np.sqrt(_least_distance(triangles, surface.triangles, surface.boxes)))
