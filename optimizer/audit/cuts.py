"""Whether the saw cuts are possible: clear of every stone, and within the blade's reach."""

from collections.abc import Sequence

import numpy as np

from optimizer.audit.clipped import least_width, section_points
from optimizer.audit.common import LENGTH_MM, RELATIVE, close, count, require, robust, within
from optimizer.audit.tree import stones_in
from optimizer.mesh import Mesh
from optimizer.order import Workshop
from optimizer.sawing.model import SawCut, SawPlan
from optimizer.wording.plain_number import plain


def cuts_clear_stones(plan: SawPlan, stones: Sequence[Mesh], workshop: Workshop) -> str:
    """Each cut's plane passes every stone of its piece at half the kerf plus the allowances."""
    wanted = workshop.kerf_mm / 2.0 + workshop.saw_error_mm + workshop.clean_up_mm
    made = len(plan.cuts)
    _require_few(plan, workshop)
    nearest = np.inf
    meshes = {p.id: p.mesh for p in plan.pieces}
    for k, cut in enumerate(plan.cuts):
        _require_blade(cut, meshes[cut.piece], workshop, f"cut {k + 1}")
        for i in stones_in(plan, cut.piece):
            passes = _passes_by(stones[i], cut)
            require(
                passes >= wanted - LENGTH_MM,
                f"cut {k + 1} is clear of stone {i + 1}",
                f"{plain(passes, 9)} mm from its plane",
                f"at least {plain(wanted, 9)} mm (half the kerf, saw error, clean-up)",
            )
            nearest = min(nearest, passes)
    return (
        f"{count(made, 'cut')}: the middle of each kerf passes at least {nearest:.6f} mm from "
        f"every stone of its piece, with {plain(wanted)} mm demanded."
    )


def _require_few(plan: SawPlan, workshop: Workshop) -> None:
    """No more caps come off the pieces that hold any one stone than the workshop allows."""
    caps = [cut for cut in plan.cuts if not _is_between_stones(plan, cut)]
    for k in range(len(plan.stone_pieces)):
        own = sum(k in stones_in(plan, cut.piece) for cut in caps)
        require(
            own <= workshop.most_cuts,
            f"number of cuts for stone {k + 1} alone or its group",
            f"{own}",
            f"{workshop.most_cuts} or less",
        )


def _is_between_stones(plan: SawPlan, cut: SawCut) -> bool:
    """Whether stones lie on both sides of a cut."""
    return all(any(stones_in(plan, i) for i in side) for side in (cut.below, cut.above))


def _require_blade(cut: SawCut, piece: Mesh, workshop: Workshop, name: str) -> None:
    """The cut has the workshop's kerf, a unit normal, and a depth that the piece needs and the saw
    reaches."""
    close(f"the kerf of {name}", cut.kerf_mm, workshop.kerf_mm, RELATIVE, "mm")
    length = float(np.linalg.norm(cut.plane.normal))
    close(f"the normal of {name}", length, 1.0, RELATIVE, "long")
    require(
        cut.sides == 1 or (cut.sides == 2 and workshop.two_sided),
        f"the sides that {name} is sawn from",
        f"{cut.sides}",
        "1, or 2 where the workshop has two_sided = true",
    )
    needed = least_width(section_points(piece, cut.plane))
    reach = np.inf if workshop.saw == "wire" else workshop.saw_reach_mm
    within(
        f"the depth of {name}",
        cut.depth_mm,
        (needed / cut.sides, reach),
        LENGTH_MM,
        "mm (from its section's least width, shared by its sides, to the saw's reach)",
    )


def _passes_by(stone: Mesh, cut: SawCut) -> float:
    """Distance in mm from the stone to the cut's plane; zero or less where the plane crosses it."""
    heights = stone.vertices @ cut.plane.normal - cut.plane.offset
    return float(max(heights.min(), -heights.max()))


def stones_are_apart(stones: Sequence[Mesh], workshop: Workshop) -> str:
    """Any two stones leave room between them for a kerf with its allowances."""
    wanted = workshop.kerf_mm + 2.0 * (workshop.saw_error_mm + workshop.clean_up_mm)
    solids = [robust(s, f"stone {k + 1}") for k, s in enumerate(stones)]
    nearest = 2.0 * wanted + 1.0
    for j in range(len(solids)):
        for i in range(j):
            gap = float(solids[i].min_gap(solids[j], nearest))
            require(
                gap >= wanted - LENGTH_MM,
                f"stones {i + 1} and {j + 1} are apart",
                f"{plain(gap, 9)} mm",
                f"at least {plain(wanted, 9)} mm (kerf and allowances on both sides)",
            )
            nearest = min(nearest, gap)
    return f"Any two stones are at least {nearest:.6f} mm apart, with {plain(wanted)} mm demanded."
