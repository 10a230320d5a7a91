"""What the hands need, as numbers and marks in the scan frame (mm, degrees)."""

from dataclasses import dataclass

from optimizer.mesh import Floats, Plane


@dataclass(frozen=True)
class Distance:
    """A distance that a caliper can check: from ``start`` (a named place) to ``end``."""

    start: str
    end: str
    start_point: Floats  # (3,) scan frame
    end_point: Floats  # (3,)
    mm: float


@dataclass(frozen=True)
class Mark:
    """A place to mark on the rough's surface."""

    name: str
    point: Floats  # (3,) scan frame
    direction: Floats | None  # (3,) unit, for marks that are lines; None for points
    text: str


@dataclass(frozen=True)
class DoppingFlat:
    """The face parallel to the table on which the stone is dopped first."""

    plane: Plane  # normal points out of the stone, along the table's normal
    above_table_mm: float
    sawn_by: int | None  # index of the cut that makes it; None: grind it
    depth_to_grind_mm: float  # from the surface it stands on, when it is ground


@dataclass(frozen=True)
class ZoneView:
    """The colour boundary seen from the stone."""

    zone: str
    colour: str
    tilt_deg: float
    azimuth_deg: float | None  # None within 1 degree of tilt ±90
    offset: float
    share_percent: float  # of the stone's volume on the side of ``colour``


@dataclass(frozen=True)
class TierRow:
    """One line of the cut sheet."""

    order: int
    name: str
    side: str
    angle_deg: float
    settings: tuple[int, ...]
    cut_to: str


@dataclass(frozen=True)
class Guidance:
    """One stone's marks, dop, cut sheet, and the weights on the way."""

    flat: DoppingFlat
    marks: tuple[Mark, ...]
    cut_distances: tuple[tuple[Distance, ...], ...]  # one tuple a cut
    zone: ZoneView | None
    tiers: tuple[TierRow, ...]
    gear: int
    ladder: tuple[tuple[str, float], ...]  # ("rough", ct), ("sawn", ct), ("finished", ct)
    cautions: tuple[str, ...]
