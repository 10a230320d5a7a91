"""The data of designs, and of the convex bodies that they become."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from optimizer.mesh import Floats, Ints, Mesh, volume
from optimizer.trade.calibrated import CalibratedOutline


@dataclass(frozen=True)
class Body:
    """A facetted convex stone as a function of its finished width s in mm; stone frame.

    Facet i at width 1 is ``normals[i]``·z <= ``offsets[i]``; m facets, k corners, f triangles.
    At width s the girdle band is max(``girdle_share``·s, ``least_girdle_mm``) thick: with
    δ = max(0, least_girdle_mm − girdle_share·s) the crown half moves up and the pavilion half
    down by δ/2, so bodies are nested in s.
    """

    normals: Floats  # (m, 3) outward, unit length
    offsets: Floats  # (m,) positive
    vertices: Floats  # (k, 3) corners at width 1 and δ = 0
    faces: Ints  # (f, 3) triangles over the corners, counter-clockwise from outside
    facet_of_face: Ints  # (f,) the facet that each triangle belongs to
    facet_names: tuple[str, ...]  # (m,) tier name and index setting
    rotations: Floats  # (q, 3, 3) proper rotations that map the body onto itself, identity first
    girdle_share: float
    least_girdle_mm: float

    @cached_property
    def unit_volume(self) -> float:
        """V₁: the volume at width 1 and δ = 0, as a share of width³."""
        return volume(Mesh(self.vertices, self.faces))

    @property
    def cube_edge(self) -> float:
        """The edge of the cube of equal volume at width 1 and δ = 0."""
        return float(np.cbrt(self.unit_volume))

    @cached_property
    def outline_area(self) -> float:
        """S: the area of the girdle outline at width 1, as a share of width²."""
        corners = self.vertices[self.faces][:, :, :2]
        one, two = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
        shadow = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
        return float(np.abs(shadow).sum() / 4.0)  # crown and pavilion each cover it once

    @cached_property
    def unit_extents(self) -> Floats:
        """Length, width and depth at width 1 and δ = 0, (3,)."""
        return np.asarray(np.ptp(self.vertices, axis=0), np.float64)

    def extra_girdle_mm(self, width: float) -> float:
        """δ: how much thicker the band is than its share of the width, in mm."""
        return max(0.0, self.least_girdle_mm - self.girdle_share * width)

    def girdle_at(self, width: float) -> float:
        """The band's thickness in mm at its thinnest place."""
        return self.girdle_share * width + self.extra_girdle_mm(width)

    def length_at(self, width: float) -> float:
        """The extent along x in mm."""
        return float(width * self.unit_extents[0])

    def depth_at(self, width: float) -> float:
        """The extent along z in mm."""
        return float(width * self.unit_extents[2]) + self.extra_girdle_mm(width)

    def volume_at(self, width: float) -> float:
        """Volume in mm³: s³·V₁ + s²·S·δ."""
        band = self.outline_area * self.extra_girdle_mm(width)
        return width**3 * self.unit_volume + width**2 * band

    def width_for_volume(self, volume_mm3: float) -> float:
        """The width in mm at which the body holds ``volume_mm3``."""
        width = float(np.cbrt(volume_mm3 / self.unit_volume))
        if self.extra_girdle_mm(width) == 0.0:
            return width
        cubic = self.unit_volume - self.outline_area * self.girdle_share
        square = self.outline_area * self.least_girdle_mm
        roots = np.roots([cubic, square, 0.0, -volume_mm3])
        # Both leading coefficients are positive, so exactly one root is (Descartes' rule of signs).
        return float(roots.real[np.argmax(roots.real)])

    def offsets_at(self, width: float) -> Floats:
        """Facet distances from the origin in mm, (m,)."""
        half = self.extra_girdle_mm(width) / 2.0
        return width * self.offsets + half * np.abs(self.normals[:, 2])

    def vertices_at(self, width: float) -> Floats:
        """Corners in mm, (k, 3), stone frame."""
        half = self.extra_girdle_mm(width) / 2.0
        corners = width * self.vertices
        corners[:, 2] += half * np.sign(self.vertices[:, 2])
        return corners

    def mesh_at(self, width: float) -> Mesh:
        """The closed solid at this width, stone frame."""
        return Mesh(self.vertices_at(width), self.faces)


