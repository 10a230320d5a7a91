"""What the cutter needs at the bench, as numbers and marks in the scan frame (mm, degrees)."""

from dataclasses import dataclass

from optimizer.mesh import Floats, Plane
from optimizer.placement.zone_view import ZoneView


@dataclass(frozen=True)
class Distance:
    """A distance that a caliper or a height gauge can check, from ``start`` to ``end``.

    ``start`` and ``end`` are plain names ("face base", "the sawn face of cut 1", "mark P",
    "point A on the line of cut 2"). From a flat, ``start_point`` is the foot of the
    perpendicular on the flat's plane and may lie beside the piece: the piece then stands on that
    flat and ``mm`` is a height. ``how`` says in one plain sentence how to measure.
    """

    start: str
    end: str
    start_point: Floats  # (3,) scan frame
    end_point: Floats  # (3,) scan frame
    mm: float  # |end_point − start_point|
    how: str


@dataclass(frozen=True)
class Mark:
    """A place to mark on the surface: a point, or a line that runs through a point.

    ``line`` is the whole line on the surface as a closed polyline (its last point joins its
    first), to be drawn in a 3D view; None for points.
    """

    name: str
    point: Floats  # (3,) scan frame
    direction: Floats | None  # (3,) unit, for marks that show a direction; None for points
    text: str  # a plain sentence: what the mark is and how to use it
    line: Floats | None = None  # (k, 3) scan frame


@dataclass(frozen=True)
class DoppingFlat:
    """The face parallel to the table on which the stone is dopped first."""

    plane: Plane  # normal points out of the stone, along the table's normal
    above_table_mm: float
    sawn_by: int | None  # index of the cut that makes the flat; None: the flat is ground
    depth_to_grind_mm: float  # from the piece's surface down to the flat; 0 where it is sawn
    area_mm2: float  # of the flat on the sawn piece
    centre: Floats  # (3,) scan frame: where the stone's axis meets the flat
    circle_mm: float  # diameter of the largest circle about the axis on the flat; 0: none
    text: str  # a plain sentence


@dataclass(frozen=True)
class Dop:
    """Which dop to take. Common practice, no source."""

    least_mm: float  # diameter
    most_mm: float  # diameter; always within the finished outline
    text: str  # a plain sentence


@dataclass(frozen=True)
class DirectionView:
    """How the crystal lies in the stone; a direction and its opposite count as the same."""

    axes_deg: tuple[tuple[str, float], ...]  # known axes' angles to the table: 90 is square to it
    cleavage_deg: float | None  # of the nearest facet to a cleavage plane; None: unknown
    cleavage_facet: str | None  # the name of that facet


@dataclass(frozen=True)
class FlawView:
    """The part of a flaw that lies in the stone, for a flaw allowed off the table."""

    flaw: str
    crack: bool
    below_table_mm: float  # from the table's level to its highest part
    off_axis_mm: float  # from the stone's axis to its middle
    azimuth_deg: float | None  # of its middle, atan2(y, x) of the stone; None on the axis
    reaches_surface: bool  # whether it reaches the stone's surface or runs out of the stone


@dataclass(frozen=True)
class TierRow:
    """One line of the cut sheet."""

    order: int  # from 1
    name: str
    side: str
    angle_deg: float
    settings: tuple[int, ...]
    cut_to: str


@dataclass(frozen=True)
class SawGuide:
    """What the cutter needs for the saw cuts."""

    marks: tuple[Mark, ...]  # on the rough, to measure from
    distances: tuple[tuple[Distance, ...], ...]  # one tuple a cut, in sawing order


@dataclass(frozen=True)
class Guidance:
    """One stone's marks, dop, cut sheet, and the weights on the way."""

    flat: DoppingFlat
    dop: Dop
    marks: tuple[Mark, ...]  # on the sawn piece
    zone: ZoneView | None  # the ordered zone, else the rough's first, else None
    tiers: tuple[TierRow, ...]
    gear: int
    ladder: tuple[tuple[str, float], ...]  # ("rough", ct), ("sawn", ct), ("finished", ct)
    cautions: tuple[str, ...]
    direction: DirectionView | None = None  # None where the rough knows no axis or cleavage
    flaws: tuple[FlawView, ...] = ()  # the flaws in the stone
