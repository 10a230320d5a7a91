"""The order's limits on the crystal's directions, over a whole cell of rotations.

No direction of the stone turns by more than the cell's radius, and so no angle to a fixed one
changes by more.
"""

from dataclasses import dataclass

import numpy as np

from optimizer.design.model import Body
from optimizer.mesh import Floats
from optimizer.placement.cells import Mask
from optimizer.placement.direction import Direction

ROUNDING = 1e-7  # radians: an arc cosine near 0 is good to 2e-8
UPRIGHT = 1e-9  # how far from ±1 a turn may take the table's normal and be one about the axis


@dataclass(frozen=True)
class CellDirection:
    """``direction`` in the room's frame, for the turns of ``body``."""

    direction: Direction
    body: Body
    turn: float = 0.0  # radians: how far the true facets may be turned from the body's

    @property
    def break_symmetry(self) -> bool:
        """Whether a body's own symmetry can turn a met limit into an unmet one: where it takes
        the table's normal to another facet's. Facets change places, so cleavage never can."""
        kept = np.abs(self.body.rotations[:, 2, 2]) >= 1.0 - UPRIGHT
        return self.direction.axis is not None and not bool(np.all(kept))

    def may_hold(self, rotations: Floats, radii: Floats) -> Mask:
        """Mask (n,) of the cells in which some rotation may meet each limit by itself."""
        reach = radii + ROUNDING
        keep = np.ones(len(rotations), bool)
        if self.direction.axis is not None:
            low, high = self.direction.axis_to_table
            cosine = np.abs(rotations[:, :, 2] @ self.direction.axis)
            angle = 0.5 * np.pi - np.arccos(np.minimum(cosine, 1.0))
            keep &= (angle >= low - reach) & (angle <= high + reach)
        for normal in self.direction.cleavage:
            seen = np.einsum("nji,j->ni", rotations, normal)
            cosine = np.abs(seen @ self.body.normals.T).max(axis=1)
            keep &= np.arccos(np.minimum(cosine, 1.0)) >= self.direction.clear - reach - self.turn
        return keep

    def rows(
        self, rotations: Floats, radii: Floats, corners: Floats, lengths: Floats, middle: Floats
    ) -> Floats:
        """No rows: the limits say nothing of size and shift."""
        return np.zeros((len(rotations), 0, 5))
