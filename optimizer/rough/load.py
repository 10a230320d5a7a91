"""From a scan or a rough file to a Rough: read, scale, mend, judge, weigh."""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from optimizer.mesh import volume
from optimizer.rough.clouds.surface import closed
from optimizer.rough.doubts import doubts_about
from optimizer.rough.measured import build_measured
from optimizer.rough.model import Rough
from optimizer.rough.rough_file.facts import read_facts
from optimizer.rough.rough_file.known import with_known
from optimizer.rough.rough_file.source import Source, piece_name, scanned
from optimizer.rough.scale.correcting import ScaledSolid, corrected, with_scale
from optimizer.rough.zones.paint import paint
from optimizer.rough.zones.photo_table import with_photos
from optimizer.running.memory import refuse_too_many


def load_rough(
    path: str | Path, *, unit: str | None = None, rough_table: Mapping[str, Any] | None = None
) -> Rough:
    """The piece that ``path`` describes: a scan (formats: README.md) or a rough file (.toml).

    ``unit`` ("um", "mm", "cm", "m", "in") states the scan's unit where nothing else does.
    ``rough_table`` is the [rough] table of an order, for a bare mesh.
    The mesh stays in the scan's own frame, in millimetres. Raises InputError, one line, where the
    input is bad or the surface bounds no single solid.
    """
    folder = Path(path).parent
    facts = read_facts(Path(path), rough_table)
    where, material = facts.where, facts.material
    table, of_photos = with_photos(facts.table, folder, where)
    if table is not None and table.measured is not None:
        source = build_measured(Path(path), table, unit, material)
    else:
        source = scanned(facts.scan, table, unit, where)
    refuse_too_many(len(source.scan.faces), source.name)
    solid, built_mm = closed(source.scan, source.mm_per_unit, source.name)
    error_mm = source.error_mm + built_mm
    fitted = ScaledSolid(solid, source.mm_per_unit, source.scale, source.table, material)
    fitted = corrected(fitted, error_mm, where)
    rough = with_scale(_bare(source, fitted, error_mm), fitted.scale)
    rough = replace(rough, name=piece_name(Path(path), fitted.table))
    rough = with_known(rough, fitted.table, folder, where)
    doubts = (*source.doubts, *solid.doubts, *fitted.warnings, *doubts_about(rough))
    return replace(rough, warnings=doubts, notes=(*rough.notes, *of_photos))


def _bare(source: Source, fitted: ScaledSolid, error_mm: float) -> Rough:
    """The piece without the places and directions that its rough file states."""
    solid, table = fitted.solid, fitted.table
    return Rough(
        scan=source.name,
        mesh=solid.mesh,
        mm_per_unit=fitted.mm_per_unit,
        watertight_as_read=solid.watertight_as_read,
        repairs=solid.repairs,
        warnings=(),
        material=fitted.material,
        weighed_ct=table.weighed_ct,
        weighed_error_ct=table.weighed_error_ct,
        scan_error_mm=error_mm,
        zones=(),
        reference_faces=(),
        optic_axis=None,
        volume_mm3=volume(solid.mesh),
        parent=table.parent,
        form=table.form or "",
        paint=paint(source.scan, fitted.mm_per_unit),
        readings=source.readings,
    )
