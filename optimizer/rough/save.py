"""A piece saved to be planned in: its solid, and beside it a rough file of what is known of it."""

from pathlib import Path

from optimizer.materials import own_sg_range
from optimizer.rough.boule import stated_form
from optimizer.rough.flaw_files import with_meshes_beside
from optimizer.rough.model import Rough
from optimizer.rough.ply import write_ply
from optimizer.rough.rough_file import write_rough_file


def save_rough(rough: Rough, path: Path) -> None:
    """Write the rough file ``path`` (.toml), its mesh and those of its flaws beside it.

    ``load_rough`` reads the same piece back: the same solid to the last bit, in the same frame.
    """
    scan = path.with_suffix(".ply")
    write_ply(scan, rough.mesh)
    write_rough_file(
        path,
        scan=scan.name,
        material=rough.material.name,
        scan_error_mm=rough.scan_error_mm,
        weighed_ct=rough.weighed_ct,
        weighed_error_ct=rough.weighed_error_ct,
        sg_range=own_sg_range(rough.material),
        form=stated_form(rough) or None,
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
