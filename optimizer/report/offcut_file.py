"""The rough file of an offcut: what is known about the rough, as far as the offcut keeps it."""

from collections.abc import Iterable, Iterator
from pathlib import Path

import numpy as np

from optimizer.materials import own_sg_range
from optimizer.mesh import Floats, Mesh, Plane
from optimizer.plan_model import Plan
from optimizer.rough import write_rough_file
from optimizer.rough.boule import SPLIT, stated_form
from optimizer.rough.flaw_files import with_meshes_beside
from optimizer.rough.flaws import outside
from optimizer.rough.model import Flaw, ReferenceFace
from optimizer.sawing.model import Offcut, SawPlan
from optimizer.solid import as_solid

SAWN_WITHIN_MM = 1e-6  # the kernel cuts a sawn face exactly
SCANNED_WITHIN_MM = 0.3  # a scanned face is a fitted plane through noise


def write_offcut_file(plan: Plan, offcut: Offcut, path: Path) -> None:
    """A rough file ready to plan in: material, zones, flaws, axes, faces to measure from. The
    meshes of flaws go beside it."""
    write_rough_file(
        path,
        scan=path.with_suffix(".ply").name,
        material=plan.rough.material.name,
        scan_error_mm=plan.rough.scan_error_mm,
        sg_range=own_sg_range(plan.rough.material),
        form=SPLIT if stated_form(plan.rough) == SPLIT else None,
        zones=plan.rough.zones,
        flaws=with_meshes_beside(offcut_flaws(plan, offcut), path),
        reference_faces=offcut_faces(plan, offcut),
        optic_axis=plan.rough.optic_axis,
        growth_axis=plan.rough.growth_axis,
        second_axis=plan.rough.second_axis,
        body_colour=plan.rough.body_colour,
        cleavage=plan.rough.cleavage,
        parent=plan.rough.scan,
    )


def offcut_flaws(plan: Plan, offcut: Offcut) -> tuple[Flaw, ...]:
    """The rough's flaws that, with their clearance, reach into the offcut."""
    if not plan.rough.flaws:
        return ()
    solid, points = as_solid(offcut.mesh), offcut.mesh.vertices
    return tuple(flaw for flaw in plan.rough.flaws if not outside(flaw, solid, points))


def offcut_faces(plan: Plan, offcut: Offcut) -> tuple[ReferenceFace, ...]:
    """The sawn faces that bound the offcut, and the rough's own faces that it still has."""
    sawn = tuple(sawn_faces(plan.sawing, offcut))
    old = (
        face
        for face in plan.rough.reference_faces
        if _bounds(offcut.mesh, face.plane, SCANNED_WITHIN_MM)
    )
    return (*sawn, *_renamed(old, {face.name for face in sawn}))


def sawn_faces(sawing: SawPlan, offcut: Offcut) -> Iterator[ReferenceFace]:
    """The faces left on an offcut by the cuts that parted it from the rough."""
    for index, plane in sawing.faces_left(offcut.piece):
        if _bounds(offcut.mesh, plane, SAWN_WITHIN_MM):
            yield ReferenceFace(f"sawn face of cut {index + 1}", plane)


def _bounds(mesh: Mesh, plane: Plane, within_mm: float) -> bool:
    """Does ``mesh`` end at ``plane``, with three corners or more on it?"""
    height: Floats = mesh.vertices @ plane.normal - plane.offset
    return bool(height.max() <= within_mm and np.sum(np.abs(height) <= within_mm) >= 3)


def _renamed(faces: Iterable[ReferenceFace], taken: set[str]) -> Iterator[ReferenceFace]:
    """The parent's faces under names that no sawn face bears."""
    for face in faces:
        name = face.name
        while name in taken:
            name += " of the parent"
        taken.add(name)
        yield ReferenceFace(name, face.plane)
