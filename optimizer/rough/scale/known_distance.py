"""The scale by a distance that was measured on the piece: [known_distance] in rough files.

Photogrammetry, and any scanner that was never calibrated, gives a shape without a scale.
"""

import math
from dataclasses import dataclass

from pydantic import field_validator

from optimizer.errors import InputError
from optimizer.files.border import Table
from optimizer.rough.model import Scale
from optimizer.rough.rough_file.keys import Point, Positive
from optimizer.wording.plain_number import plain

# Calipers by hand, between two marks on rough stone (common practice, no source).
CALIPER_ERROR_MM = 0.05
# A distance known worse than this settles no scale: carats go by the cube.
_WORST_ERROR = 0.1


class DistanceTable(Table):
    """[known_distance]: two points of the scan, and how far apart they are on the piece."""

    between: list[Point]  # two points, in the scan file's own numbers
    mm: Positive  # how far apart they are on the piece
    error_mm: Positive = CALIPER_ERROR_MM

    @field_validator("between")
    @classmethod
    def _two_places(cls, points: list[Point]) -> list[Point]:
        if len(points) != 2 or points[0] == points[1]:
            raise ValueError("must hold two different points, [[x, y, z], [x, y, z]]")
        return points

    @property
    def in_scan_units(self) -> float:
        """The distance as the scan has it."""
        return math.dist(*self.between)


@dataclass(frozen=True)
class Measured:
    """A scale by a known distance: mm to the scan's unit, and the share it may be off by."""

    mm_per_unit: float
    error: float


def measured_scale(known: DistanceTable, scan_error_mm: float, where: str) -> Measured:
    """The calipers may be off by ``error_mm``, the surface at either end by the scan's error."""
    error = (known.error_mm + 2.0 * scan_error_mm) / known.mm
    scale = known.mm / known.in_scan_units
    if not 1e-9 < scale < 1e9:
        apart = "close together" if scale > 1.0 else "far apart"
        raise InputError(
            f'{where}: key "known_distance.between": in the scan the two points lie too {apart} '
            f"to be {plain(known.mm)} mm apart on the piece; check both points"
        )
    if error > _WORST_ERROR:
        raise InputError(
            f'{where}: key "known_distance": {plain(known.mm)} mm known to {100.0 * error:.0f} % '
            "settles no scale; take two marks farther apart"
        )
    return Measured(scale, error)


def by_distance(
    stated: float | None, known: DistanceTable | None, scan_error_mm: float, where: str
) -> tuple[float | None, Scale]:
    """(mm to the scan's unit, how well it is known): as stated, else by the known distance.

    Raises InputError where a stated scale is not within what the distance leaves open.
    """
    if known is None:
        return stated, Scale()
    measured = measured_scale(known, scan_error_mm, where)
    if stated is None:
        return measured.mm_per_unit, Scale("known distance", measured.error)
    if abs(stated / measured.mm_per_unit - 1.0) > measured.error:
        raise InputError(
            f"{where}: the unit says {plain(stated)} mm to one number of the scan, known_distance "
            f"says {plain(measured.mm_per_unit)} (give or take {100.0 * measured.error:.1f} %): "
            "keep the one you trust"
        )
    return stated, Scale()
