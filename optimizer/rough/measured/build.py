"""From the [measured] table to a mesh, and to the rough table that a scan would have."""

import math
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import numpy as np

from optimizer.errors import InputError, nearest
from optimizer.files.border import checked
from optimizer.mesh import Floats
from optimizer.rough.flats.table import FaceTable
from optimizer.rough.formats.scan import Scan
from optimizer.rough.measured.block import BlockTable
from optimizer.rough.measured.boule import BouleTable, SplitBouleTable
from optimizer.rough.measured.crystal import CrystalTable
from optimizer.rough.measured.form import DEFAULT_READING_ERROR_MM, FormSolid, FormTable, PieceFacts
from optimizer.rough.measured.pebble import PebbleTable
from optimizer.rough.measured.slab import SlabTable
from optimizer.rough.model import Readings, ReferenceFace, Scale
from optimizer.rough.rough_file.source import Source, plain_name
from optimizer.rough.rough_file.table import RoughTable
from optimizer.rough.scale.units import longest_side, refuse_impossible, size_doubt
from optimizer.trade.materials import Material
from optimizer.wording.plain_number import plain

FORMS: dict[str, type[FormTable]] = {
    "block": BlockTable,
    "boule": BouleTable,
    "split boule": SplitBouleTable,
    "crystal": CrystalTable,
    "pebble": PebbleTable,
    "slab": SlabTable,
}
THINNEST_SHARE = 1e-3  # of the longest side: a thinner piece is a mistake (a judgement of ours)
_FOR_A_SCAN = ("unit", "mm_per_unit", "known_distance", "scan_error_mm")


def build_measured(path: Path, table: RoughTable, unit: str | None, material: Material) -> Source:
    """The piece that the [measured] table of the rough file at ``path`` describes.

    ``unit`` is the call's; only millimetres are allowed. The source's table has the faces and axes
    that the form gives. Raises InputError, one line, where the readings are bad or fit no solid.
    """
    where = path.name
    _refuse_scan_keys(table, unit, where)
    place = f"{where}: [measured]"
    readings = _form_table(table.measured or {}, place)
    try:
        body = readings.solid(PieceFacts(material, table.weighed_ct, path.parent))
    except ValueError as error:
        raise InputError(f"{place} {error}") from None
    error_mm = _rounded_up(readings.error_mm + body.unsure_mm)
    _refuse_unsure(readings, body, error_mm, place)
    longest_mm, in_mm = longest_side(body.mesh.vertices), "the readings, in millimetres"
    refuse_impossible(longest_mm, where, in_mm)
    return Source(
        plain_name(path),
        Scan(body.mesh.vertices, body.mesh.faces),
        1.0,
        Scale("readings"),
        error_mm,
        _as_if_scanned(table, body, error_mm, where),
        (*_default_taken(readings), *size_doubt(longest_mm, in_mm), *body.doubts),
        Readings(readings.form, _notes(table, readings, body, error_mm), body.not_real),
    )


def _refuse_unsure(readings: FormTable, body: FormSolid, error_mm: float, place: str) -> None:
    """Raise InputError where the errors of the readings leave nothing of the piece, or the piece
    is a sheet or a hair."""
    extents = np.ptp(body.mesh.vertices, axis=0)
    least, longest = float(extents.min()), float(extents.max())
    key = readings.dimension_key(least)
    if least < THINNEST_SHARE * longest:
        raise InputError(
            f"{place} makes the piece {plain(least, 4)} mm thick and {plain(longest, 4)} mm long, "
            f"too thin to cut: check {key}"
        )
    if error_mm >= least / 2.0:
        of_reading = readings.error_mm >= body.unsure_mm
        cause = "reading_error_mm" if of_reading else readings.unsure_by
        raise InputError(
            f"{place} has errors that sum to {plain(error_mm)} mm, half of the piece's least "
            f"dimension ({plain(least, 4)} mm) or more: check {key} and {cause}"
        )


