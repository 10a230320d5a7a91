"""The least width of a convex body: how far apart the nearest two parallel planes are that have it
between them. A body in a slab is at least in one direction no wider than the slab is thick."""

from dataclasses import replace

import numpy as np

from optimizer.mesh import Floats
from optimizer.several.stone_kinds import OUTWARD, StoneKind
from optimizer.several.stone_sections import DirectionCells

LEVELS = 8  # of halvings of a cell of directions
CLOSE = 0.998  # a cell with so much of the least that was found is not divided
PASSES = 3  # a least girdle in mm makes widths not quite proportional to size


def least_width(corners: Floats, symmetry: int) -> float:
    """The hull of ``corners`` (k, 3) has at least this width in mm in every direction. A turn by
    360°/``symmetry`` about z maps the body onto itself.

    By branch and bound over cells of directions: a corner at height h along a direction and a
    beside it lies at cos(r)·h − sin(r)·a or higher along every direction within the angle r.
    """
    middle = corners - 0.5 * (corners.max(axis=0) + corners.min(axis=0))
    cells, least = DirectionCells.whole(), np.inf
    for level in range(LEVELS + 1):
        cells = cells.within(symmetry)
        along = cells.directions() @ middle.T
        low = widths_within(middle, along, cells.radii())
        near = np.ptp(along, axis=1).min()
        open_ = (low < CLOSE * near) & (low < least)
        done = ~open_ if level < LEVELS else np.full(len(low), True)
        least = min(least, low[done].min(initial=np.inf))
        if done.all():
            break
        cells = cells.quarters(open_)
    return float(max(least, 0.0))


def widths_within(corners: Floats, along: Floats, radii: Floats) -> Floats:
    """The least widths (n,) in all directions within ``radii`` (n,) of directions along which the
    ``corners`` (k, 3) have the heights ``along`` (n, k)."""
    aside = np.sqrt(np.maximum((corners**2).sum(axis=1) - along**2, 0.0))
    cosine, sine = np.cos(radii)[:, None], np.sin(radii)[:, None]
    highest = np.minimum(along, cosine * along) - sine * aside
    lowest = np.maximum(along, cosine * along) + sine * aside
    return np.asarray(highest.max(axis=1) - lowest.min(axis=1))


def no_thicker(kind: StoneKind, thickness: float) -> StoneKind:
    """The stones of a kind that fit between two planes ``thickness`` mm apart. A smaller stone
    holds a larger one's body made smaller in proportion, its girdle being no thinner in mm."""
    for _ in range(PASSES):
        width = least_width(kind.corners_at(kind.high), kind.symmetry)
        if width <= thickness:
            break
        kind = replace(kind, high=kind.high * thickness / width * OUTWARD)
    return kind
