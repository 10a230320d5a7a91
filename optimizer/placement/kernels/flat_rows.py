"""Compiled: which points lie over large flat triangles."""

import numpy as np
from numpy.typing import NDArray

from optimizer.compiled import compiled
from optimizer.mesh import Floats


@compiled
def lies_over(
    triangles: Floats, normals: Floats, points: Floats, low: float, high: float
) -> NDArray[np.bool_]:
    """Which points (k, 3) lie below each triangle, (n, k): between ``low`` and ``high`` below its
    plane, and within its sides seen along its normal."""
    over = np.zeros((len(triangles), len(points)), np.bool_)
    for f in range(len(triangles)):
        nx, ny, nz = normals[f]
        height = nx * triangles[f, 0, 0] + ny * triangles[f, 0, 1] + nz * triangles[f, 0, 2]
        for k in range(len(points)):
            x, y, z = points[k]
            below = height - (nx * x + ny * y + nz * z)
            if below < low or below >= high:  # most lie far off; what is asked next costs more
                continue
            inside = True
            for start in range(3):
                px, py, pz = triangles[f, start]
                qx, qy, qz = triangles[f, (start + 1) % 3]
                ax = ny * (qz - pz) - nz * (qy - py)
                ay = nz * (qx - px) - nx * (qz - pz)
                az = nx * (qy - py) - ny * (qx - px)
                inside = inside and ax * (x - px) + ay * (y - py) + az * (z - pz) >= 0.0
            over[f, k] = inside
    return over
