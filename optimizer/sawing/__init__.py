"""Saw cuts: what parts the stones, which caps come off before grinding, and the pieces left."""

from collections.abc import Callable, Sequence

from optimizer.order import Workshop
from optimizer.placement.model import Placement
from optimizer.rough.model import Rough
from optimizer.sawing.cut_sequence import saw_all
from optimizer.sawing.model import OutOfReachError, SawPlan
from optimizer.sawing.setting import too_short_warnings, with_settings
from optimizer.several.model import Division, Fork

__all__ = ["OutOfReachError", "saw_plan", "saw_plan_of"]


def saw_plan(
    rough: Rough,
    placement: Placement,
    workshop: Workshop,
    stop: Callable[[], bool] = lambda: False,
) -> tuple[SawPlan, tuple[str, ...]]:
    """The saw cuts for one stone laid in the rough, and warnings in plain sentences.

    Sawn off is every cap that weighs ``keep_offcut_ct`` or more, or that saves grinding more than
    ``grind_mm``, at most ``most_cuts`` of them; the rest is ground. The middle of each kerf stays
    kerf/2 + saw_error + clean_up from the stone's nearest corner, and each cut goes right through
    the piece that holds the stone. The same input gives the same plan. Once ``stop`` is true the
    cuts are chosen one by one and left as they are, which may leave a little more to grind.
    """
    return _sawn(rough, (placement,), 0, workshop, stop)


def saw_plan_of(
    rough: Rough,
    division: Division,
    workshop: Workshop,
    stop: Callable[[], bool] = lambda: False,
) -> tuple[SawPlan, tuple[str, ...]]:
    """The saw cuts for all stones of a division, and warnings; for one, as ``saw_plan``.

    First the cuts of the fork, each right through one piece; then each stone's piece loses its
    caps as ``saw_plan`` tells; at most ``most_cuts`` caps come off what holds any one stone. A cut
    of the fork moves within its gap: it runs parallel to a flat of the rough, an earlier cut or a
    table where the gap lets, and where much is left beside it, next to one side so that this stays
    in one lump. A cap that is a good part of a piece comes off before its stones are parted, and
    so do all, where the saw would not reach through. Raises OutOfReachError where it still does
    not. Once ``stop`` is true no more caps are chosen, and a warning says so.
    """
    placements = tuple(laid.placement for laid in division.stones)
    return _sawn(rough, placements, division.fork, workshop, stop)


def _sawn(
    rough: Rough,
    placements: Sequence[Placement],
    fork: Fork | int,
    workshop: Workshop,
    stop: Callable[[], bool],
) -> tuple[SawPlan, tuple[str, ...]]:
    tree = saw_all(rough, placements, fork, workshop, stop)
    plan = with_settings(tree.plan(), rough.reference_faces)
    return plan, (*tree.warnings, *too_short_warnings(plan, workshop))
