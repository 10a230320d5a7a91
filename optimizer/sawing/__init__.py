"""Saw cuts: those between stones, those that take caps off before grinding, and the pieces."""

from collections.abc import Callable, Sequence

from optimizer.order import Workshop
from optimizer.placement.model import Placement
from optimizer.rough.model import Rough
from optimizer.sawing.cut_sequence import saw_all
from optimizer.sawing.model import OutOfReachError, SawPlan
from optimizer.sawing.setting import too_short_warnings, with_settings
from optimizer.several.cut_tree import CutTree
from optimizer.several.model import Division

__all__ = ["OutOfReachError", "saw_plan", "saw_plan_of"]


def saw_plan(
    rough: Rough,
    placement: Placement,
    workshop: Workshop,
    stop: Callable[[], bool] = lambda: False,
) -> tuple[SawPlan, tuple[str, ...]]:
    """The saw cuts for one stone laid in the rough, and warnings in plain sentences.

    The saw takes off every cap that weighs ``keep_offcut_ct`` or more, or that saves more than
    ``grind_mm`` of grinding, up to ``most_cuts`` caps; the rest is ground. The middle of each kerf
    stays kerf/2 + saw_error + clean_up from the stone's nearest corner, and each cut goes right
    through the piece that holds the stone. The same input gives the same plan. Once ``stop`` is
    true, the remaining cuts are chosen one by one and not refined, so a little more may be left to
    grind.
    """
    return _sawn(rough, (placement,), 0, workshop, stop)


def saw_plan_of(
    rough: Rough,
    division: Division,
    workshop: Workshop,
    stop: Callable[[], bool] = lambda: False,
) -> tuple[SawPlan, tuple[str, ...]]:
    """The saw cuts for all stones of a division, and warnings; for one, as ``saw_plan``.

    First come the cuts between the stones, each right through one piece. Then each stone's piece
    loses its caps as in ``saw_plan``; at most ``most_cuts`` caps come off the pieces that hold any
    one stone. A cut between stones may move within its gap: it runs parallel to a flat of the
    rough, an earlier cut or a table where the gap allows. Where much material is left in the gap,
    the cut runs next to one side, so that the material stays in one lump. A cap that is a large
    part of a piece comes off before the stones of the piece are separated. Where the saw would not
    reach through, all caps of the piece do. Raises OutOfReachError where the saw still does not
    reach. Once ``stop`` is true no more caps are chosen, and a warning says so.
    """
    placements = tuple(laid.placement for laid in division.stones)
    return _sawn(rough, placements, division.cut_tree, workshop, stop)


def _sawn(
    rough: Rough,
    placements: Sequence[Placement],
    cut_tree: CutTree | int,
    workshop: Workshop,
    stop: Callable[[], bool],
) -> tuple[SawPlan, tuple[str, ...]]:
    tree = saw_all(rough, placements, cut_tree, workshop, stop)
    plan = with_settings(tree.plan(), rough.reference_faces)
    return plan, (*tree.warnings, *too_short_warnings(plan, workshop))
