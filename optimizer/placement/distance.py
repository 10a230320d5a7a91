"""The exact distance from a placed stone to the rough's surface."""

import numpy as np
from numba import njit

from optimizer.design.model import Body
from optimizer.mesh import Floats
from optimizer.placement import kernels
from optimizer.placement.containers import Surface
from optimizer.placement.model import Pose

FIRST_CUT = 1.2  # of the mitred distance: the true one is rarely more than this
FIRST_MOST = 1024  # triangles; more are asked for when there are more


@njit(cache=True, nogil=True)
def _point_segment(p: Floats, a: Floats, b: Floats) -> float:
    """Squared distance from a point to a segment."""
    edge = b - a
    length = float(edge @ edge)
    share = 0.0
    if length > 0.0:
        share = min(max(float((p - a) @ edge) / length, 0.0), 1.0)
    gap = p - a - share * edge
    return float(gap @ gap)


@njit(cache=True, nogil=True)
def _segments(a: Floats, b: Floats, c: Floats, d: Floats) -> float:
    """Squared distance between segments ab and cd: the lines' closest points where both lie
    inside, else an end of one against the other."""
    u, v, w = b - a, d - c, a - c
    uu, uv, vv = u @ u, u @ v, v @ v
    uw, vw = u @ w, v @ w
    determinant = uu * vv - uv * uv
    best: float = min(
        _point_segment(a, c, d), _point_segment(b, c, d),
        _point_segment(c, a, b), _point_segment(d, a, b),
    )  # fmt: skip
    if determinant > 1e-14 * uu * vv:
        s = (uv * vw - vv * uw) / determinant
        t = (uu * vw - uv * uw) / determinant
        if 0.0 < s < 1.0 and 0.0 < t < 1.0:
            gap = w + s * u - t * v
            best = min(best, float(gap @ gap))
    return best


@njit(cache=True, nogil=True)
def _point_over_face(p: Floats, triangle: Floats) -> float:
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
    return float(height * height / length)


@njit(cache=True, nogil=True)
def _triangles(p: Floats, q: Floats) -> float:
    """Squared distance between two triangles that do not cross."""
    best = np.inf
    for i in range(3):
        best = min(best, _point_over_face(p[i], q), _point_over_face(q[i], p))
        for j in range(3):
            best = min(best, _segments(p[i], p[(i + 1) % 3], q[j], q[(j + 1) % 3]))
    return best


@njit(cache=True, nogil=True)
def _least_distance(stone: Floats, surface: Floats, lower: Floats) -> float:
    """Distance between two sets of triangles that do not cross; ``lower`` (rising) bounds that of
    each surface triangle from below."""
    best = np.inf
    for j in range(surface.shape[0]):
        if lower[j] > 0.0 and lower[j] * lower[j] >= best:
            break
        for i in range(stone.shape[0]):
            best = min(best, _triangles(stone[i], surface[j]))
    return float(np.sqrt(best))


def distance_to_surface(body: Body, pose: Pose, surface: Surface) -> float:
    """Least distance in mm from a placed stone to the surface around it (same frame).

    Exact over all pairs of triangles, corner against face and edge against edge. Facets moved
    out by d hold all that lies nearer than d, so only triangles reached by them are looked at.
    Negative where the surface enters the stone: how far facets must move in to be clear of it.
    """
    offsets = body.offsets_at(pose.width)
    rotation = np.ascontiguousarray(pose.rotation)
    g, h = kernels.world_facets(
        body.normals, offsets, np.ones(len(offsets)), rotation, pose.translation
    )
    reach = kernels.surface_gauge(surface.triangles, surface.boxes, g, h, -np.inf, np.inf)
    if reach <= 0.0:
        return float(reach)
    solid = body.mesh_at(pose.width)
    stone = pose.to_scan(solid.vertices)[solid.faces]
    cut, most = FIRST_CUT * reach, FIRST_MOST
    while True:
        near = surface.contacts(g, h, -np.inf, cut, most)
        if near.more:
            most *= 4
            continue
        order = np.argsort(near.gauges, kind="stable")
        nearest = surface.triangles[near.index[order]]
        distance = float(_least_distance(stone, nearest, near.gauges[order]))
        if distance <= cut:
            return distance
        cut = distance
