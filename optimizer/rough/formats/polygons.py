"""Faces of any number of corners, as triangles."""

import numpy as np

from optimizer.errors import InputError
from optimizer.mesh import Ints


def fan(corners: Ints, lengths: Ints, name: str) -> tuple[Ints, int]:
    """Polygons as triangles (m, 3) about their first corner, and how many had more than three.

    ``corners`` holds all polygons' corners in a row, ``lengths`` (n,) how many each has.
    Raises InputError where one has fewer than three.
    """
    if not (lengths >= 3).all():
        first = int(np.flatnonzero(lengths < 3)[0])
        raise InputError(
            f"{name}: face number {first}, counted from 0, has fewer than three corners; save the "
            "scan again"
        )
    each = lengths - 2
    starts = np.repeat(np.cumsum(lengths) - lengths, each)
    step = np.arange(len(starts)) - np.repeat(np.cumsum(each) - each, each)
    at = starts + step
    triangles = np.column_stack([corners[starts], corners[at + 1], corners[at + 2]])
    return triangles, int((lengths > 3).sum())
