"""Models of a design's corners, volume and outline area over a box of its free parameters."""

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from optimizer.design.enclosures.taylor import (
    NoEnclosure,
    Taylor,
    cross,
    meeting,
    stacked,
)
from optimizer.design.enclosures.tiers import facet_models
from optimizer.design.family import Family
from optimizer.design.model import Body
from optimizer.mesh import Floats, Ints

MEETS = 1e-9  # of the width: a facet this near to a corner runs through it (body.EXACT)
WIDEST_SLAB = 0.1  # of a facet's distance: a box with wider slabs is to be divided


@dataclass(frozen=True)
class BodyModels:
    """The bodies B(p) of a family at width 1, their least girdle in mm left out, over a box.

    ``corners`` are those of the body in the middle of the box, each followed as the point where
    three of its facets meet. Elsewhere in the box they need not be the corners of B(p): the facets
    that met in one may part, or others cut it away. ``volume`` is what the middle body's triangles
    enclose when they are drawn through these points, and no B(p) has more than ``excess`` times
    as much:

    Let every corner of each triangle lie within η·b of its facet's plane a·x = b, b > 0. Then no
    triangle meets (1 − η)·B(p), and so the surface winds round every point of it as often as
    round the origin in the middle of the box: once. The ray from the origin through such a point
    meets a triangle that faces outwards beyond it; so the cones from the origin to those triangles
    cover (1 − η)·B(p), and its volume is at most that of the cones. That is ``volume`` and what the
    cones of triangles facing inwards took off it.
    """

    middle: Body
    normals: Taylor  # (m, 3)
    offsets: Taylor  # (m,)
    length: Taylor  # ()
    girdle_share: Taylor  # ()
    outline_area: Taylor  # ()
    corners: Taylor  # (k, 3)
    slab: float  # η
    volume: Taylor  # ()
    excess: float

    @staticmethod
    def of(family: Family, low: Floats, high: Floats) -> "BodyModels":
        """Over the free parameters between ``low`` and ``high`` (q,).

        Raises NoEnclosure where the box is too large, InputError where the body in its middle
        loses a facet.
        """
        middle = family.exact(0.5 * (low + high))
        values, share = _values(family, low, high)
        normals, offsets, outline = facet_models(family.design, values, share)
        if not bool(np.all(offsets.low > 0.0)):
            raise NoEnclosure
        corners, slab = _corners(middle, normals, offsets)
        volume, inwards = _enclosed(corners, middle.faces)
        if slab > WIDEST_SLAB or not volume.low > 0.0:
            raise NoEnclosure
        excess = (1.0 + inwards / float(volume.low)) / (1.0 - slab) ** 3
        return BodyModels(
            middle, normals, offsets, values["length_to_width"], share, _area(outline),
            corners, slab, volume, excess,
        )  # fmt: skip


def _values(family: Family, low: Floats, high: Floats) -> tuple[dict[str, Taylor], Taylor]:
    """Every parameter, and the girdle band's share of the width; see ``Family.share``."""
    count, middle = len(low), 0.5 * (low + high)
    values = {k: Taylor.constant(v, count) for k, v in family.parameters(middle).items()}
    for j, free in enumerate(family.free):
        half = 0.5 * (high[j] - low[j])
        values[free.name] = Taylor.variable(j, count, float(middle[j]), float(half))
    least = Taylor.constant(family.least_girdle_share, count)
    return values, stacked([values["girdle"], least]).greatest()


def _area(outline: Taylor) -> Taylor:
    """The area within the outline's corners (n, 2)."""
    after = outline[np.roll(np.arange(outline.shape[0]), -1)]
    return (outline[:, 0] * after[:, 1] - outline[:, 1] * after[:, 0]).sum() * 0.5


def _corners(middle: Body, normals: Taylor, offsets: Taylor) -> tuple[Taylor, float]:
    """The corners (k, 3), and how far they lie from any of their facets, as a share of its
    distance from the origin."""
    meets = np.abs(middle.vertices @ middle.normals.T - middle.offsets) <= MEETS
    three = np.array([_steepest(middle.normals, np.flatnonzero(row)) for row in meets])
    corners = meeting([normals[k] for k in three.T], [offsets[k] for k in three.T])
    meets[np.arange(len(three))[:, None], three] = False  # these hold by themselves
    corner, facet = np.nonzero(meets)
    if not len(corner):
        return corners, 0.0
    out = (normals[facet] * corners[corner]).sum() - offsets[facet]
    return corners, float((out.magnitude / offsets[facet].low).max())


def _steepest(normals: Floats, facets: Ints) -> Ints:
    """The three of these facets that meet at the steepest angles."""
    every = np.array(list(combinations(facets, 3)), np.int64)
    return np.asarray(every[np.argmax(np.abs(np.linalg.det(normals[every])))])


def _enclosed(corners: Taylor, faces: Ints) -> tuple[Taylor, float]:
    """The volume within triangles (f, 3), and what triangles facing inwards may take off it."""
    a, b, c = (corners[faces[:, i]] for i in range(3))
    cones = (a * cross(b, c)).sum() * (1.0 / 6.0)
    return cones.sum(), float(np.maximum(-cones.low, 0.0).sum())
