"""The two colours of a painted scan, and which of them each of its points has."""

from dataclasses import dataclass

import numpy as np

from optimizer.colours import as_hex, decoded, lab
from optimizer.mesh import Floats

# Shading changes a colour's lightness more than its hue, so lightness counts half.
LIGHTNESS_SHARE = 0.5
LEAST_APART = 8.0  # in the space below; less is shading, not two colours (measured in the tests)
LEAST_CLEAR = 2.0  # how far apart the colours lie, in spreads of their points along the line
_ROUNDS = 100


@dataclass(frozen=True)
class TwoColours:
    """Two groups of points by colour: ``score`` (n,) is −1 at the one colour's mean, +1 at the
    other's, and in between or beyond on the line through both in the CIELAB space."""

    score: Floats
    srgb: tuple[str, str]  # the means of the group below and of the group above
    apart: float  # between the two means
    spread: float  # of the points about their own mean, along the line between the two


def two_colours(srgb: Floats, weights: Floats) -> TwoColours:
    """Part points of colours (n, 3) in 0..1, each worth its weight (n,), in two groups.

    Lloyd's k-means with k = 2, from the halves on either side of the mean along the direction in
    which the colours spread most. Raises ValueError where there are no two clear groups.
    """
    places = lab(decoded(srgb)) * [LIGHTNESS_SHARE, 1.0, 1.0]
    share = weights / weights.sum()
    mean = share @ places
    centred = places - mean
    widest = np.linalg.eigh((centred * share[:, None]).T @ centred)[1][:, 2]
    widest = widest * np.sign(widest[np.argmax(np.abs(widest))])
    above = centred @ widest > 0.0
    for _ in range(_ROUNDS):
        if above.all() or not above.any():
            break
        low, high = (share[s] @ places[s] / share[s].sum() for s in (~above, above))
        before, above = above, (places - 0.5 * (low + high)) @ (high - low) > 0.0
        if np.array_equal(before, above):
            break
    if above.all() or not above.any():
        raise ValueError("is to be found from_colours, but the scan is of one colour")
    apart = float(np.linalg.norm(high - low))
    along = (places - 0.5 * (low + high)) @ (high - low) / apart
    off = along - 0.5 * apart * np.where(above, 1.0, -1.0)
    spread = float(np.sqrt(share @ off**2))
    if apart < max(LEAST_APART, 2.0 * LEAST_CLEAR * spread):
        raise ValueError(
            "is to be found from_colours, but the scan's colours make no two clear groups (their "
            f"means lie {apart:.0f} apart, their points {spread:.0f} about them): mark the boundary"
        )
    means = tuple(as_hex(weights[s] @ srgb[s] / weights[s].sum()) for s in (~above, above))
    return TwoColours(2.0 * along / apart, (means[0], means[1]), apart, spread)
