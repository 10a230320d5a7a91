"""Bodies and poses for tests of placement."""

import numpy as np

from optimizer.design.model import Body
from optimizer.mesh import Mesh
from optimizer.placement import kernels
from optimizer.placement.copy import convex_body
from optimizer.placement.growth import Growth


def body_of(mesh: Mesh, girdle_share: float = 0.0, least_girdle_mm: float = 0.0) -> Body:
    """A convex mesh as a body about its mean corner."""
    body = convex_body(mesh.vertices)[0]
    return Body(**{**vars(body), "girdle_share": girdle_share, "least_girdle_mm": least_girdle_mm})


def placed_facets(growth: Growth, rotation, translation):
    """The growth's facets in the scan frame, as the kernels take them."""
    return kernels.world_facets(
        growth.normals, growth.alpha, growth.beta, np.ascontiguousarray(rotation), translation
    )
