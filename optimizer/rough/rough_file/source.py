"""What a piece comes from: a scan with its unit settled, or a body built from readings."""

from dataclasses import dataclass
from pathlib import Path

from optimizer.errors import InputError
from optimizer.files.border import LONGEST_NAME
from optimizer.rough.formats.read import read_scan
from optimizer.rough.formats.scan import Scan
from optimizer.rough.model import Readings, Scale
from optimizer.rough.rough_file.table import RoughTable
from optimizer.rough.scale.coarse import coarse_error
from optimizer.rough.scale.file_unit import with_file_unit
from optimizer.rough.scale.known_distance import by_distance
from optimizer.rough.scale.units import mm_per_unit, settle_scale, size_of
from optimizer.wording.plain_number import plain
from optimizer.wording.visible import visible

DEFAULT_SCAN_ERROR_MM = 0.02  # a careful desktop scan (common practice, no source)
DEFAULT_MATERIAL = "quartz"


@dataclass(frozen=True)
class Source:
    """A surface or a cloud as it was read or built, its scale, and what is known of the piece."""

    name: str  # of the file that scan or readings stand in
    scan: Scan
    mm_per_unit: float
    scale: Scale
    error_mm: float  # how far the scan or the readings may be off
    table: RoughTable
    doubts: tuple[str, ...]
    readings: Readings | None = None


def scanned(path: Path, table: RoughTable | None, unit: str | None, where: str) -> Source:
    """The scan at ``path``. ``unit`` is the call's; ``where`` begins complaints about ``table``.

    Raises InputError where the file is bad, or its unit unknown or contradicted.
    """
    name = plain_name(path)
    known = table or RoughTable(material=DEFAULT_MATERIAL)
    error_mm = DEFAULT_SCAN_ERROR_MM if known.scan_error_mm is None else known.scan_error_mm
    stated = _stated_scale(known, unit, where)
    scan = read_scan(path)
    is_measured = known.known_distance is not None
    longest = size_of(scan.used_points, name)
    stated, of_unit = with_file_unit(stated, scan.unit, longest, is_measured, name)
    stated, scale = by_distance(stated, known.known_distance, error_mm, where)
    settled, coarse_mm, of_numbers = _judged(scan, stated, longest, error_mm, name, scale.source)
    doubts = (*scan.left_out, *of_unit, *of_numbers, *_defaults_taken(table))
    return Source(name, scan, settled, scale, error_mm + coarse_mm, known, doubts)


def _judged(
    scan: Scan, stated: float | None, longest: float, error_mm: float, name: str, source: str
) -> tuple[float, float, tuple[str, ...]]:
    """(mm per unit, what coarse numbers add to the scan error in mm, doubts), by the scan's size
    and its numbers. A sealed solid's were judged before it was written: a crumb may be small."""
    if scan.sealed and stated is not None:
        return stated, 0.0, ()
    settled, of_size = settle_scale(stated, longest, name, f"the {source}")
    coarse_mm, coarse = coarse_error(scan.used_points, settled, error_mm)
    return settled, coarse_mm, (*of_size, *coarse)


def plain_name(path: Path) -> str:
    """The file's name in a form that can be shown and written, since names may hold any bytes."""
    return visible(path.name)


def piece_name(path: Path, table: RoughTable) -> str:
    """What the piece is called: by its rough file, else like the file at ``path``."""
    return table.name or visible(path.stem, LONGEST_NAME)


def _stated_scale(table: RoughTable, unit: str | None, where: str) -> float | None:
    called = None if unit is None else mm_per_unit(unit)
    if not (table.unit or table.mm_per_unit):
        return called
    stated = table.mm_per_unit or mm_per_unit(str(table.unit))
    if called is not None and called != stated:
        raise InputError(
            f'{where}: states {plain(stated)} mm a unit, but the call says unit "{unit}"; keep one'
        )
    return stated


def _defaults_taken(table: RoughTable | None) -> tuple[str, ...]:
    taken = []
    if table is None:
        taken.append(
            f"no material is stated: weights are those of {DEFAULT_MATERIAL}; state it in a rough "
            f'file (material = "...")'
        )
    if table is None or table.scan_error_mm is None:
        taken.append(
            f"no scan error is stated: {DEFAULT_SCAN_ERROR_MM} mm is taken; state it in the rough "
            "file (scan_error_mm = ...)"
        )
    return tuple(taken)
