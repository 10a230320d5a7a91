"""The directions to look from, and lengths for rules."""

from dataclasses import dataclass

import numpy as np

from optimizer.mesh import Floats


@dataclass(frozen=True)
class View:
    """A right-handed frame: ``right`` and ``up`` on the paper, ``out`` towards the eye."""

    name: str
    text: str  # the viewing direction in words
    right: Floats  # (3,) unit, scan frame
    up: Floats
    out: Floats

    def flat(self, points: Floats) -> Floats:
        """Points (..., 3) on the paper, (..., 2) in mm."""
        return points @ np.stack([self.right, self.up], axis=1)


def axis_views() -> tuple[View, View, View]:
    """Along the scan's own axes: from above, from the front, from the right."""
    x, y, z = np.eye(3)
    return (
        View("From +z", "down the piece's z axis", x, y, z),
        View("From −y", "along the piece's y axis", x, z, -y),
        View("From +x", "against the piece's x axis", y, z, x),
    )


def slanting_view(axes: Floats) -> View:
    """The view that shows three sides at once: those towards the third axis, towards the first and
    away from the second; ``axes`` are rows (3, 3)."""
    x, y, z = axes
    out = 0.45 * x - 0.72 * y + 0.62 * z
    out = out / np.linalg.norm(out)
    right = np.cross(z, out) / np.linalg.norm(np.cross(z, out))
    return View("Slanting", "three sides at once", right, np.cross(out, right), out)


def round_length(most: float) -> float:
    """The greatest length of the form 1, 2 or 5 times a power of ten that is at most ``most``."""
    power = 10.0 ** np.floor(np.log10(most))
    return float(max(step * power for step in (1, 2, 5) if step * power <= most * (1 + 1e-9)))
