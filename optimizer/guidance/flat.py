"""The dopping flat, and the dop that stands on it."""

from typing import Any

import numpy as np

from optimizer.guidance.model import Dop, DoppingFlat
from optimizer.mesh import Floats, Plane
from optimizer.order import Workshop
from optimizer.placement.model import Placement
from optimizer.sawing.model import SawPlan
from optimizer.solid import plane_frame, section

JUST_INSIDE_MM = 1e-4  # a sawn face is measured this far under its surface
PARALLEL_RAD = 5e-6  # a face tilted by less counts as parallel: under 0.0001 mm across a stone
DOP_SHARE = (0.5, 0.75)  # of the finished width; common practice, no source
LEAST_DOP_SHARE = (
    0.3  # of it: a dop that is narrower does not hold the stone against the lap, having a
)
# tenth of the area below it or less; common practice, no source
_NOTHING_MM = 0.05  # to grind: rounds to nothing
_LEVEL = 1e-12  # how far the cosine of a level facet may be off 1


def dopping_flat(
    placement: Placement,
    plan: SawPlan,
    home: int,
    piece: Any,
    workshop: Workshop,
    scan_error_mm: float,
) -> DoppingFlat:
    """The face parallel to the table on the table side: sawn, where a cut leaves one that is large
    enough for a dop, else ground.

    ``home`` is the piece that holds the stone after the last cut, and ``piece`` its robust solid.
    A flat to be ground lies clean_up + scan_error above the finished table, as low as the
    allowances permit. There the piece is at least as wide as the table, and nothing is ground that
    would not come off anyway.
    """
    pose, up = placement.pose, placement.pose.rotation[:, 2]
    table = float(up @ pose.translation + placement.body.vertices_at(pose.width)[:, 2].max())
    sawn_by, level = None, table + workshop.clean_up_mm + scan_error_mm
    area, circle, centre = _size(placement, piece, level)
    sawn = _table_cut(plan, home, pose.translation, up)
    if sawn is not None:
        own = _size(placement, piece, sawn[1])
        if own[1] >= min(circle, LEAST_DOP_SHARE * _extent(placement)):
            sawn_by, level = sawn
            area, circle, centre = own
    top = float((plan.pieces[home].mesh.vertices @ up).max())
    grind = 0.0 if sawn_by is not None else max(0.0, top - level)
    has_table = placement.body.normals[:, 2].max() > 1.0 - _LEVEL
    return DoppingFlat(
        plane=Plane(up, level),
        above_table_mm=level - table,
        sawn_by=sawn_by,
        depth_to_grind_mm=grind,
        area_mm2=area,
        centre=centre,
        circle_mm=circle,
        text=_flat_text(sawn_by, level - table, "table" if has_table else "stone's top", grind),
    )


def choose_dop(placement: Placement, flat: DoppingFlat) -> Dop:
    """A dop of half to three quarters of the finished width, never wider than the outline about the
    axis or than the circle about the axis that fits on the flat.

    Common practice, no source. Both diameters are 0 where the axis misses the flat.
    """
    usual = [_dop_mm(placement, share) for share in DOP_SHARE]
    least, most = (min(mm, flat.circle_mm) for mm in usual)
    return Dop(least, most, _dop_text(usual, _dop_mm(placement, LEAST_DOP_SHARE), flat.circle_mm))


def dop_warnings(placement: Placement, dop: Dop) -> tuple[str, ...]:
    """The dop's text where no dop on the flat will hold the stone; else nothing."""
    return (dop.text,) if dop.most_mm < _dop_mm(placement, LEAST_DOP_SHARE) else ()


def _dop_mm(placement: Placement, share: float) -> float:
    """The diameter in mm of a dop: a share of the finished width, within the outline about the
    axis."""
    body, width, extent = placement.body, placement.pose.width, _extent(placement)
    upright = np.abs(body.normals[:, 2]) < 1e-6
    inside = 2.0 * float(body.offsets_at(width)[upright].min()) if upright.any() else extent
    return min(share * extent, inside)


def _extent(placement: Placement) -> float:
    """The lesser of the finished stone's width and length, in mm."""
    corners = placement.body.vertices_at(placement.pose.width)
    return float(np.ptp(corners[:, :2], axis=0).min())


