"""Compiled: what a plane cuts off a closed body."""

import numpy as np

from optimizer.compiled import compiled
from optimizer.mesh import Floats, Ints


@compiled
def _cross(a: Floats, b: Floats) -> Floats:
    """The cross product a × b, (3,)."""
    return np.array(
        [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
    )


@compiled
def cut_off(corners: Floats, faces: Ints, normal: Floats, offset: float) -> Floats:
    """Volume with normal·z >= offset, area of the section, and its moment (area × centroid).

    Divergence theorem about a point of the plane, so that the section adds nothing to the volume:
    each triangle is clipped to three or four corners, and its cone to that point is added up. The
    clipped triangles' edges in the plane go round the section and give area and moment likewise.
    """
    result = np.zeros(5)
    apex = normal * offset
    polygon = np.empty((4, 3))
    rim = np.empty((2, 3))
    for f in range(faces.shape[0]):
        count = 0
        crossed = 0
        for i in range(3):
            start = corners[faces[f, i]] - apex
            end = corners[faces[f, (i + 1) % 3]] - apex
            height = float(start @ normal)
            height_end = float(end @ normal)
            if height >= 0.0:
                polygon[count] = start
                count += 1
            if (height >= 0.0) != (height_end >= 0.0):
                polygon[count] = start + (end - start) * (height / (height - height_end))
                rim[0 if height >= 0.0 else 1] = polygon[count]
                count += 1
                crossed += 1
        for k in range(1, count - 1):
            result[0] += float(polygon[0] @ _cross(polygon[k], polygon[k + 1])) / 6.0
        if crossed == 2:
            area = float(normal @ _cross(rim[0], rim[1])) / 2.0
            result[1] += area
            result[2:] += area * (rim[0] + rim[1]) / 3.0
    result[2:] += result[1] * apex
    return result
