"""A box of parameters as one body that lies in every body of the box, whatever the size.

The bodies are compared at nearly equal volume: with B(p) the design's body at width 1, its least
girdle in mm left out, and V(p) the volume that ``BodyModels`` gives it, λ(p)·B(p) is compared,
λ = V^(−1/3). A stone of width s with parameters p holds (s/λ)·C for any C inside every λ(p)·B(p) of
the box: what bounds the size of C bounds s/λ for every stone of the box, and with it the volume. At
equal volume the bodies of a box differ least: a steeper stone is narrower and deeper.

C is what the facets of all corners of the box leave, each moved in by e. For a point z, one facet's
f(d) = a·z − λb is a Taylor model over the unit box of the parameters. Its terms without squares are
greatest at a corner of the box, and a term s·d² is at most s + max(0, −s). So f <= 0 over the box
if the terms up to second degree are <= −e at every corner, e being Σ max(0, −s), the terms of
higher degree and the model's radius. As each of these is convex in z, e is taken at the corners of
a body that holds C.
"""

from dataclasses import dataclass
from functools import cached_property
from itertools import product

import numpy as np

from optimizer.design.enclosures.body import BodyModels
from optimizer.design.enclosures.taylor import NoEnclosure, Taylor
from optimizer.design.family import Family
from optimizer.design.model import Body
from optimizer.mesh import Floats, Ints
from optimizer.placement.shaping import SizeLimits

APART = 1e-3  # of the edge of an equal cube: of corners nearer than this one is left out
ROUNDING = 1e-10  # of the edge of an equal cube: far above the roundings of planes and corners
AGREE = 1e-8  # relative: by rounding, sizes ordered together may differ by so much
SAME = 1e-9  # of the width: facets this near to each other's places, once turned, change places
EXACT = 1e-12  # terms of facets that change places differ by roundings alone, below this


@dataclass(frozen=True)
class Box:
    """Free parameters between ``low`` and ``high`` (q,)."""

    family: Family
    low: Floats
    high: Floats

    @staticmethod
    def whole(family: Family) -> "Box":
        """The ranges of a family."""
        return Box(family, family.low, family.high)

    def halves(self) -> "tuple[Box, Box]":
        """Cut in two across the parameter over which the corners move most."""
        j = int(np.argmax(self.family.travel * (self.high - self.low)))
        middle = 0.5 * (self.low[j] + self.high[j])
        below, above = self.high.copy(), self.low.copy()
        below[j] = above[j] = middle
        return Box(self.family, self.low, below), Box(self.family, above, self.high)

    @cached_property
    def models(self) -> BodyModels:
        """The bodies of the box. Raises as ``BodyModels.of``."""
        return BodyModels.of(self.family, self.low, self.high)

    @property
    def middle(self) -> Body:
        """The body in the middle of the box."""
        return self.models.middle

    @cached_property
    def scale(self) -> Taylor:
        """λ: from width 1 to volume 1."""
        return self.models.volume.power(-1.0 / 3.0)

    @cached_property
    def widest(self) -> float:
        """No body of the box is wider at volume 1."""
        return float(self.scale.high)

    @cached_property
    def length(self) -> tuple[float, float]:
        """Least and greatest length of a body at width 1."""
        return float(self.models.length.low), float(self.models.length.high)

    @cached_property
    def _girdle(self) -> tuple[Taylor, Taylor]:
        """What a least girdle adds to the volume of a stone of size w = s/λ at most: the factors of
        w² and −w³."""
        models = self.models
        area = self.scale * self.scale * models.outline_area
        return area * self.family.least_girdle_mm, area * self.scale * models.girdle_share

    def volume_at(self, size: float) -> float:
        """No stone of the box with s/λ <= ``size`` has more mm³; s²·S·δ is the least girdle's."""
        if np.isinf(size):
            return size
        first, second = self._girdle
        extra = (first * size**2 - second * size**3).high
        return self.models.excess * size**3 + max(float(extra), 0.0)

    def volume_at_width(self, width: float) -> float:
        """No stone of the box of at most this width in mm has more mm³."""
        if np.isinf(width):
            return width
        models = self.models
        plain = models.volume * (models.excess * width**3)
        least = self.family.least_girdle_mm - models.girdle_share * width
        extra = (models.outline_area * least * width**2).high
        return float(plain.high) + max(float(extra), 0.0)

    def size_for_volume(self, volume_mm3: float) -> float:
        """A size at which no stone of the box has more than a volume, and about the largest."""
        high = float(np.cbrt(volume_mm3))
        low = 0.0 if self.volume_at(high) > volume_mm3 else high
        for _ in range(60 if low < high else 0):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if self.volume_at(middle) <= volume_mm3 else (low, middle)
        return low

    def least_size(self, limits: SizeLimits) -> float:
        """A stone of the box whose s/λ lies below this is smaller than ordered."""
        width = max(limits.width_mm[0], limits.length_mm[0] / self.length[1])
        by_volume = self.size_for_volume(limits.volume_mm3[0])
        return max(width / self.widest, by_volume) * (1.0 - AGREE)

    def greatest_size(self, limits: SizeLimits) -> float:
        """A stone of the box whose s/λ lies above this is larger than ordered."""
        width = min(limits.width_mm[1], limits.length_mm[1] / self.length[0])
        # λ(p)·B(p) holds the core, so that a stone of size w has w³ times its volume at least.
        by_volume = float(np.cbrt(limits.volume_mm3[1] / self.core.volume))
        return min(width / float(self.scale.low), by_volume) * (1.0 + AGREE)

    def most_volume(self, limits: SizeLimits) -> float:
        """No stone of the box that is not larger than ordered has more mm³."""
        width = min(limits.width_mm[1], limits.length_mm[1] / self.length[0])
        volume = min(self.volume_at_width(width), limits.volume_mm3[1])
        return volume * (1.0 + 3.0 * AGREE)

    @cached_property
    def group(self) -> Floats:
        """Rotations that the core has, (q, 3, 3)."""
        return np.array([turn for turn, _ in self.symmetry])

    @cached_property
    def symmetry(self) -> "list[tuple[Floats, Ints]]":
        """The middle body's rotations that turn facets into facets all over the box, each with the
        facet (m,) that every facet is turned into. They are a group, or the identity alone."""
        body, normals = self.middle, self.models.normals
        found = []
        for turn in body.rotations:
            apart = np.abs(body.normals[None] - (body.normals @ turn.T)[:, None]).max(axis=2)
            apart += np.abs(body.offsets[None] - body.offsets[:, None])
            into = np.argmin(apart, axis=1)
            turned = normals.terms @ turn.T - normals.terms[:, into]
            if apart[np.arange(len(into)), into].max() > SAME or np.abs(turned).max() > EXACT:
                return [(np.eye(3), np.arange(len(into)))]
            found.append((turn, into))
        return found

    @cached_property
    def core(self) -> "Core":
        """The body common to all of the box. Raises NoEnclosure where there is none."""
        return Core.of(self)


