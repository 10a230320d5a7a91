"""Bodies and poses for tests of placement."""

import numpy as np

from optimizer.design.model import Body
from optimizer.mesh import Mesh
from optimizer.placement.copy import convex_body
from optimizer.placement.growth import Growth
from optimizer.placement.kernels.gauges import world_facets


def body_of(mesh: Mesh, girdle_share: float = 0.0, least_girdle_mm: float = 0.0) -> Body:
    """A convex mesh as a body about its mean corner."""
    body = convex_body(mesh.vertices)[0]
    return Body(**{**vars(body), "girdle_share": girdle_share, "least_girdle_mm": least_girdle_mm})


def placed_facets(growth: Growth, rotation, translation):
    """The growth's facets in the scan frame, as the kernels take them."""
    return world_facets(
        growth.normals, growth.alpha, growth.beta, np.ascontiguousarray(rotation), translation
    )


def winding_number(triangles, point):
    """How often a surface winds round a point: 1 inside, 0 outside (Van Oosterom and Strackee
    1983, solid angle of a triangle)."""
    a, b, c = (triangles[:, k] - point for k in range(3))
    la, lb, lc = (np.linalg.norm(v, axis=1) for v in (a, b, c))
    divisor = la * lb * lc + np.sum(a * b, axis=1) * lc
    divisor += np.sum(b * c, axis=1) * la + np.sum(c * a, axis=1) * lb
    triple = np.sum(a * np.cross(b, c), axis=1)
    return np.arctan2(triple, divisor).sum() / (2.0 * np.pi)
