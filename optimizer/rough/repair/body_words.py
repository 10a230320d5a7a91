"""Sentences about bodies: those left out, those kept as hollows, and those that are too many."""

from collections.abc import Sequence

import numpy as np

from optimizer.errors import InputError
from optimizer.mesh import Floats, Mesh
from optimizer.rough.model import Repair
from optimizer.rough.repair.closed_surface import ClosedSurface, apart, cross
from optimizer.rough.repair.mend import counted
from optimizer.rough.repair.words import areas_mm2, mm, percent, place
from optimizer.wording.plain_number import plain


def crumbs_left_out(
    mesh: Mesh, main: ClosedSurface, crumbs: Sequence[ClosedSurface]
) -> tuple[Repair, ...]:
    """The repair that leaves out the bodies beside the piece; none where there are none."""
    if not crumbs:
        return ()
    volume = sum(abs(body.volume_mm3) for body in crumbs)
    largest = max(crumbs, key=lambda body: body.longest_mm)
    sentence = (
        f"{counted(len(crumbs), 'separate body', 'separate bodies')} beside the piece left out, "
        f"{plain(volume, 3)} mm³ or {percent(volume / main.volume_mm3)} of it, the largest "
        f"{mm(largest.longest_mm)} long about {place(largest.middle)}; the piece keeps its size"
    )
    return (Repair(sentence, *_touched(mesh, crumbs)),)


def hollows_kept(mesh: Mesh, hollows: Sequence[ClosedSurface]) -> tuple[Repair, ...]:
    """The repair that keeps closed surfaces within the piece as hollows; none without them."""
    if not hollows:
        return ()
    volume = sum(abs(body.volume_mm3) for body in hollows)
    sentence = (
        f"{counted(len(hollows), 'closed surface')} within the piece taken for "
        f"{'a hollow' if len(hollows) == 1 else 'hollows'} that stones keep clear of, "
        f"{plain(volume, 3)} mm³; the piece becomes smaller"
    )
    return (Repair(sentence, *_touched(mesh, hollows)),)


def doubt_of_hollows(hollows: Sequence[ClosedSurface]) -> tuple[str, ...]:
    """The doubt that the hollows may be sound stone; none where there are no hollows."""
    if not hollows:
        return ()
    largest = max(hollows, key=lambda body: body.longest_mm)
    return (
        f"the scan shows {counted(len(hollows), 'hollow')} within the piece, the largest "
        f"{mm(largest.longest_mm)} long about {place(largest.middle)}: if the stone is sound "
        "there, remove the inner surface in the scan software",
    )


def outer_walls_left_out(
    mesh: Mesh, main: ClosedSurface, walls: Sequence[ClosedSurface]
) -> tuple[Repair, ...]:
    """The repair that leaves out the outer of two walls; none where there is one wall."""
    if not walls:
        return ()
    points, area = _touched(mesh, [main])
    gap = max(apart(mesh, main, wall) or 0.0 for wall in walls)
    sentence = (
        f"the outer of two walls left out, {plain(area, 4)} mm², up to {mm(gap)} off the inner "
        "one; the piece becomes smaller"
    )
    return (Repair(sentence, points, area, gap),)


def doubt_of_walls(
    mesh: Mesh, main: ClosedSurface, walls: Sequence[ClosedSurface]
) -> tuple[str, ...]:
    """The doubt that the piece may be as large as the outer wall; none where there is one wall."""
    if not walls:
        return ()
    gap = max(apart(mesh, main, wall) or 0.0 for wall in walls)
    return (
        f"the scan has two walls up to {mm(gap)} apart, of which the inner one is kept: the "
        "piece may be that much larger; join the passes anew in the scan software",
    )


def _touched(mesh: Mesh, bodies: Sequence[ClosedSurface]) -> tuple[Floats, float]:
    """(the middles of the bodies, the area of their surfaces)."""
    area = sum(float(areas_mm2(mesh.triangles[body.faces]).sum()) for body in bodies)
    return np.array([body.middle for body in bodies]), area


def several_bodies(
    mesh: Mesh, main: ClosedSurface, others: Sequence[ClosedSurface], one: ClosedSurface, name: str
) -> InputError:
    """The error that ``one`` of the bodies makes it uncertain which of them are the piece."""
    sizes = f"{len(others) + 1} bodies, the greatest {mm(main.longest_mm)} long"
    this = f"one of {mm(one.longest_mm)} about {place(one.middle)}"
    share = percent(abs(one.volume_mm3) / main.volume_mm3)
    if (one.outside == 0 and one.volume_mm3 < 0.0) or one.outside == 1:
        return InputError(
            f"{name}: {sizes}; {this}, with {share} of its volume, lies within the greatest, and "
            "whether it is a hollow or a second wall isn't certain; remove what isn't there in the "
            "scan software, or rescan the piece"
        )
    if cross(mesh, main, one):
        return InputError(
            f"{name}: {sizes}; {this}, with {share} of its volume, runs through its surface: scan "
            "passes were badly joined, or something else was scanned too; join the passes anew, or "
            "remove what isn't the piece, in the scan software"
        )
    return InputError(
        f"{name}: {sizes}; {this} has {share} of its volume, too much to leave out; keep the piece "
        "and remove the others in the scan software"
    )
