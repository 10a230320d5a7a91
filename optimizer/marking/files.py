"""The check's folder: complete or absent."""

from pathlib import Path

from optimizer.folder import whole_folder
from optimizer.marking.page import marking_html
from optimizer.marking.picture import check_png
from optimizer.materials import own_sg_range
from optimizer.rough import with_flats, write_ply, write_rough_file
from optimizer.rough.boule import stated_form
from optimizer.rough.flaw_files import with_meshes_beside
from optimizer.rough.model import Rough


def write_check(rough: Rough, out: Path, *, replace: bool) -> None:
    """Write the marking page, the picture, the mended solid and a rough file for it to ``out``.

    Flat places are looked for where the rough file names none. Raises InputError where ``out``
    exists and may not be replaced.
    """
    with whole_folder(out, replace) as fresh:
        piece = with_flats(rough)
        write_ply(fresh / "rough.ply", piece.mesh)
        _write_rough_file(piece, fresh / "rough.toml")
        text = (fresh / "rough.toml").read_text(encoding="utf-8")
        (fresh / "check.png").write_bytes(check_png(piece))
        (fresh / "marking.html").write_text(marking_html(piece, text), encoding="utf-8")


def _write_rough_file(rough: Rough, path: Path) -> None:
    write_rough_file(
        path,
        scan="rough.ply",
        material=rough.material.name,
        scan_error_mm=rough.scan_error_mm,
        form=stated_form(rough) or None,
        weighed_ct=rough.weighed_ct,
        weighed_error_ct=rough.weighed_error_ct,
        sg_range=own_sg_range(rough.material),
        zones=rough.zones,
        flaws=with_meshes_beside(rough.flaws, path),
        reference_faces=rough.reference_faces,
        optic_axis=rough.optic_axis,
        growth_axis=rough.growth_axis,
        second_axis=rough.second_axis,
        body_colour=rough.body_colour,
        cleavage=rough.cleavage,
        parent=rough.parent,
    )
