"""The sizes in which stones are worth most for the room they take: the greatest ordered, and the
least that earn a price."""

from collections.abc import Sequence

import numpy as np

from optimizer.several.instance import Instance
from optimizer.several.pose_grids import ROOMY, PoseGrid


def sizes_of(instance: Instance, grid: PoseGrid) -> list[float]:
    """Such widths of a grid's stones, as far as the rough may hold them."""
    body, (low, high) = grid.offer.want.body, grid.offer.want.width_mm
    widest = ROOMY * float(grid.widths[0])
    breaks = instance.price_widths(grid.offer.design, body)
    sizes = [width for width in breaks if low <= width <= min(high, widest)]
    return [*sizes, high] if np.isfinite(high) and high <= widest else sizes


def sized(instance: Instance, grids: Sequence[PoseGrid]) -> bool:
    """Whether some stones have such sizes."""
    return any(sizes_of(instance, grid) for grid in grids)
