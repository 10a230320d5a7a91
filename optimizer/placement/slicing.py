"""Volumes of a closed body cut by a plane."""

import numpy as np
from numba import njit

from optimizer.mesh import Floats, Ints


@njit(cache=True, nogil=True)
def _volume_beyond(corners: Floats, faces: Ints, normal: Floats, offset: float) -> float:
    """Six times the volume with normal·z >= offset.

    Divergence theorem about a point of the plane, so that the cut face adds nothing: each
    triangle is clipped to three or four corners, and its cone to that point is added up.
    """
    total = 0.0
    apex = normal * offset
    polygon = np.empty((4, 3))
    for f in range(faces.shape[0]):
        count = 0
        for i in range(3):
            start = corners[faces[f, i]] - apex
            end = corners[faces[f, (i + 1) % 3]] - apex
            height = start @ normal
            height_end = end @ normal
            if height >= 0.0:
                polygon[count] = start
                count += 1
            if (height >= 0.0) != (height_end >= 0.0):
                polygon[count] = start + (end - start) * (height / (height - height_end))
                count += 1
        for k in range(1, count - 1):
            a, b, c = polygon[0], polygon[k], polygon[k + 1]
            total += (
                a[0] * (b[1] * c[2] - b[2] * c[1])
                + a[1] * (b[2] * c[0] - b[0] * c[2])
                + a[2] * (b[0] * c[1] - b[1] * c[0])
            )
    return total


def share_beyond(corners: Floats, faces: Ints, normal: Floats, offset: float) -> float:
    """Share (0 to 1) of a closed body's volume with normal·z >= offset.

    ``corners`` (k, 3), ``faces`` (f, 3) wound outwards, ``normal`` (3,) of length one.
    """
    corners = np.ascontiguousarray(corners)
    normal = np.ascontiguousarray(normal)
    lowest = float((corners @ normal).min()) - 1.0
    whole = _volume_beyond(corners, faces, normal, lowest)
    return float(_volume_beyond(corners, faces, normal, float(offset)) / whole)
