"""A growing body at one pose: what every container and every demand is asked about."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from optimizer.mesh import Floats
from optimizer.placement.growing import Growing
from optimizer.placement.growth import Growth


@dataclass(frozen=True)
class Situation:
    """A growing body at a pose and a size, in the frame of the containers and demands.

    Containers tell the greatest σ of the pose whatever ``sigma`` is; all else depends on it.
    """

    growing: Growing
    rotation: Floats  # (3, 3) from the stone frame
    translation: Floats  # (3,)
    sigma: float = 0.0
    mm_per_radian: float = 1.0  # a turn of a radian counts as so many mm

    @property
    def arms(self) -> Floats:
        """Corners relative to the stone's origin, along this frame's axes, (k, 3)."""
        return self.growing.corners(self.sigma) @ self.rotation.T

    def near(self, band: float) -> tuple[Growth, ...]:
        """The growths that can be the larger body within ``band`` of σ."""
        return self.growing.near(self.sigma, band)

    def shape_slopes(self, measure: "Callable[[Situation], Floats]", count: int) -> Floats:
        """How a measure (n,) of ``count`` figures changes with each of q free parameters, (n, q),
        by differences."""
        columns = [
            (measure(replace(self, growing=n.plus)) - measure(replace(self, growing=n.minus)))
            / n.step
            for n in self.growing.nudges
        ]
        return np.array(columns).T if columns else np.empty((count, 0))
