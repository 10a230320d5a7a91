"""Compiled: how often a closed surface winds round a point (Van Oosterom and Strackee 1983)."""

import math

from optimizer.compiled import compiled
from optimizer.mesh import Floats, Ints


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