@dataclass(frozen=True)
class Parameter:
    """A number that a design may vary: its default and the range that the design declares."""

    name: str
    default: float
    low: float
    high: float


@dataclass(frozen=True)
class Tier:
    """Facets that are cut one after another to one kind of place.

    ``settings`` are whole numbers on the design's index gear, each with its angle.
    """

    name: str
    side: str  # "crown" | "girdle" | "pavilion"
    settings: tuple[int, ...]  # (0,) for the table, whose plane is the same at any setting
    angles_deg: tuple[float, ...]  # from the girdle plane; 90 on the girdle, 0 for the table
    cut_to: str  # a plain sentence


@dataclass(frozen=True)
class Outline:
    """What the girdle facets touch: a curve ("rounded", "pear", "egg", "bowed") or, where it is
    "straight", none."""

    description: str
    shape: str
    name: str | None = None  # by which orders ask for it
    fullness: float = 2.0  # of a rounded outline: 2 is an ellipse, more fills the corners
    axis: float = 0.5  # where the spindle axis stands: a share of the length, from the end at −x
    tips: tuple[tuple[float, float], ...] = ()  # of a bowed outline, counter-clockwise
    bows: tuple[float, ...] = ()  # how far each of its arcs stands out, as a share of its chord
    calibrated: CalibratedOutline | None = None  # whose sizes the design is traded in


@dataclass(frozen=True)
class AngleRule:
    """An angle in degrees: the parameter ``of``, or 0 without one, plus a number.

    With ``at`` it is the angle at that setting alone; the other facets take theirs from two places.
    """

    of: str | None
    plus: float
    at: int | None = None


# The places that lie at a level which an angle at one setting fixes, each with what has the level.
LEVELS = {"centre point": "centre", "table corner": "table", "table edge": "table"}


@dataclass(frozen=True)
class TouchRule:
    """What a facet is cut to: the kind of sentence, and the tiers and percent that it names."""

    kind: str
    tier: str = ""
    percent: float = 0.0
    other: str = ""

    @property
    def level(self) -> str | None:
        """What has the level of the place, "centre" or "table", where an angle may fix it."""
        return LEVELS.get(self.kind)


@dataclass(frozen=True)
class TierRule:
    """A tier as the design file states it, before parameters have values."""

    name: str
    side: str
    angle: AngleRule | None  # None: two touches fix every facet's angle
    settings: tuple[int, ...]
    touches: tuple[TouchRule, ...]
    cut_to: str

    @property
    def fixes_level(self) -> bool:
        """Whether the angle at one setting fixes the level of one of its places."""
        return self.angle is not None and self.angle.at is not None

    @property
    def levels(self) -> frozenset[str | None]:
        """What has the levels of its places."""
        return frozenset(touch.level for touch in self.touches)


@dataclass(frozen=True)
class TableRule:
    """The table's outline, planned before the crown is cut; it has corners for facets to hold."""

    edges: tuple[int, ...]  # the settings of its edges, ascending
    # The table's distance from the end at +x and that at -x, over that from the sides.
    ends: tuple[float, float] = (1.0, 1.0)


@dataclass(frozen=True)
class Promise:
    """What a design promises of its finished stone; the virtual cutter holds it to that."""

    turns: int = 1  # positions about the axis in which the stone looks the same
    mirror: bool = False  # whether one half along the length mirrors the other
    bottom: str | None = None  # "point", "keel", "keel or point" or "flat"


@dataclass(frozen=True)
class Design:
    """A design of the library: a function from parameters to a body and its tiers."""

    name: str
    title: str
    summary: str
    gear: int
    parameters: Mapping[str, Parameter]
    outline: Outline
    rules: tuple[TierRule, ...]  # in cutting order
    table: TableRule | None = None  # None: the table ends where the crown's facets let it
    promise: Promise = Promise()

    def is_passing(self, rule: TierRule, touch: TouchRule) -> bool:
        """Whether a place of a tier is not for long: a later tier fixes its level anew."""
        later = self.rules[self.rules.index(rule) + 1 :]
        return touch.level is not None and any(
            other.side == rule.side and other.fixes_level and touch.level in other.levels
            for other in later
        )
