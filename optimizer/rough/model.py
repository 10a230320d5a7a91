"""The piece of rough as the other stages see it."""

from dataclasses import dataclass, field

import numpy as np

from optimizer.materials import Material
from optimizer.mesh import Floats, Mesh, Plane

ALLOWED_NOWHERE = "nowhere in the stone"  # where a flaw may lie, as rough files say it
ALLOWED_OFF_TABLE = "off the table"
NOT_STATED = ("#9a9a9a", "#e4e4e4")  # greys drawn on either side where no colour is stated
PARALLEL = 1.0 - 1e-9  # cosine: two planes of which one is the other turned over make a band


@dataclass(frozen=True)
class Slice:
    """What ``mm`` of the stone look like before white, sRGB ``#rrggbb``; None: not stated."""

    srgb: str
    mm: float | None


@dataclass(frozen=True)
class Colour:
    """A colour by name, with an sRGB value for drawings (``#rrggbb``), and how it shows.

    ``slices`` are for ordinary light. ``by_axis`` are for light that swings along the optic axis
    and across it, or along the optic axis, the second axis and square to both; of one thickness.
    """

    name: str
    srgb: str
    slices: tuple[Slice, ...] = ()
    by_axis: tuple[Slice, ...] = ()

    @property
    def shown(self) -> tuple[Slice, ...]:
        """``slices``, or for want of any the colour of drawings; nothing where none is stated."""
        if self.slices or self.by_axis or self.srgb in NOT_STATED:
            return self.slices
        return (Slice(self.srgb, None),)


@dataclass(frozen=True)
class ConvexRoom:
    """The convex room above all of several planes: a corner, or the band between two."""

    planes: tuple[Plane, ...]  # two or more, normals into the room

    @property
    def thick_mm(self) -> float | None:
        """Of a band; None where the planes are not two parallel ones that face each other."""
        one, *others = self.planes
        if len(others) != 1 or one.normal @ others[0].normal > -PARALLEL:
            return None
        return -(one.offset + others[0].offset)


@dataclass(frozen=True)
class Ball:
    """The room within ``radius_mm`` of ``centre`` (3,)."""

    centre: Floats
    radius_mm: float


@dataclass(frozen=True)
class BentSheet:
    """The room above an evenly bent sheet, w = (bend[0]·u² + bend[1]·v²)/2, a surface of second
    degree, with u, v, w along the rows of ``frame`` (3, 3), right-handed, from ``middle`` (3,)."""

    middle: Floats
    frame: Floats
    bend: Floats  # (2,) principal curvatures at the middle, 1/mm, positive towards the room


Boundary = Plane | ConvexRoom | Ball | BentSheet
"""Each parts space in two: heights are positive in the room of the colour named by ``towards``."""


@dataclass(frozen=True)
class BoundaryFit:
    """How well a boundary meets what it was fitted to."""

    source: str  # "marked places" | "colours"
    count: int  # places, or points of the border
    rms_mm: float
    worst_mm: float
    spare: int  # places beyond those that settle the boundary: with none, the rms says nothing
    wrong_percent: float | None = None  # of the surface that has the other side's colour


@dataclass(frozen=True)
class Zone:
    """A colour boundary in the scan frame; heights over it are positive where ``towards`` is."""

    name: str
    boundary: Boundary
    towards: Colour
    away: Colour
    fit: BoundaryFit | None = None  # where it was fitted: how well

    @property
    def plane(self) -> Plane:
        """Of a flat boundary, its normal towards ``towards``; no other kind has one."""
        assert isinstance(self.boundary, Plane)
        return self.boundary

    @property
    def kind(self) -> str:
        """The boundary's kind in a word or two, as reports say it."""
        match self.boundary:
            case Plane():
                return "plane"
            case ConvexRoom() if self.boundary.thick_mm is not None:
                return "band"
            case ConvexRoom():
                return f"corner of {len(self.boundary.planes)} planes"
            case Ball():
                return "ball"
            case BentSheet():
                return "bent sheet"


@dataclass(frozen=True)
class ReferenceFace:
    """A flat place on the surface to measure from; ``plane.normal`` points out of the piece."""

    name: str
    plane: Plane
    looks: str = ""  # a guess at what it is, of a flat that was found


