"""Whether the plan's statements agree with each other: status, bounds, weights, guidance."""

import numpy as np

from optimizer.audit.chords import SHARE_PERCENT
from optimizer.audit.common import ANGLE_DEG, LENGTH_MM, PERCENT, RELATIVE, close, count, require
from optimizer.guidance.model import DoppingFlat, Guidance, SawGuide
from optimizer.mesh import Floats
from optimizer.placement.zone_view import ZoneView
from optimizer.plan_model import Plan, Stone
from optimizer.sawing.model import SawCut
from optimizer.wording.plain_number import plain

LEAN_RAD = 5e-6  # of a sawn dopping flat: under 0.0001 mm across a stone of 20 mm
STATUSES = ("found", "not found", "impossible")


def status_fits(plan: Plan) -> str:
    """A plan that is "found" has stones and guidance. Any other plan has neither, and no cuts,
    offcuts or pieces."""
    require(
        plan.status in STATUSES, "the status", f'"{plan.status}"', "one of " + ", ".join(STATUSES)
    )
    found, stones = plan.status == "found", len(plan.stones)
    require(
        found == (stones > 0),
        "the status fits the stones",
        f'"{plan.status}" with {stones} stones',
        'stones if and only if "found"',
    )
    if found:
        without = sum(stone.guidance is None for stone in plan.stones)
        require(without == 0, "each stone has its guidance", f"{without} without", "marks and dop")
        return f"The plan is found and holds {count(stones, 'stone')}, with guidance."
    saw = plan.sawing
    left = len(saw.cuts) + len(saw.offcuts) + len(saw.stone_pieces) + max(0, len(saw.pieces) - 1)
    require(
        left == 0 and plan.saw_guide is None,
        "a plan without a stone is empty",
        f"{left} cuts, offcuts and pieces, guidance {'present' if plan.saw_guide else 'absent'}",
        "none",
    )
    return f"The plan is {plan.status}, and holds no stone, cut, offcut or guidance."


def rough_is_weighed(plan: Plan, volume: float) -> str:
    """The rough's stated volume is the kernel's; stones and offcuts together weigh no more than the
    rough."""
    close("the rough's volume", plan.rough.volume_mm3, volume, RELATIVE * volume, "mm³")
    rough_ct = volume * plan.rough.material.sg / 200.0
    stones = sum(stone.carat for stone in plan.stones)
    together = stones + sum(offcut.carat for offcut in plan.sawing.offcuts)
    require(
        together <= rough_ct * (1.0 + RELATIVE),
        "stones and offcuts weigh no more than the rough",
        f"{plain(together, 9)} ct",
        f"at most {plain(rough_ct, 9)} ct",
    )
    return (
        f"The rough is {volume:.6f} mm³ and {rough_ct:.6f} ct as stated; the stones are "
        f"{100.0 * stones / rough_ct:.4f} % of it."
    )


def bounds_hold(plan: Plan) -> str | None:
    """No stone, and no plan, weighs more than its own bound. None where no bound is stated."""
    total = sum(stone.carat for stone in plan.stones)
    claims = [(f"stone {k + 1}", s.carat, s.bound) for k, s in enumerate(plan.stones)]
    stated = [(n, c, b.carat) for n, c, b in [*claims, ("the plan", total, plan.bound)] if b]
    for name, carat, bound in stated:
        require(
            bound >= carat * (1.0 - RELATIVE) and np.isfinite(bound),
            f"the bound of {name}",
            f"{plain(bound, 9)} ct",
            f"at least its {plain(carat, 9)} ct",
        )
    if not stated:
        return None
    return (
        "No weight passes its bound: "
        + "; ".join(
            f"{name} {carat:.6f} ct of at most {bound:.6f} ct" for name, carat, bound in stated
        )
        + "."
    )


