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
PARALLEL_RAD = 5e-6  # a face that leans less is the dopping flat: under 0.0001 mm across a stone
DOP_SHARE = (0.5, 0.75)  # of the finished width; common practice, no source
_NOTHING_MM = 0.05  # to grind: rounds to nothing


def dopping_flat(
    placement: Placement,
    plan: SawPlan,
    home: int,
    piece: Any,
    workshop: Workshop,
    scan_error_mm: float,
) -> DoppingFlat:
    """The face parallel to the table on the table side: sawn where a cut leaves it, else ground.

    ``home`` is the piece that holds the stone after the last cut, and ``piece`` its robust solid.
    A flat to be ground lies clean_up + scan_error above the finished table, the lowest that the
    allowances let: there the piece is at least as wide as the table, and nothing is ground that
    would not come off.
    """
    pose, up = placement.pose, placement.pose.rotation[:, 2]
    table = float(up @ pose.translation + placement.body.vertices_at(pose.width)[:, 2].max())
    sawn = _table_cut(plan, home, pose.translation, up)
    if sawn is None:
        sawn_by, level = None, table + workshop.clean_up_mm + scan_error_mm
    else:
        sawn_by, level = sawn
    top = float((plan.pieces[home].mesh.vertices @ up).max())
    grind = 0.0 if sawn_by is not None else max(0.0, top - level)
    area, circle, centre = _size(placement, piece, level)
    return DoppingFlat(
        plane=Plane(up, level),
        above_table_mm=level - table,
        sawn_by=sawn_by,
        depth_to_grind_mm=grind,
        area_mm2=area,
        centre=centre,
        circle_mm=circle,
        text=_flat_text(sawn_by, level - table, grind),
    )


def choose_dop(placement: Placement, flat: DoppingFlat) -> Dop:
    """Half to three quarters of the finished width, never over the outline about the axis, nor
    over the circle about the axis that the flat holds.

    Common practice, no source. Both diameters are 0 where the axis misses the flat.
    """
    body, width = placement.body, placement.pose.width
    extent = np.ptp(body.vertices_at(width)[:, :2], axis=0).min()
    upright = np.abs(body.normals[:, 2]) < 1e-6
    inside = 2.0 * float(body.offsets_at(width)[upright].min()) if upright.any() else extent
    usual = [min(share * float(extent), inside) for share in DOP_SHARE]
    least, most = (min(mm, flat.circle_mm) for mm in usual)
    return Dop(least, most, _dop_text(usual, flat.circle_mm))


def _dop_text(usual: list[float], circle: float) -> str:
    """``usual``: the diameters in mm that the finished width asks for."""
    least, most = usual
    where = "centred on the stone's axis and always inside the finished outline."
    if circle <= 0.0:
        return (
            f"No dop stands on the flat about the stone's axis, which misses it: a dop of "
            f"{least:.1f} to {most:.1f} mm needs a wider flat there."
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
    """Of the cuts that parted the piece, that which left a face parallel to the table on the table
    side, nearest to the table: its index, and where the stone's axis, ``up`` through a point,
    meets the face."""
    parallel = [
        (index, float(up @ through + (face.offset - face.normal @ through) / (face.normal @ up)))
        for index, face in plan.faces_left(home)
        if np.linalg.norm(face.normal - up) <= PARALLEL_RAD
    ]
    return min(parallel, key=lambda one: one[1], default=None)


def _size(placement: Placement, piece: Any, level: float) -> tuple[float, float, Floats]:
    """Area in mm², diameter in mm of the largest circle about the axis, and the axis's point."""
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
    """Distance from a point (2,) inside the loops to the nearest of them; 0 when outside."""
    if not loops or not _inside(point, loops):
        return 0.0
    return min(_distance_to_loop(point, loop) for loop in loops)


def _distance_to_loop(point: Floats, loop: Floats) -> float:
    side = np.roll(loop, -1, axis=0) - loop
    length = np.maximum((side * side).sum(axis=1), 1e-300)
    share = np.clip(((point - loop) * side).sum(axis=1) / length, 0.0, 1.0)
    return float(np.linalg.norm(loop + share[:, None] * side - point, axis=1).min())


def _inside(point: Floats, loops: tuple[Floats, ...]) -> bool:
    """Even-odd rule over all loops."""
    crossings = 0
    for loop in loops:
        p, q = loop - point, np.roll(loop, -1, axis=0) - point
        across = (p[:, 1] > 0) != (q[:, 1] > 0)
        p, q = p[across], q[across]
        ahead = p[:, 0] + (q[:, 0] - p[:, 0]) * p[:, 1] / (p[:, 1] - q[:, 1])
        crossings += int((ahead > 0).sum())
    return crossings % 2 == 1


def _flat_text(sawn_by: int | None, above: float, grind: float) -> str:
    if sawn_by is not None:
        return f"Cut {sawn_by + 1} leaves the dopping flat, {above:.2f} mm above the table."
    if grind < _NOTHING_MM:
        return (
            f"The dopping flat lies at the surface as it is, {above:.2f} mm above the table: "
            "nothing to grind there, but make sure that it is square to the axis."
        )
    return (
        f"Grind {grind:.1f} mm off the table side, square to the axis, down to a flat "
        f"{above:.2f} mm above the table."
    )
