"""How fine the numbers of a scan are where they stand: far from the origin, digits are missing."""

import numpy as np

from optimizer.mesh import Floats

_LEAST_POINTS = 1000  # of fewer, as of a drawn box, whole numbers say nothing
_MOST_DECIMALS = 9
_TELLS = 0.2  # of the scan error: steps above it matter beside it
_NEVER_TELLS_MM = 0.001  # whatever the scan error


def coarse_doubt(points: Floats, scale: float, scan_error_mm: float) -> tuple[str, ...]:
    """A warning where the steps between the numbers of ``points`` (n, 3) matter.

    ``scale`` is mm to the points' unit.
    """
    steps = [max(_single_step(column), _decimal_step(column)) for column in points.T]
    step = max(steps) * scale
    if step <= max(_TELLS * scan_error_mm, _NEVER_TELLS_MM):
        return ()
    far = float(np.abs(points).max()) * scale
    return (
        f"the scan's numbers come in steps of {step:.2g} mm, {far:.4g} mm from their origin: each "
        f"point may be off by {step / 2.0:.2g} mm; move the scan to the origin in the scan "
        "software and save it again, or add that to scan_error_mm",
    )


def _single_step(column: Floats) -> float:
    """Of single precision at the farthest number, where all are single-precision ones; else 0."""
    with np.errstate(over="ignore"):
        narrow = column.astype(np.float32)
    if not (narrow == column).all():
        return 0.0
    return float(np.spacing(np.abs(narrow).max()))


def _decimal_step(column: Floats) -> float:
    """The power of ten that all numbers of a large scan are multiples of; 0 where there is none."""
    if len(column) < _LEAST_POINTS or not np.ptp(column):
        return 0.0
    fits = [d for d in range(_MOST_DECIMALS) if (np.round(column, d) == column).all()]
    return 10.0 ** -fits[0] if fits else 0.0