def _refuse_scan_keys(table: RoughTable, unit: str | None, where: str) -> None:
    stated = [key for key in _FOR_A_SCAN if getattr(table, key) is not None]
    if table.scan is not None:
        raise InputError(f"{where}: scan and [measured] are both given; keep one")
    if stated:
        advice = (
            "the error of the readings is reading_error_mm"
            if "error" in stated[0]
            else "readings are in millimetres"
        )
        raise InputError(f'{where}: key "{stated[0]}" is for a scan; {advice}: drop it')
    if table.form is not None:
        raise InputError(f'{where}: key "form" is for a scan; [measured] has its own: drop it')
    if table.correct == "scale":
        raise InputError(
            f'{where}: correct = "scale" is for a scan; drop it, and measure the piece again'
        )
    if unit not in (None, "mm"):
        raise InputError(f"{where}: readings are in millimetres; drop --unit")


def _form_table(content: dict[str, Any], place: str) -> FormTable:
    if "form" not in content:
        raise InputError(f'{place} key "form" is missing; known: {", ".join(FORMS)}')
    form = content["form"]
    if not isinstance(form, str) or form not in FORMS:
        hint = nearest(str(form), FORMS)
        raise InputError(f'{place} key "form": "{form}" is no form known here; {hint}')
    strayed = [key for key in content if key in RoughTable.model_fields and key != "form"]
    if strayed:  # TOML gives a key to the table above it
        raise InputError(
            f'{place} key "{strayed[0]}" is about the piece, not its readings: put it above the '
            "line [measured]"
        )
    return checked(FORMS[form], content, place)


def _as_if_scanned(table: RoughTable, body: FormSolid, error_mm: float, where: str) -> RoughTable:
    """The rough table with the form's own faces, axes and error filled in; axes that the file
    states take precedence."""
    names = {face.name for face in body.faces}
    twice = [face.name for face in table.reference_faces if face.name in names]
    if twice:
        raise InputError(
            f'{where}: reference face "{twice[0]}" bears the name of one that the form gives; '
            "give it another"
        )
    return table.model_copy(
        update={
            "scan_error_mm": error_mm,
            "reference_faces": [*_face_tables(body.faces), *table.reference_faces],
            "optic_axis": table.optic_axis or _listed(body.optic_axis),
            "growth_axis": table.growth_axis or _listed(body.growth_axis),
        }
    )


def _face_tables(faces: Iterable[ReferenceFace]) -> list[FaceTable]:
    return [
        FaceTable(
            name=face.name,
            point_mm=(face.plane.normal * face.plane.offset).tolist(),
            normal=face.plane.normal.tolist(),
        )
        for face in faces
    ]


def _listed(axis: Floats | None) -> list[float] | None:
    return None if axis is None else np.asarray(axis, float).tolist()


def _rounded_up(error_mm: float) -> float:
    """To the next whole 0.001 mm, so that what is shown is what is kept."""
    return math.ceil(error_mm * 1000.0 - 1e-6) / 1000.0


def _notes(
    table: RoughTable, readings: FormTable, body: FormSolid, error_mm: float
) -> tuple[str, ...]:
    axes = [
        f"{name}: not stated, so taken along z, the length of the {readings.form}"
        for name, stated, found in (
            ("optic axis", table.optic_axis, body.optic_axis),
            ("growth axis", table.growth_axis, body.growth_axis),
        )
        if stated is None and found is not None
    ]
    made_up = f"a reading's error of {plain(readings.error_mm)} mm"
    if body.unsure_mm > 0.0:
        made_up += f" and {body.unsure_mm:.3f} mm of the form and of readings that differ"
    return (
        f"frame: {body.frame}",
        *body.notes,
        *axes,
        f"the surface may be off by {plain(error_mm)} mm: {made_up}",
    )


def _default_taken(readings: FormTable) -> tuple[str, ...]:
    if readings.reading_error_mm is not None:
        return ()
    return (
        f"no error of the readings is stated: {plain(DEFAULT_READING_ERROR_MM)} mm is taken; state "
        "it in [measured] (reading_error_mm = ...)",
    )