def _dop_text(usual: list[float], holds: float, circle: float) -> str:
    """What to say of the dop. ``usual``: the least and greatest diameter in mm for the finished
    width; ``holds``: the least that holds the stone against the lap."""
    least, most = usual
    where = "centred on the stone's axis and always inside the finished outline."
    if circle <= 0.0:
        return (
            f"No dop can stand on the flat, which the stone's axis misses: a dop of {least:.1f} to "
            f"{most:.1f} mm needs a wider flat there."
        )
    if circle < holds:
        return (
            f"No dop on this flat will hold the stone: the flat takes one of {circle:.1f} mm about "
            f"the stone's axis, and a stone so wide needs {least:.1f} to {most:.1f} mm, at the "
            f"very least {holds:.1f} mm. Dop it another way, or plan it elsewhere in the piece."
        )
    if circle < least:
        return (
            f"Take a dop of no more than {circle:.1f} mm across, {where} The flat holds a circle "
            f"of only {circle:.1f} mm about the axis; the finished width would ask for "
            f"{least:.1f} to {most:.1f} mm, so the joint is weaker than usual."
        )
    text = f"Take a dop {least:.1f} to {min(most, circle):.1f} mm across, {where}"
    if circle < most:
        text += f" No larger: the flat holds a circle of {circle:.1f} mm about the axis."
    return text


def _table_cut(plan: SawPlan, home: int, through: Floats, up: Floats) -> tuple[int, float] | None:
    """The sawn face of the piece that is parallel to the table, on the table side and nearest to
    the table: the cut's index, and the height at which the stone's axis (``up`` through a point)
    meets the face. None where there is no such face."""
    parallel = [
        (index, float(up @ through + (face.offset - face.normal @ through) / (face.normal @ up)))
        for index, face in plan.sawn_faces(home)
        if np.linalg.norm(face.normal - up) <= PARALLEL_RAD
    ]
    return min(parallel, key=lambda one: one[1], default=None)


def _size(placement: Placement, piece: Any, level: float) -> tuple[float, float, Floats]:
    """The flat's area in mm², the diameter in mm of the largest circle about the stone's axis on
    it, and the point (3,) where the axis meets it."""
    turn = placement.pose.rotation
    frame = plane_frame(turn[:, 2], turn[:, 0])
    loops = section(piece, frame, level - JUST_INSIDE_MM)
    axis = frame[:2] @ placement.pose.translation
    area = sum(_shoelace(loop) for loop in loops)
    circle = 2.0 * _distance_to_edge(axis, loops)
    return area, circle, axis @ frame[:2] + level * frame[2]


def _shoelace(loop: Floats) -> float:
    """Signed area of a closed loop (k, 2)."""
    ahead = np.roll(loop, -1, axis=0)
    return float((loop[:, 0] * ahead[:, 1] - loop[:, 1] * ahead[:, 0]).sum() / 2.0)


def _distance_to_edge(point: Floats, loops: tuple[Floats, ...]) -> float:
    """Distance from a point (2,) inside the loops to the nearest of them; 0 for a point outside."""
    if not loops or not _inside(point, loops):
        return 0.0
    return min(_distance_to_loop(point, loop) for loop in loops)


def _distance_to_loop(point: Floats, loop: Floats) -> float:
    side = np.roll(loop, -1, axis=0) - loop
    length = np.maximum((side * side).sum(axis=1), 1e-300)
    share = np.clip(((point - loop) * side).sum(axis=1) / length, 0.0, 1.0)
    return float(np.linalg.norm(loop + share[:, None] * side - point, axis=1).min())


def _inside(point: Floats, loops: tuple[Floats, ...]) -> bool:
    """Whether the point lies inside the loops, by the even-odd rule."""
    crossings = 0
    for loop in loops:
        p, q = loop - point, np.roll(loop, -1, axis=0) - point
        across = (p[:, 1] > 0) != (q[:, 1] > 0)
        p, q = p[across], q[across]
        ahead = p[:, 0] + (q[:, 0] - p[:, 0]) * p[:, 1] / (p[:, 1] - q[:, 1])
        crossings += int((ahead > 0).sum())
    return crossings % 2 == 1


def _flat_text(sawn_by: int | None, above: float, what: str, grind: float) -> str:
    if sawn_by is not None:
        return f"Cut {sawn_by + 1} leaves the dopping flat, {above:.2f} mm above the {what}."
    if grind < _NOTHING_MM:
        return (
            f"The dopping flat lies at the surface as it is, {above:.2f} mm above the {what}: "
            "nothing to grind there, but make sure that it is square to the axis."
        )
    return (
        f"Grind {grind:.1f} mm off the table side, square to the axis, down to a flat "
        f"{above:.2f} mm above the {what}."
    )
