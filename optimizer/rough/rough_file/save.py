"""Saving a piece, ready to plan in: its solid, and beside it a rough file of all that is known."""

from pathlib import Path
from typing import Any

import numpy as np

from optimizer.errors import AuditError, InputError
from optimizer.files.toml_file import toml_text
from optimizer.rough.boule import stated_form
from optimizer.rough.flats.table import face_keys
from optimizer.rough.flaws.files import with_meshes_beside
from optimizer.rough.flaws.table import flaw_keys
from optimizer.rough.formats.ply import write_solid
from optimizer.rough.load import load_rough
from optimizer.rough.model import Rough
from optimizer.rough.zones.colour_table import colour_keys
from optimizer.rough.zones.table import zone_keys
from optimizer.trade.materials import own_sg_range

COMMENT = "A piece of rough: lengths in millimetres, in the frame of the scan."


def save_rough(rough: Rough, path: Path) -> None:
    """Write the rough file ``path`` (.toml), its mesh and those of its flaws beside it.

    ``load_rough`` reads the same piece back: the same solid to the last bit, in the same frame.
    This is tried at once. Raises AuditError where it fails.
    """
    scan = path.with_suffix(".ply")
    write_solid(scan, rough.mesh)
    table = _table(rough, scan.name) | {
        "flaws": [flaw_keys(flaw) for flaw in with_meshes_beside(rough.flaws, path)]
    }
    path.write_text(toml_text(COMMENT, _stated(table)), encoding="utf-8")
    _require_same(rough, path)


def _require_same(rough: Rough, path: Path) -> None:
    """Read the file that was just written. Raises AuditError where another piece comes back."""
    try:
        back = load_rough(path)
    except InputError as error:
        raise AuditError(f"a file that was written can't be read back: {error}") from None
    solid = np.array_equal(back.mesh.vertices, rough.mesh.vertices)
    solid = solid and np.array_equal(back.mesh.faces, rough.mesh.faces)
    solid = solid and back.title == rough.title
    named = [[thing.name for thing in things] for things in _named_things(back)]
    if not solid or named != [[thing.name for thing in things] for things in _named_things(rough)]:
        raise AuditError(f"{path.name}: another piece was read back than was written")


def _named_things(rough: Rough) -> tuple[tuple[Any, ...], ...]:
    return rough.zones, rough.reference_faces, rough.flaws


def _table(rough: Rough, scan: str) -> dict[str, Any]:
    """The rough file's table, but for the flaws; empty where nothing is known."""
    return {
        "name": rough.title,
        "scan": scan,
        "unit": "mm",
        "material": rough.material.name,
        "form": stated_form(rough),
        "parent": rough.parent,
        "scan_error_mm": rough.scan_error_mm,
        "weighed_ct": rough.weighed_ct,
        "weighed_error_ct": rough.weighed_error_ct,
        "sg_range": own_sg_range(rough.material),
        "optic_axis": rough.optic_axis,
        "growth_axis": rough.growth_axis,
        "second_axis": rough.second_axis,
        "body_colour": None if rough.body_colour is None else colour_keys(rough.body_colour),
        "cleavage": list(rough.cleavage),
        "zones": [zone_keys(zone) for zone in rough.zones],
        "reference_faces": [face_keys(face) for face in rough.reference_faces],
    }


def _stated(table: dict[str, Any]) -> dict[str, Any]:
    """Without empty texts and lists."""
    return {key: v for key, v in table.items() if not (isinstance(v, str | list) and not v)}