@dataclass(frozen=True)
class Flaw:
    """An inclusion or a crack in the scan frame, of which the finished stone keeps clear.

    It is all that lies within ``radius_mm`` of its core: a point, a straight line, a flat round
    sheet, or a solid.
    """

    name: str
    ends: Floats  # (1, 3) the point, the sheet's middle, a point in the solid; (2, 3) line's ends
    normal: Floats | None  # (3,) unit, square to the sheet; None where the core is none
    across_mm: float  # the sheet's diameter, infinite where it parts the whole piece; else 0
    radius_mm: float
    clearance_mm: float
    mesh: Mesh | None = None  # the core's surface where it is a solid: closed, wound outwards
    file: str | None = None  # that the mesh was read from, as the rough file names it
    off_table: bool = False  # may lie in the stone, but not straight below its table

    @property
    def may_split(self) -> bool:
        """Whether it is a crack, or of a shape that may hold one."""
        return self.normal is not None or self.mesh is not None

    @property
    def keep_mm(self) -> float:
        """Least distance in mm from the finished stone to the core."""
        return self.radius_mm + self.clearance_mm


def _nowhere() -> Floats:
    return np.empty((0, 3))


@dataclass(frozen=True)
class Repair:
    """One thing put right in a scan: said in a sentence, and where, how much and how far.

    Where the solid itself did not change (its triangles were only told apart or turned), no area
    and no distance is stated.
    """

    sentence: str
    points_mm: Floats = field(default_factory=_nowhere)  # (k, 3) places that it touched
    area_mm2: float = 0.0  # of the surface that was made anew or taken away
    moved_mm: float = 0.0  # the farthest that any of the surface moved
    # What was done, where the true surface may lie ``moved_mm`` deeper than the solid shows.
    guessed: str = ""  # "a hole was filled" | "a fold was resolved"


@dataclass(frozen=True, eq=False)
class Paint:
    """The colours that a scan's corner points have: ``points_mm`` (n, 3), ``srgb`` (n, 3) in 0..1.

    As the scan has them, nothing merged, mended or thinned.
    """

    points_mm: Floats
    srgb: Floats


@dataclass(frozen=True)
class Readings:
    """That a piece was measured by hand: as which form, and what was made of it, in sentences."""

    form: str
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Scale:
    """How the scan's numbers became millimetres, and how well that is known."""

    source: str = "unit"  # "unit" | "known distance" | "weight" | "readings"
    error: float = 0.0  # the share that lengths may be off by; what a scanner is off by is its own
    error_mm: float = 0.0  # what that makes at the farthest of the surface; part of the scan error
    correction: float = 1.0  # what lengths, and places of the rough file, were multiplied by


@dataclass(frozen=True)
class Rough:
    """A closed solid in millimetres in the scan's own frame, and what is known about the piece."""

    scan: str  # file name, no folder
    mesh: Mesh
    mm_per_unit: float
    watertight_as_read: bool
    repairs: tuple[Repair, ...]
    warnings: tuple[str, ...]
    material: Material
    weighed_ct: float | None
    scan_error_mm: float
    zones: tuple[Zone, ...]
    reference_faces: tuple[ReferenceFace, ...]
    optic_axis: Floats | None
    volume_mm3: float
    parent: str | None = None  # the piece that this one was cut from
    flaws: tuple[Flaw, ...] = ()
    growth_axis: Floats | None = None  # (3,) unit, either way
    second_axis: Floats | None = None  # (3,) unit, square to the optic axis: of three colours
    body_colour: Colour | None = None  # of a piece that is one colour throughout
    cleavage: tuple[Floats, ...] = ()  # (3,) unit normals of the cleavage planes, either way
    paint: Paint | None = None  # None where the scan has no colours
    readings: Readings | None = None  # where it was built from these; ``scan`` is the rough file
    notes: tuple[str, ...] = ()  # what was worked out from readings, and how well
    weighed_error_ct: float | None = None  # the balance may be off by this; None: as is usual
    scale: Scale = Scale()
    form: str = ""  # "boule" | "split boule", where the rough file says so

    @property
    def carat(self) -> float:
        """Weight of the solid by its volume; 1 ct is 0.2 g exactly."""
        return self.volume_mm3 * self.material.sg / 200.0

    @property
    def known_cleavage(self) -> tuple[Floats, ...]:
        """Normals of the cleavage planes, (3,) unit each, scan frame: those of the rough file,
        else the species' own; none where neither is known."""
        if self.cleavage or self.optic_axis is None:
            return self.cleavage
        return (self.optic_axis,) if self.material.basal_cleavage else ()