@dataclass(frozen=True)
class Core:
    """A convex body inside every λ(p)·B(p) of a box."""

    corners: Floats  # (k, 3)
    volume: float
    reach: float  # no body of the box reaches further beyond it in any direction
    turn: float  # radians: no facet of the box is turned further from that of the middle body

    @staticmethod
    def of(box: Box) -> "Core":
        """See the module."""
        models, count = box.models, len(box.low)
        normals, offsets = models.normals, models.offsets * box.scale
        ends = np.array(list(product((-1.0, 1.0), repeat=count)))
        planes = [(normals.quadratic.at(end), offsets.quadratic.at(end)) for end in ends]
        inwards = _inwards(normals, offsets, _corners_of(*planes[0])) + ROUNDING
        moved = [(n, _symmetric(b - inwards, box.symmetry)) for n, b in planes]
        facing, room = np.concatenate([n for n, _ in moved]), np.concatenate([b for _, b in moved])
        corners = _corners_of(facing, room)
        reach = (_fill(box, facing, room) - 1.0) * float(np.linalg.norm(corners, axis=1).max())
        apart = (normals - models.middle.normals).magnitude
        turn = 2.0 * float(np.arcsin(min(np.linalg.norm(apart, axis=1).max() / 2.0, 1.0)))
        corners = _thinned(corners)
        return Core(corners, _volume(corners), reach + APART, turn)


def _corners_of(normals: Floats, offsets: Floats) -> Floats:
    """The corners (k, 3) of {z : normals·z <= offsets}, which holds the origin."""
    from scipy.spatial import HalfspaceIntersection

    if offsets.min() <= 0.0:
        raise NoEnclosure
    halves = np.column_stack([normals, -offsets])
    return np.asarray(HalfspaceIntersection(halves, np.zeros(3)).intersections)


def _volume(points: Floats) -> float:
    """Of the convex hull of points (k, 3)."""
    from scipy.spatial import ConvexHull

    return float(ConvexHull(points).volume)


def _inwards(normals: Taylor, offsets: Taylor, points: Floats) -> Floats:
    """e of each facet, (m,), at the worst of ``points`` (k, 3)."""
    known = normals.monomials
    terms = np.einsum("nmi,ki->nmk", normals.terms, points) - offsets.terms[:, :, None]
    bend = np.maximum(-terms[known.square], 0.0).sum(axis=0)
    higher = np.abs(terms[known.degrees > 2]).sum(axis=0)
    radius = normals.radius @ np.abs(points).T + offsets.radius[:, None]
    return np.asarray((bend + higher + radius).max(axis=1))


def _symmetric(offsets: Floats, symmetry: "list[tuple[Floats, Ints]]") -> Floats:
    """The least offset (m,) of all facets that the rotations turn into each other."""
    return np.asarray(np.min([offsets[into] for _, into in symmetry], axis=0))


def _fill(box: Box, normals: Floats, offsets: Floats) -> float:
    """How many times as large the body {z : normals·z <= offsets} must be to hold every body of
    the box: by the points that enclose them, less the slab (``BodyModels``)."""
    points = box.models.corners * box.scale[None, None]
    terms = np.einsum("nki,hi->nkh", points.terms, normals / offsets[:, None])
    radius = points.radius @ (np.abs(normals) / offsets[:, None]).T
    out = Taylor(terms, radius, points.variables).high
    return float(out.max()) / (1.0 - box.models.slab)


def _thinned(points: Floats) -> Floats:
    """Points no two of which are nearer than APART; the farthest from the origin stay."""
    points = points[np.argsort(-np.linalg.norm(points, axis=1), kind="stable")]
    kept: list[int] = []
    for i, point in enumerate(points):
        if not kept or np.linalg.norm(points[kept] - point, axis=1).min() > APART:
            kept.append(i)
    return np.ascontiguousarray(points[kept])
