"""Volumes of a closed body cut by a plane, and how they change as the plane moves."""

import numpy as np

from optimizer.mesh import Floats, Ints
from optimizer.placement.kernels.slicing import cut_off


def beyond(
    corners: Floats, faces: Ints, normal: Floats, offset: float
) -> tuple[float, float, Floats]:
    """What a plane cuts off a closed body: (volume, section's area, area × centroid (3,)).

    The volume is that with normal·z >= offset; ``corners`` (k, 3), ``faces`` (f, 3) wound
    outwards, ``normal`` (3,) of length one.
    """
    answer = cut_off(
        np.ascontiguousarray(corners), faces, np.ascontiguousarray(normal), float(offset)
    )
    return float(answer[0]), float(answer[1]), answer[2:]