def guidance_fits(
    plan: Plan, stone: Stone, guidance: Guidance, seen: ZoneView | None, sawn_ct: float, name: str
) -> str:
    """The dopping flat is parallel to the table and above it; ladder and zone as measured."""
    flat, axis = guidance.flat, stone.placement.pose.rotation[:, 2]
    lean = float(np.linalg.norm(np.cross(flat.plane.normal, axis)))
    require(
        lean <= RELATIVE and float(flat.plane.normal @ axis) > 0.0,
        "the dopping flat is parallel to the table",
        f"off by {plain(np.degrees(np.arcsin(min(1.0, lean))), 3)} degrees",
        "parallel, facing away from the stone",
    )
    above = flat.plane.offset - _table_height(stone, flat.plane.normal)
    close("the dopping flat above the table", flat.above_table_mm, above, LENGTH_MM, "mm")
    require(above >= -LENGTH_MM, "the dopping flat", f"{plain(above)} mm above", "above the table")
    if flat.sawn_by is not None:
        cuts = len(plan.sawing.cuts)
        sawn_by = f"cut {flat.sawn_by + 1} of {cuts}"
        require(0 <= flat.sawn_by < cuts, "the dopping flat's cut", sawn_by, "a cut of the plan")
        _sawn_flat_fits(flat, plan.sawing.cuts[flat.sawn_by], stone.placement.pose.translation)
    _ladder_fits(plan, stone, guidance, sawn_ct)
    if guidance.zone is not None and seen is not None:
        _same_view(guidance.zone, seen)
    return (
        f"The dopping flat of {name} is parallel to its table and {above:.6f} mm above, as stated."
    )


def distances_are_true(guide: SawGuide, cuts: int) -> str:
    """Each cut has its distances, and each is what lies between its two points."""
    sets = guide.distances
    require(len(sets) == cuts, "distances for each cut", f"{len(sets)} sets", f"{cuts}")
    for k, distances in enumerate(sets):
        for d in distances:
            apart = float(np.linalg.norm(d.end_point - d.start_point))
            close(f"cut {k + 1}, from {d.start} to {d.end}", d.mm, apart, LENGTH_MM, "mm")
    return f"Each of {count(sum(map(len, sets)), 'distance')} is what lies between its two points."


def _table_height(stone: Stone, normal: Floats) -> float:
    return float((stone.placement.mesh().vertices @ normal).max())


def _sawn_flat_fits(flat: DoppingFlat, cut: SawCut, middle: Floats) -> None:
    """The flat is the face that its cut leaves on the stone's side, where the axis through the
    stone's middle (3,) meets it."""
    turn = float(np.sign(flat.plane.normal @ cut.plane.normal))
    normal, up = turn * cut.plane.normal, flat.plane.normal
    height = (turn * cut.plane.offset - cut.kerf_mm / 2.0 - normal @ middle) / (normal @ up)
    lean = float(np.linalg.norm(up - normal))
    face = float(up @ middle + height)
    close("the dopping flat against its cut", flat.plane.offset, face, LENGTH_MM, "mm")
    close("the dopping flat's lean against its cut", lean, 0.0, LEAN_RAD, "rad")


def _ladder_fits(plan: Plan, stone: Stone, guidance: Guidance, sawn_ct: float) -> None:
    """The ladder of weights holds the rough's weight, the weight of the stone's piece, and the
    stone's."""
    ladder = dict(guidance.ladder)
    require(
        list(ladder) == ["rough", "sawn", "finished"],
        "the ladder of weights",
        ", ".join(ladder),
        "rough, sawn, finished",
    )
    for name, measured in (
        ("rough", plan.rough.carat),
        ("sawn", sawn_ct),
        ("finished", stone.carat),
    ):
        close(f"the ladder's {name} weight", ladder[name], measured, RELATIVE * measured, "ct")


def _same_view(stated: ZoneView, seen: ZoneView) -> None:
    slack = SHARE_PERCENT if seen.kind in ("ball", "bent sheet") else PERCENT
    close("the zone's share as stated", stated.share_percent, seen.share_percent, slack, "%")
    if seen.offset is None or seen.tilt_deg is None:
        return
    stated_offset, stated_tilt = stated.offset or 0.0, stated.tilt_deg or 0.0
    close("the zone's offset as stated", stated_offset, seen.offset, LENGTH_MM, "of the half")
    close("the zone's tilt as stated", stated_tilt, seen.tilt_deg, ANGLE_DEG, "degrees")
    require(
        (stated.azimuth_deg is None) == (seen.azimuth_deg is None),
        "the zone's azimuth as stated",
        f"{stated.azimuth_deg} stated, {seen.azimuth_deg} measured",
        "the same",
    )
    if stated.azimuth_deg is not None and seen.azimuth_deg is not None:
        turn = (stated.azimuth_deg - seen.azimuth_deg + 180.0) % 360.0 - 180.0
        close("the zone's azimuth as stated", turn, 0.0, ANGLE_DEG, "degrees off")
