"""A sawn piece as a rough of its own, with the facts that it keeps of the rough it was cut from."""

from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np

from optimizer.files.border import LONGEST_NAME
from optimizer.mesh import Floats, Mesh, Plane, volume
from optimizer.rough.boule import SPLIT, stated_form
from optimizer.rough.flaws.shape import outside
from optimizer.rough.model import Flaw, ReferenceFace, Rough
from optimizer.sawing.model import Offcut, SawPlan
from optimizer.solid import as_solid
from optimizer.wording.visible import visible

SAWN_WITHIN_MM = 1e-6  # the kernel cuts a sawn face exactly
SCANNED_WITHIN_MM = 0.3  # a scanned face is a fitted plane through noise


def offcut_rough(rough: Rough, sawing: SawPlan, offcut: Offcut) -> Rough:
    """A kept offcut as a rough of its own."""
    sawn = (
        ReferenceFace(sawn_face_name(index), plane)
        for index, plane in sawing.sawn_faces(offcut.piece)
    )
    return rough_of_piece(rough, offcut.mesh, offcut.piece, tuple(sawn))


def sawn_face_name(cut: int) -> str:
    """The name of the face that the cut with this index (from 0) left."""
    return f"sawn face of cut {cut + 1}"


def rough_of_piece(rough: Rough, mesh: Mesh, number: int, sawn: Iterable[ReferenceFace]) -> Rough:
    """The piece ``mesh`` that saw cuts left of ``rough``, unweighed; ``number`` is the piece's,
    after which its file is named.

    The piece keeps the rough's zones and directions, the flaws that reach into it, and those
    ``sawn`` faces and faces of the rough that bound it.
    """
    kept = tuple(face for face in sawn if _ends_at(mesh, face.plane, SAWN_WITHIN_MM))
    old = (f for f in rough.reference_faces if _ends_at(mesh, f.plane, SCANNED_WITHIN_MM))
    return replace(
        rough,
        scan=f"{number:02d}.ply",
        name=visible(f"{rough.title}, piece {number}", LONGEST_NAME),
        parent=rough.title,
        mesh=mesh,
        volume_mm3=volume(mesh),
        mm_per_unit=1.0,
        watertight_as_read=True,
        repairs=(),
        warnings=(),
        notes=(),
        paint=None,
        readings=None,
        weighed_ct=None,
        weighed_error_ct=None,
        form=SPLIT if stated_form(rough) == SPLIT else "",
        flaws=flaws_reaching(rough.flaws, mesh),
        reference_faces=(*kept, *_renamed(old, {face.name for face in kept})),
    )


def flaws_reaching(flaws: tuple[Flaw, ...], mesh: Mesh) -> tuple[Flaw, ...]:
    """The flaws that, with their clearance, reach into a solid."""
    if not flaws:
        return ()
    solid = as_solid(mesh)
    return tuple(flaw for flaw in flaws if not outside(flaw, solid, mesh.vertices))


def _ends_at(mesh: Mesh, plane: Plane, within_mm: float) -> bool:
    """Whether ``mesh`` ends at ``plane`` and has three corners or more on it."""
    height: Floats = mesh.vertices @ plane.normal - plane.offset
    return bool(height.max() <= within_mm and np.sum(np.abs(height) <= within_mm) >= 3)


def _renamed(faces: Iterable[ReferenceFace], taken: set[str]) -> Iterator[ReferenceFace]:
    """The parent's faces, renamed where a sawn face has the same name."""
    for face in faces:
        name = face.name
        while name in taken:
            name += " of the parent"
        taken.add(name)
        yield ReferenceFace(name, face.plane)
