"""The whole of plan.json."""

from optimizer import __version__
from optimizer.documents.look import BoundaryLookRecord
from optimizer.documents.names import alternative_folder
from optimizer.documents.plan import (
    FORMAT,
    AlternativeRecord,
    AuditRecord,
    MadeByRecord,
    ObjectiveRecord,
    PlanFile,
)
from optimizer.documents.record import well_formed
from optimizer.documents.stones import NearestOrderRecord, OrderChangeRecord, RuledOutRecord
from optimizer.plan_model import Alternative, Plan
from optimizer.report.document.guidance import mark_record
from optimizer.report.document.look import boundary_look_record
from optimizer.report.document.numbers import rounded_down
from optimizer.report.document.rough import rough_record
from optimizer.report.document.sawing import cut_record, offcut_record, piece_record
from optimizer.report.document.stones import bound_record, shape, stone_record
from optimizer.report.figures import total_carat, yield_by_volume_percent


def plan_file(plan: Plan) -> PlanFile:
    """The whole of plan.json: only finite numbers, no dates, no folders.

    Raises AuditError where a figure is out of all bounds.
    """
    with well_formed("plan.json"):
        return _plan_file(plan)


def _plan_file(plan: Plan) -> PlanFile:
    return PlanFile(
        format=FORMAT,
        status=plan.status,
        interrupted=plan.interrupted,
        made_by=MadeByRecord(version=__version__, seed=plan.seed, effort=plan.effort),
        rough=rough_record(plan.rough),
        stones=tuple(stone_record(plan, i, "") for i in range(len(plan.stones))),
        total_carat=total_carat(plan),
        yield_percent=yield_by_volume_percent(plan),
        objective=objective(plan),
        bound=bound_record(plan.bound, total_carat(plan)),
        pieces=tuple(piece_record(piece, plan.rough, "") for piece in plan.sawing.pieces),
        cuts=tuple(cut_record(plan, number) for number in range(len(plan.sawing.cuts))),
        offcuts=tuple(offcut_record(offcut, "") for offcut in plan.sawing.offcuts),
        alternatives=tuple(_alternative(*one) for one in enumerate(plan.alternatives)),
        alternatives_not_found=plan.not_had,
        notes=plan.notes,
        warnings=plan.warnings,
        audit=AuditRecord(passed=True, checks=plan.audit),
        timing_s={name: float(plan.timing_s[name]) for name in sorted(plan.timing_s)},
        marks=tuple(map(mark_record, plan.saw_guide.marks if plan.saw_guide else ())),
        boundary_look=_boundary_look(plan),
        ruled_out_by=None if plan.status == "found" else _reasons(plan),
        nearest_orders=None if plan.status == "found" else _nearest_orders(plan),
    )


def _boundary_look(plan: Plan) -> BoundaryLookRecord | None:
    """That of the one stone: each of several stones has its own."""
    return boundary_look_record(plan.stones[0].look_about) if len(plan.stones) == 1 else None


def _reasons(plan: Plan) -> tuple[RuledOutRecord, ...]:
    return tuple(
        RuledOutRecord(demand=reason.demand, stone=shape(reason.stone))
        for reason in plan.ruled_out_by
    )


def _nearest_orders(plan: Plan) -> tuple[NearestOrderRecord, ...]:
    return tuple(
        NearestOrderRecord(
            changes=tuple(OrderChangeRecord(**vars(change)) for change in near.changes),
            stones=tuple(map(shape, near.stones)),
        )
        for near in plan.nearest_orders
    )


def _alternative(number: int, other: Alternative) -> AlternativeRecord:
    """An alternative, whose files have a folder of their own; its piece 0 is the same rough."""
    plan, home = other.plan, f"{alternative_folder(number)}/"
    return AlternativeRecord(
        kind=other.kind,
        sentence=other.sentence,
        stones=tuple(stone_record(plan, i, home) for i in range(len(plan.stones))),
        pieces=tuple(piece_record(piece, plan.rough, home) for piece in plan.sawing.pieces),
        offcuts=tuple(offcut_record(offcut, home) for offcut in plan.sawing.offcuts),
        total_carat=total_carat(plan),
        yield_percent=yield_by_volume_percent(plan),
        objective=objective(plan),
        cuts=tuple(cut_record(plan, number) for number in range(len(plan.sawing.cuts))),
        warnings=plan.warnings,
        audit=AuditRecord(passed=True, checks=plan.audit),
        boundary_look=_boundary_look(plan),
    )


def objective(plan: Plan) -> ObjectiveRecord:
    """What the search maximised: the weight, or the clearance where the size is fixed."""
    if plan.objective is not None:
        return ObjectiveRecord(**vars(plan.objective))
    if plan.order.size.fixed and plan.stones:
        least = min(stone.placement.clearance_mm for stone in plan.stones)
        return ObjectiveRecord(kind="clearance", value=rounded_down(least), unit="mm")
    return ObjectiveRecord(kind="carat", value=total_carat(plan), unit="ct")
