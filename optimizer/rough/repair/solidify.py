"""The ladder from a scan to one closed solid in mm: each step mends or refuses, and reports."""

from dataclasses import dataclass

import numpy as np

from optimizer.errors import InputError
from optimizer.mesh import Floats, Mesh, volume
from optimizer.rough.mend import counted, drop_needless_faces, merge_corners, turn_outwards
from optimizer.rough.model import Repair
from optimizer.rough.scan_file import Scan
from optimizer.rough.surface import faces_against, meeting_edges, refuse_flat


@dataclass(frozen=True)
class Solid:
    """A closed, outward-oriented surface in mm, and what had to be put right for it."""

    mesh: Mesh
    repairs: tuple[Repair, ...]
    watertight_as_read: bool


def make_solid(scan: Scan, scale: float, name: str) -> Solid:
    """The scan as one closed solid in mm, ``scale`` mm to its unit, outward-oriented.

    Raises InputError, saying how much and where, for an open, branching, one-sided or
    self-crossing surface, several bodies, or no volume.
    """
    from optimizer.rough.crossing import refuse_crossing, resolution

    points = _in_mm(scan.vertices, scale, name)
    merged = merge_corners(Mesh(points, scan.faces))
    kept = drop_needless_faces(merged.mesh)
    if not len(kept.mesh.faces):
        raise InputError(
            f"{name}: every triangle has two corners at one point; save the scan again"
        )
    edges = meeting_edges(kept.mesh, name)
    against = faces_against(kept.mesh, edges, name)
    agreed = turn_outwards(kept.mesh, against, 0.0)
    refuse_flat(agreed.mesh, name)
    refuse_crossing(agreed.mesh, name, resolution(scan.used_points) * scale)
    turned = turn_outwards(kept.mesh, against, volume(agreed.mesh))
    _ask_the_kernel(turned.mesh, name)
    split = counted(scan.polygons_split, "face")
    polygons = [Repair(f"{split} of more than three corners split")] if scan.polygons_split else []
    repairs = (*polygons, *merged.repairs, *kept.repairs, *turned.repairs)
    return Solid(turned.mesh, repairs, not (kept.repairs or turned.repairs))


def _in_mm(points: Floats, scale: float, name: str) -> Floats:
    with np.errstate(over="ignore"):
        scaled = points * scale
    # Beyond this, coordinates resolve too little, and products of three of them may overflow.
    if not (np.abs(scaled) < 1e12).all():
        raise InputError(f"{name}: coordinates run beyond 1e12 mm; check the unit and the scan")
    return scaled


def _ask_the_kernel(mesh: Mesh, name: str) -> None:
    """The robust kernel has the last word on whether this is a solid."""
    from optimizer.solid import rough_solid

    try:
        rough_solid(mesh)
    except InputError as error:
        raise InputError(f"{name}: {error}; mend it in the scan software") from None
