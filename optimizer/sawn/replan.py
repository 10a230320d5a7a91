"""A real cut taken in: the piece is cut where the saw went, and its parts are planned anew."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from optimizer.errors import InputError
from optimizer.mesh import Floats, Plane
from optimizer.order import Order
from optimizer.order.several import Wanted
from optimizer.placement.search import Watch
from optimizer.plan import make_plan
from optimizer.plan_model import Plan
from optimizer.rough.flats.named_faces import NamedFaces
from optimizer.rough.rough_file.keys import Place
from optimizer.sawn.fate import Fate, fates, with_successors
from optimizer.sawn.new_face import with_boundaries, with_flaws
from optimizer.sawn.new_plane import NewPlane, displaced, measured_plane, rim_point
from optimizer.sawn.pieces import CutResult, SawnPiece, cut_piece
from optimizer.sawn.plan_folder import PlanFolder, PlannedCut, PlannedStone
from optimizer.sawn.sawn_file import MovedTable, SawnTable
from optimizer.sawn.weighed import sum_line, with_weights
from optimizer.wording.plain_number import plain

ROUNDING_MM = 0.005  # messages give distances to 0.01 mm


@dataclass(frozen=True)
class SawnReport:
    """What a real cut left, and the new plans."""

    plan: PlanFolder
    planned: PlannedCut
    new: NewPlane
    result: CutResult  # the pieces, with the weights, flaws and boundaries of the sawn file
    fates: tuple[Fate, ...]
    plans: tuple[tuple[SawnPiece, Plan], ...]  # of the pieces that stones were planned in
    notes: tuple[str, ...]
    warnings: tuple[str, ...]


def take_in(plan: PlanFolder, table: SawnTable, folder: Path, where: str) -> SawnReport:
    """The cut as it was made, before anything is planned anew. Meshes of flaws are looked for in
    ``folder``.

    Raises InputError, prefixed by ``where``, where the sawn file doesn't fit the plan.
    """
    try:
        planned = plan.cut(table.cut)
        new = _new_plane(plan, planned, table)
        result = cut_piece(plan, planned, new)
    except InputError as error:
        raise InputError(f"{where}: {error}") from None
    pieces, boundary_notes = with_boundaries(result.pieces, table, where)
    pieces, seen = with_flaws(pieces, table, folder, where)
    result = replace(result, pieces=pieces)
    pieces, weight_warnings = with_weights(
        result, planned, table.weights_ct, table.weights_error_ct, where
    )
    result = replace(result, pieces=pieces)
    workshop = plan.order.workshop
    needs = plan.rough.scan_error_mm + workshop.clean_up_mm
    stones = plan.stones_under(planned.cut.piece)
    notes = [_moved_line(planned, new), *boundary_notes]
    if table.weights_ct and len(table.weights_ct) == len({piece.planned_piece for piece in pieces}):
        notes.append(sum_line(result, list(table.weights_ct.values())))
    return SawnReport(
        plan, planned, new, result, fates(stones, pieces, seen, needs), (), tuple(notes),
        (*_strayed_far(planned, new, workshop.saw_error_mm), *_of_the_plane(new), *weight_warnings,
         *_earlier(planned), *_crumbs(result)),
    )  # fmt: skip


def replanned(sawn: SawnReport, effort: str, watch: Watch) -> SawnReport:
    """The report with a new plan for each piece that stones were planned in, made for what is left
    of the order."""
    plans = []
    for piece in sawn.result.pieces:
        stones = [fate.stone for fate in sawn.fates if fate.piece is piece]
        if stones:
            order = order_left(sawn.plan.order, stones)
            made = make_plan(piece.rough, order, seed=sawn.plan.seed, effort=effort, watch=watch)
            plans.append((piece, made))
    return replace(sawn, fates=with_successors(sawn.fates, plans), plans=tuple(plans))


def order_left(order: Order, stones: Sequence[PlannedStone]) -> Order:
    """The order for a piece that these stones were planned in: the whole order, or, of a list of
    wanted stones, only the entries that these stones were planned for, with at most their number.

    Where the cut separated the stones of a pair, each is ordered by itself.
    """
    counts = Counter(stone.wanted for stone in stones)
    mine = [one for one in order.wanted if one.name in counts]
    if not mine:
        return order
    if len(stones) == 1 and not mine[0].calibrated:
        return order.of(mine[0])
    return replace(order, wanted=tuple(_as_many(one, counts[one.name]) for one in mine))


def _as_many(wanted: Wanted, count: int) -> Wanted:
    return replace(
        wanted, count=(0, count), pair_mm=None if count % 2 else wanted.pair_mm, first=False
    )


def _new_plane(plan: PlanFolder, planned: PlannedCut, table: SawnTable) -> NewPlane:
    kerf = planned.cut.kerf_mm if table.kerf_mm is None else table.kerf_mm
    if table.distances_mm:
        piece = plan.piece(planned.cut.piece)
        on = "below" if table.measured_on is None else _side(planned, table.measured_on)
        return measured_plane(planned, table.distances_mm, kerf, piece.vertices, on)
    if table.moved is None:
        return NewPlane(planned.cut.plane, kerf)
    return NewPlane(_strayed(plan, planned, table.moved), kerf)


def _strayed(plan: PlanFolder, planned: PlannedCut, moved: MovedTable) -> Plane:
    at: Floats | None = None
    if isinstance(moved.most_at, str):
        at = rim_point(planned, moved.most_at)
    elif moved.most_at is not None:
        at = _place(plan, moved.most_at)
    above = _side(planned, moved.into_piece) == "above"
    return displaced(planned.cut, moved.by_mm, moved.tilt_deg, at, into_above=above)


def _side(planned: PlannedCut, piece: int) -> str:
    """The side of the cut that a piece lies on. Raises InputError where the cut doesn't leave this
    piece."""
    side = planned.side_of(piece)
    if side is None:
        left = " and ".join(map(str, (*planned.cut.below, *planned.cut.above)))
        raise InputError(f"piece {piece} is not left by cut {planned.number}, which leaves {left}")
    return side


def _place(plan: PlanFolder, place: Place) -> Floats:
    faces = {face.name: face.plane for face in plan.rough.reference_faces}
    try:
        return NamedFaces(faces).place(place, "the place where it strayed most")
    except ValueError as error:
        raise InputError(f"moved: most_at {error}") from None


def _moved_line(planned: PlannedCut, new: NewPlane) -> str:
    stray, turn = stray_mm(planned, new), tilt_deg(planned, new)
    if abs(stray) < ROUNDING_MM and turn < 0.05:
        return f"Cut {planned.number} ran as planned."
    into = (planned.cut.above if stray > 0.0 else planned.cut.below)[0]
    return (
        f"Cut {planned.number} strayed {abs(stray):.2f} mm into piece {into} at its middle, turned "
        f"by {turn:.1f}°."
    )


def stray_mm(planned: PlannedCut, new: NewPlane) -> float:
    """How far the kerf strayed from the planned cut, at its middle, positive towards ``above``."""
    plane, centre = planned.cut.plane, planned.cut.centre
    return (new.plane.offset - float(new.plane.normal @ centre)) / float(
        new.plane.normal @ plane.normal
    )


def tilt_deg(planned: PlannedCut, new: NewPlane) -> float:
    """The angle between the planned cut and the real one."""
    cross = np.cross(planned.cut.plane.normal, new.plane.normal)
    return float(np.degrees(np.arcsin(min(1.0, float(np.linalg.norm(cross))))))


def _strayed_far(planned: PlannedCut, new: NewPlane, saw_error_mm: float) -> tuple[str, ...]:
    off = abs(stray_mm(planned, new))
    if off <= saw_error_mm + ROUNDING_MM:
        return ()
    return (
        f"The saw strayed {off:.2f} mm, more than the saw_error_mm of {plain(saw_error_mm)} mm "
        "that the order allows for: give the workshop a larger one, or set up the cut anew.",
    )


def _of_the_plane(new: NewPlane) -> tuple[str, ...]:
    said = []
    if new.open_tilt:
        said.append(f"{new.open_tilt[0].upper()}{new.open_tilt[1:]}.")
    if new.misfit_mm > 0.05:
        said.append(f"The readings agree to {new.misfit_mm:.2f} mm only.")
    return tuple(said)


def _earlier(planned: PlannedCut) -> tuple[str, ...]:
    if planned.cut.piece == 0:
        return ()
    return (
        f"The cuts before cut {planned.number} are taken to have run as planned: where one did "
        "not, take it in first and go on from the plan that follows.",
    )


def _crumbs(result: CutResult) -> tuple[str, ...]:
    if result.crumbs_ct == 0.0:
        return ()
    return (f"Crumbs of {result.crumbs_ct:.3f} ct in all are left out of the pieces.",)
