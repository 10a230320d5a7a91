"""The rounding steps of a scan's numbers: far from the origin, digits are missing."""

import numpy as np

from optimizer.mesh import Floats
from optimizer.wording.plain_number import plain

_LEAST_POINTS = 1000  # of fewer, as of a drawn box, whole numbers say nothing
_LOOK = 50_000  # points that are examined for that: each corner comes about six times
_MOST_DECIMALS = 9
_TELLS = 0.2  # of the scan error: steps above it matter beside it
_NEVER_TELLS_MM = 0.001  # whatever the scan error


def coarse_error(
    points: Floats, scale: float, scan_error_mm: float
) -> tuple[float, tuple[str, ...]]:
    """(what the steps between the numbers of ``points`` (n, 3) add to the scan error, mm; a
    warning), nothing where they don't matter.

    ``scale`` is mm to the points' unit.
    """
    steps = [_single_step(column) for column in points.T]
    if _is_large(points):
        steps = [max(step, _decimal_step(x)) for step, x in zip(steps, points.T, strict=True)]
    step = max(steps) * scale
    if step <= max(_TELLS * scan_error_mm, _NEVER_TELLS_MM):
        return 0.0, ()
    far = float(np.abs(points).max()) * scale
    # All three numbers of a point may be off by half a step at once.
    error = float(np.linalg.norm(steps)) * scale / 2.0
    return error, (
        f"the scan's numbers come in steps of {plain(step, 2)} mm, {plain(far, 4)} mm from their "
        f"origin: each point may be off by {plain(error, 2)} mm, which is added to the scan error; "
        "move the scan to the origin in the scan software and save it again",
    )


def _is_large(points: Floats) -> bool:
    """Whether there are many places among the points: triangles may each repeat their corners."""
    return len(points) >= _LEAST_POINTS and len(np.unique(points[:_LOOK], axis=0)) >= _LEAST_POINTS


def _single_step(column: Floats) -> float:
    """Of single precision at the farthest number, where all are single-precision ones; else 0."""
    with np.errstate(over="ignore"):
        narrow = column.astype(np.float32)
    if not (narrow == column).all():
        return 0.0
    return float(np.spacing(np.abs(narrow).max()))


def _decimal_step(column: Floats) -> float:
    """The power of ten that all numbers are multiples of; 0 where there is none."""
    if not np.ptp(column):
        return 0.0
    fits = [d for d in range(_MOST_DECIMALS) if (np.round(column, d) == column).all()]
    return 10.0 ** -fits[0] if fits else 0.0
