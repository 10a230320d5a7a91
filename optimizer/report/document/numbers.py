"""Named numbers and clearances as plan.json has them."""

import math
from collections.abc import Mapping

CLEARANCE_STEPS_PER_MM = 10_000  # a clearance is written rounded down to this, never up


def by_name(values: Mapping[str, float]) -> dict[str, float]:
    """Named numbers, sorted by name."""
    return {name: float(values[name]) for name in sorted(values)}


def rounded_down(clearance_mm: float) -> float:
    """A clearance rounded down, so that it promises no more than there is, rounding errors
    aside."""
    return math.floor(clearance_mm * CLEARANCE_STEPS_PER_MM + 1e-4) / CLEARANCE_STEPS_PER_MM
