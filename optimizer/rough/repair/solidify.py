"""The ladder from a scan to one closed solid in mm: each step mends or refuses, and reports."""

from dataclasses import dataclass, replace

import numpy as np

from optimizer.errors import InputError
from optimizer.mesh import Floats, Mesh
from optimizer.rough.formats.scan import Scan
from optimizer.rough.model import Repair
from optimizer.rough.repair.bodies import doubts_of_hollows, face_outwards, refuse_thin
from optimizer.rough.repair.budget import BudgetSpentError
from optimizer.rough.repair.crossing import refuse_crossing, resolution
from optimizer.rough.repair.edges import Edges, edges_of
from optimizer.rough.repair.folds import HAIR, resolve_folds
from optimizer.rough.repair.holes import fill
from optimizer.rough.repair.mend import Mended, counted, drop_needless_faces, merge_corners
from optimizer.rough.repair.orient import make_agree
from optimizer.rough.repair.sheets import drop_flaps, drop_sheets, refuse_branching
from optimizer.rough.repair.spikes import take_off_spikes
from optimizer.rough.repair.touching import part_touching
from optimizer.rough.repair.words import longest_mm


@dataclass(frozen=True)
class MendedSolid:
    """A closed, outward-oriented surface in mm, and what had to be put right for it.

    ``doubts`` say where the piece may differ from the solid.
    """

    mesh: Mesh
    repairs: tuple[Repair, ...]
    watertight_as_read: bool
    doubts: tuple[str, ...]


def make_solid(scan: Scan, scale: float, name: str) -> MendedSolid:
    """The scan as one closed solid in mm, ``scale`` mm to its unit, outward-oriented.

    Small faults are mended, each reported with where, how much and how far; vertices that no repair
    touches keep their order and place. Raises InputError, saying where and what to rescan, where it
    isn't certain what the solid is. A sealed solid is taken as it is.
    """
    try:
        return _made(scan, Mesh(_in_mm(scan.vertices, scale, name), scan.faces), scale, name)
    except BudgetSpentError as spent:
        raise InputError(f"{name}: {spent}") from None


def _made(scan: Scan, mesh: Mesh, scale: float, name: str) -> MendedSolid:
    """The ladder itself, on the scan's ``mesh`` in mm."""
    if scan.sealed:
        _refuse_unsound(mesh, name)
        return MendedSolid(mesh, (), True, doubts_of_hollows(mesh))
    merged = merge_corners(mesh)
    closed, edges = close(merged.mesh, name)
    facing = face_outwards(closed.mesh, edges, name)
    smooth = take_off_spikes(facing.mesh)
    tolerance = resolution(scan.used_points) * scale
    refuse_thin(smooth.mesh, tolerance, name)
    whole = resolve_folds(smooth.mesh, tolerance, name)
    steps = [merged, closed, facing, smooth, whole]
    if whole.repairs:
        steps += _mend_again(whole.mesh, name)
    last = steps[-1].mesh
    if last is not merged.mesh:
        last = merge_corners(last).mesh  # drops points that no triangle uses any more
    steps.append(part_touching(last))
    _refuse_unsound(steps[-1].mesh, name)
    as_read = smooth.mesh is whole.mesh and facing.mesh is closed.mesh and not closed.repairs
    return MendedSolid(
        steps[-1].mesh,
        (*_split(scan), *(repair for step in steps for repair in step.repairs)),
        as_read,
        tuple(doubt for step in steps for doubt in step.doubts),
    )


def unchanged_solid(scan: Scan, scale: float, name: str) -> MendedSolid:
    """As ``make_solid``, for a shape that must not change, such as a flaw's: a repair that is safe
    for the piece may make the flaw too small. Raises InputError where a repair would be needed."""
    solid = make_solid(scan, scale, name)
    for repair in solid.repairs:
        if repair.area_mm2 > 0.0:
            raise InputError(
                f"{name}: the shape is not one sound body ({repair.sentence}); mend it in the scan "
                "software"
            )
    return solid


def close(mesh: Mesh, name: str) -> tuple[Mended, Edges]:
    """A surface without needless faces, flaps, sheets and small holes, whose neighbours agree; and
    its edges. Raises InputError where it stays open or branches."""
    needless = drop_needless_faces(mesh)
    mesh, repairs, doubts = needless.mesh, [*needless.repairs], [*needless.doubts]
    if not len(mesh.faces):
        raise InputError(
            f"{name}: every triangle has two corners at one point or lies on another, so that they "
            "bound nothing; save the scan again"
        )
    edges = edges_of(mesh)
    for step in (drop_flaps, make_agree, drop_sheets, fill):
        done = step(mesh, edges, name)
        repairs += done.repairs
        doubts += done.doubts
        if done.mesh is not mesh:
            mesh, edges = done.mesh, edges_of(done.mesh)
    refuse_branching(mesh, edges, name)
    return Mended(mesh, tuple(repairs), tuple(doubts)), edges


def _mend_again(mesh: Mesh, name: str) -> list[Mended]:
    """The repairs of what resolved folds leave behind: small closed bodies, which raise no doubts
    of their own, and parts too small for the numbers to resolve."""
    closed, edges = close(merge_corners(mesh).mesh, name)
    facing = face_outwards(closed.mesh, edges, name)
    refuse_crossing(facing.mesh, name, HAIR * longest_mm(facing.mesh))
    return [closed, replace(facing, doubts=())]


def _split(scan: Scan) -> tuple[Repair, ...]:
    if not scan.polygons_split:
        return ()
    return (Repair(f"{counted(scan.polygons_split, 'face')} of more than three corners split"),)


def _in_mm(points: Floats, scale: float, name: str) -> Floats:
    with np.errstate(over="ignore"):
        scaled = points * scale
    # Beyond this, coordinates resolve too little, and products of three of them may overflow.
    if not (np.abs(scaled) < 1e12).all():
        raise InputError(f"{name}: coordinates run beyond 1e12 mm; check the unit and the scan")
    return scaled


def _refuse_unsound(mesh: Mesh, name: str) -> None:
    """The robust kernel has the last word on whether this is a solid."""
    from optimizer.solid import as_solid

    try:
        as_solid(mesh)
    except InputError as error:
        raise InputError(f"{name}: {error}; mend it in the scan software") from None
