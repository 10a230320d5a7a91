"""From a scan or a rough file to a Rough: read, scale, mend, judge, weigh."""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from optimizer.errors import InputError
from optimizer.materials import Material, load_material
from optimizer.mesh import volume
from optimizer.rough.cloud import closed
from optimizer.rough.coarse import coarse_doubt
from optimizer.rough.correcting import Fitted, as_asked, with_scale
from optimizer.rough.doubts import doubts_about
from optimizer.rough.file_unit import with_file_unit
from optimizer.rough.known import with_known
from optimizer.rough.known_distance import by_distance
from optimizer.rough.measured import build_measured
from optimizer.rough.model import Rough, Scale
from optimizer.rough.paint import paint
from optimizer.rough.photo_table import with_photos
from optimizer.rough.repair.solidify import Solid
from optimizer.rough.rough_file import RoughTable, check_table, read_rough_file
from optimizer.rough.scan_file import read_scan
from optimizer.rough.units import longest_side, mm_per_unit, settle_scale

DEFAULT_SCAN_ERROR_MM = 0.02  # a careful desktop scan (common practice, no source)
DEFAULT_MATERIAL = "quartz"


def load_rough(
    path: str | Path, *, unit: str | None = None, rough_table: Mapping[str, Any] | None = None
) -> Rough:
    """The piece that ``path`` describes: a scan (formats: README.md) or a rough file (.toml).

    ``unit`` ("um", "mm", "cm", "m", "in") states the scan's unit where nothing else does.
    ``rough_table`` is the [rough] table of an order, for a bare mesh.
    The mesh stays in the scan's own frame, in millimetres. Raises InputError, one line, where the
    input is bad or the surface bounds no single solid.
    """
    scan_path, table, where = _facts(Path(path), rough_table)
    table, of_photos = with_photos(table, Path(path).parent, where)
    name = scan_path.name.encode(errors="replace").decode()  # a name in another encoding
    material = _material(table, where)
    built, stated, sure = None, _stated_scale(table, unit, where), Scale()
    of_file: tuple[str, ...] = ()
    if table is not None and table.measured is not None:
        built = build_measured(table, unit, material, scan_path.parent, where)
        stated, sure, scan, table = 1.0, Scale("readings"), built.scan, built.table
    else:
        scan = read_scan(scan_path)
        measured = table is not None and table.known_distance is not None
        stated, of_file = with_file_unit(stated, scan, measured, name)
    known = table or RoughTable(material=material.name)
    error_mm = DEFAULT_SCAN_ERROR_MM if known.scan_error_mm is None else known.scan_error_mm
    if known.known_distance is not None:
        stated, sure = by_distance(stated, known.known_distance, error_mm, where)
    scale, unit_warnings = settle_scale(stated, longest_side(scan.used_points), name)
    coarse = coarse_doubt(scan.used_points, scale, error_mm) if built is None else ()
    of_file = (*scan.left_out, *of_file, *unit_warnings, *coarse)
    solid, built_mm = closed(scan, scale, name)
    error_mm += built_mm
    fit = as_asked(Fitted(solid, scale, sure, known, material), error_mm, where)
    rough = _rough(name, fit.solid, fit.mm_per_unit, fit.table, fit.material, error_mm)
    rough = with_scale(replace(rough, paint=paint(scan, fit.mm_per_unit)), fit.scale)
    rough = with_known(rough, fit.table, Path(path).parent, where)
    if built is not None:
        rough, of_file = replace(rough, readings=built.readings), (*built.doubts, *of_file)
    doubts = (*of_file, *solid.doubts, *fit.warnings, *_defaults_taken(table), *doubts_about(rough))
    return replace(rough, warnings=doubts, notes=(*rough.notes, *of_photos))


def _facts(
    path: Path, rough_table: Mapping[str, Any] | None
) -> tuple[Path, RoughTable | None, str]:
    """(the scan's path, what is known about the piece, where that was read)."""
    if path.suffix.lower() != ".toml":
        if rough_table is None:
            return path, None, path.name
        where = "the order's [rough] table"
        table = check_table(rough_table, where)
        for key in ("scan", "measured"):
            if getattr(table, key) is not None:
                raise InputError(
                    f'{where}: key "{key}" is for a rough file; the call names the mesh'
                )
        return path, table, where
    if rough_table is not None:
        raise InputError(
            f"{path.name}: a rough file and a [rough] table in the order are both given; keep one"
        )
    table = read_rough_file(path)
    if table.measured is not None:
        return path, table, path.name
    scan = path.parent / str(table.scan)
    if scan.suffix.lower() == ".toml":
        raise InputError(f'{path.name}: key "scan" names a TOML file; name the mesh itself')
    if not scan.is_file():
        raise InputError(f'{path.name}: key "scan": there is no file {scan}')
    return scan, table, path.name


def _material(table: RoughTable | None, where: str) -> Material:
    if table is None:
        return load_material(DEFAULT_MATERIAL)
    try:
        return load_material(table.material)
    except InputError as error:
        raise InputError(f'{where}: key "material": {error}') from None


def _stated_scale(table: RoughTable | None, unit: str | None, where: str) -> float | None:
    called = None if unit is None else mm_per_unit(unit)
    if table is None or not (table.unit or table.mm_per_unit):
        return called
    stated = table.mm_per_unit or mm_per_unit(str(table.unit))
    if called is not None and called != stated:
        raise InputError(
            f'{where}: states {stated:g} mm a unit, but the call says unit "{unit}"; keep one'
        )
    return stated


def _rough(
    name: str, solid: Solid, scale: float, table: RoughTable, material: Material, error_mm: float
) -> Rough:
    return Rough(
        scan=name,
        mesh=solid.mesh,
        mm_per_unit=scale,
        watertight_as_read=solid.watertight_as_read,
        repairs=solid.repairs,
        warnings=(),
        material=material,
        weighed_ct=table.weighed_ct,
        weighed_error_ct=table.weighed_error_ct,
        scan_error_mm=error_mm,
        zones=(),
        reference_faces=(),
        optic_axis=None,
        volume_mm3=volume(solid.mesh),
        parent=table.parent,
        form=table.form or "",
    )


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
