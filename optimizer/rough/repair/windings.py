"""How often a closed surface winds round a point: 1 inside a solid, 0 outside.

By the solid angles of its triangles (Van Oosterom and Strackee 1983).
"""

import math

import numpy as np

from optimizer.compiled import compiled
from optimizer.mesh import Floats, Ints, Mesh

_OFF = 1e-3  # of a triangle's width: how far beside it a place beside it lies
_SURE = 0.05  # a winding number farther from a whole one lies on the surface


def winding_beside(mesh: Mesh, face: int) -> int | None:
    """The winding number just outside a face; None where it can't be told."""
    a, b, c = mesh.triangles[face]
    across = np.cross(b - a, c - a)
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


@compiled
def winding(vertices: Floats, faces: Ints, p: Floats) -> float:
    """The winding number of a closed surface about a point off it, a whole number but for rounding;
    positive where the surface is seen from inside."""
    total = 0.0
    for f in range(len(faces)):
        i, j, k = faces[f, 0], faces[f, 1], faces[f, 2]
        ax, ay, az = vertices[i, 0] - p[0], vertices[i, 1] - p[1], vertices[i, 2] - p[2]
        bx, by, bz = vertices[j, 0] - p[0], vertices[j, 1] - p[1], vertices[j, 2] - p[2]
        cx, cy, cz = vertices[k, 0] - p[0], vertices[k, 1] - p[1], vertices[k, 2] - p[2]
        la = math.sqrt(ax * ax + ay * ay + az * az)
        lb = math.sqrt(bx * bx + by * by + bz * bz)
        lc = math.sqrt(cx * cx + cy * cy + cz * cz)
        ab = ax * bx + ay * by + az * bz
        bc = bx * cx + by * cy + bz * cz
        ca = cx * ax + cy * ay + cz * az
        triple = ax * (by * cz - bz * cy) + ay * (bz * cx - bx * cz) + az * (bx * cy - by * cx)
        total += math.atan2(triple, la * lb * lc + ab * lc + bc * la + ca * lb)
    return total / (2.0 * math.pi)
