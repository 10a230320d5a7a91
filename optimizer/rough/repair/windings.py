"""How often a closed surface winds round a point: 1 inside a solid, 0 outside.

By the solid angles of its triangles (Van Oosterom and Strackee 1983).
"""

import math

import numpy as np

from optimizer.mesh import Mesh, cross
from optimizer.rough.kernels.windings import winding

_OFF = 1e-3  # of a triangle's width: how far beside it a place beside it lies
_SURE = 0.05  # a winding number farther from a whole one lies on the surface


def winding_beside(mesh: Mesh, face: int) -> int | None:
    """The winding number just outside a face; None where it can't be told."""
    a, b, c = mesh.triangles[face]
    across = cross(b - a, c - a)
    twice = float(np.linalg.norm(across))
    if twice == 0.0:
        return None
    step = across / twice * _OFF * math.sqrt(twice)
    middle = (a + b + c) / 3.0
    out, within = (
        float(winding(mesh.vertices, mesh.faces, middle + s * step)) for s in (1.0, -1.0)
    )
    if abs(out - round(out)) > _SURE or round(within) != round(out) + 1:
        return None
    return round(out)
