"""The piece of rough as the other stages see it."""

from dataclasses import dataclass, field
from pathlib import PurePath

import numpy as np

from optimizer.mesh import Floats, Mesh, Plane
from optimizer.trade.materials import Material

ALLOWED_NOWHERE = "nowhere in the stone"  # where a flaw may lie, as rough files say it
ALLOWED_OFF_TABLE = "off the table"
NOT_STATED = ("#9a9a9a", "#e4e4e4")  # greys drawn on either side where no colour is stated
PARALLEL = 1.0 - 1e-9  # cosine: two planes whose normals are this nearly opposite make a band


@dataclass(frozen=True)
class Slice:
    """The colour that ``mm`` of the stone show before white, sRGB ``#rrggbb``; None: not stated."""

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
        """``slices``; without any, the colour for drawings; empty where that is missing, too."""
        if self.slices or self.by_axis or self.srgb in NOT_STATED:
            return self.slices
        return (Slice(self.srgb, None),)


@dataclass(frozen=True)
class ConvexRoom:
    """The convex space above several planes at once: a corner, or the band between two."""

    planes: tuple[Plane, ...]  # two or more, normals into the room

    @property
    def thick_mm(self) -> float | None:
        """The thickness of a band, two parallel planes that face each other; else None."""
        one, *others = self.planes
        if len(others) != 1 or one.normal @ others[0].normal > -PARALLEL:
            return None
        return -(one.offset + others[0].offset)


@dataclass(frozen=True)
class Ball:
    """The space within ``radius_mm`` of ``centre`` (3,)."""

    centre: Floats
    radius_mm: float


@dataclass(frozen=True)
class BentSheet:
    """The space above an evenly bent sheet, w = (bend[0]·u² + bend[1]·v²)/2, a surface of second
    degree, with u, v, w along the rows of ``frame`` (3, 3), right-handed, from ``middle`` (3,)."""

    middle: Floats
    frame: Floats
    bend: Floats  # (2,) principal curvatures at the middle, 1/mm, positive towards the space


Boundary = Plane | ConvexRoom | Ball | BentSheet
"""A surface that divides space; heights are positive on the side of the ``towards`` colour."""


@dataclass(frozen=True)
class BoundaryFit:
    """How well a boundary fits the places or colours that it was fitted to."""

    source: str  # "marked places" | "colours"
    count: int  # places, or points of the border
    rms_mm: float
    worst_mm: float
    spare: int  # places beyond the fewest that settle the boundary: with none, the rms says nothing
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
        """The plane of a flat boundary, its normal towards ``towards``; other kinds have none."""
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
    looks: str = ""  # for a flat place that was found: a guess at what it is


@dataclass(frozen=True)
class Flaw:
    """An inclusion or a crack, in the scan frame, from which the finished stone keeps clear.

    The flaw is everything within ``radius_mm`` of its core: a point, a straight line, a flat round
    sheet, or a solid.
    """

    name: str
    ends: Floats  # (1, 3) the point, the sheet's middle, a point in the solid; (2, 3) line's ends
    normal: Floats | None  # (3,) unit, square to the sheet; None where the core is no sheet
    across_mm: float  # the sheet's diameter, infinite where it parts the whole piece; 0: no sheet
    radius_mm: float
    clearance_mm: float
    mesh: Mesh | None = None  # the core's surface where it is a solid: closed, wound outwards
    file: str | None = None  # that the mesh was read from, as the rough file names it
    off_table: bool = False  # may lie in the stone, but not straight below its table

    @property
    def may_split(self) -> bool:
        """Whether the flaw is a crack, or has a mesh, whose shape may hold a crack."""
        return self.normal is not None or self.mesh is not None

    @property
    def keep_mm(self) -> float:
        """Least distance in mm from the finished stone to the core."""
        return self.radius_mm + self.clearance_mm


def _nowhere() -> Floats:
    return np.empty((0, 3))


@dataclass(frozen=True)
class Repair:
    """One thing put right in a scan: a sentence about it, the places, the area and the distance.

    Where the solid itself did not change (its triangles were only split, merged or turned), no area
    and no distance are stated.
    """

    sentence: str
    points_mm: Floats = field(default_factory=_nowhere)  # (k, 3) places that it touched
    area_mm2: float = 0.0  # of the surface that was made anew or taken away
    moved_mm: float = 0.0  # the farthest that any of the surface moved
    # What was done, where the true surface may lie ``moved_mm`` deeper than the solid shows.
    guessed: str = ""  # "a hole was filled" | "a fold was resolved"


@dataclass(frozen=True, eq=False)
class Paint:
    """The colours of a scan's corner points: ``points_mm`` (n, 3), ``srgb`` (n, 3) in 0..1.

    The points are as in the scan: not merged, mended or thinned.
    """

    points_mm: Floats
    srgb: Floats


@dataclass(frozen=True)
class Readings:
    """How a piece was measured by hand: its form, sentences on how the solid was built, and the
    planes of the solid that the piece itself does not have, as at broken ends."""

    form: str
    notes: tuple[str, ...]
    not_real: tuple[Plane, ...] = ()  # normals out of the piece


@dataclass(frozen=True)
class Scale:
    """How the scan's numbers became millimetres, and how well that is known."""

    source: str = "unit"  # "unit" | "known distance" | "weight" | "readings"
    error: float = 0.0  # the share that lengths may be off by, apart from the scanner's own error
    error_mm: float = 0.0  # what that comes to at the farthest surface; part of the scan error
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
    second_axis: Floats | None = None  # (3,) unit, square to the optic axis; for three axis colours
    body_colour: Colour | None = None  # for a piece of one colour throughout
    cleavage: tuple[Floats, ...] = ()  # (3,) unit normals of the cleavage planes, either way
    paint: Paint | None = None  # None where the scan has no colours
    readings: Readings | None = None  # where it was built from these; ``scan`` is the rough file
    notes: tuple[str, ...] = ()  # what was worked out from readings, and how well
    weighed_error_ct: float | None = None  # how far the balance may be off; None: the usual error
    scale: Scale = Scale()
    name: str = ""  # what the piece is called; empty: by the scan's file
    form: str = ""  # "boule" | "split boule", where the rough file says so

    @property
    def title(self) -> str:
        """The piece's name, as headings, labels and summaries give it."""
        return self.name or PurePath(self.scan).stem

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
