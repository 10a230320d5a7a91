"""How heavy each design could be at most, closely only for the designs that decide."""

from collections.abc import Sequence

from optimizer.offers.bound import VolumeBound
from optimizer.offers.offer import Offer, least_width
from optimizer.offers.placement_cache import PlacedOffer
from optimizer.offers.volume_bound import volume_bound
from optimizer.offers.within_reach import FEW
from optimizer.placement.bounding import MOST_HOLLOW_CELLS
from optimizer.placement.ground import Ground
from optimizer.placement.proof import MOST_CELLS
from optimizer.placement.search import EFFORTS
from optimizer.planning.run import Run

GAP_PERCENT = 0.3  # of the weight: no lap works more exactly
LEAST_CELLS = 4000  # of a close bound, however many designs there are
COARSE_CELLS = EFFORTS["glance"].cells


def volume_bounds_of(
    ground: Ground, allowed: Sequence[Offer], best: PlacedOffer | None, run: Run
) -> list[VolumeBound]:
    """The upper bound of each offer. Where a stone was found, the question for another design is
    whether it can be heavier; where none was found, whether it can be as large as ordered."""
    percent = run.gap if run.prove else GAP_PERCENT
    gap = (1.0 + percent / 100.0) ** (1.0 / 3.0) - 1.0
    found = None if best is None else best.placement.volume_mm3

    def bounded(offer: Offer, cells: int, number: int, aim: float | None = found) -> VolumeBound:
        bound = volume_bound(
            ground, offer, found_mm3=aim, cells=cells, gap=gap, hollows=run.prove, watch=run.watch
        )
        run.watch.progress("proving how heavy each design can be", number, len(allowed), 0.0)
        return bound

    close = _close_cells(ground, allowed, best is not None, run)
    coarse = close if len(allowed) <= FEW else min(close, COARSE_CELLS)
    bounds = [bounded(offer, coarse, number) for number, offer in enumerate(allowed, 1)]
    if coarse == close:
        return bounds
    decided = 0.0  # mm³: the bound over all designs is at least so high
    for k in _best_design_first(allowed, bounds, best):
        known = bounds[k]
        settled = known.proved_too_small if best is None else known.volume_mm3 <= decided
        if not settled and not run.watch.stop():
            aim = None if found is None else max(found, decided)  # below it no bound matters
            closer = bounded(allowed[k], close, len(allowed), aim)
            bounds[k] = min(known, closer, key=lambda bound: bound.volume_mm3)
        decided = max(decided, bounds[k].volume_mm3)
    return bounds


def _close_cells(ground: Ground, allowed: Sequence[Offer], found: bool, run: Run) -> int:
    """How many cells a close bound may use. Where nothing was found and no size is ordered, a bound
    can hardly rule anything out, so a coarse one is enough."""
    if run.prove:
        proving = MOST_CELLS if ground.convex else MOST_HOLLOW_CELLS
        return max(proving // len(allowed), LEAST_CELLS)
    if not found and all(one.want.width_mm[0] <= least_width(one.want.body) for one in allowed):
        return COARSE_CELLS
    return max(EFFORTS[run.effort].cells // len(allowed), LEAST_CELLS)


def _best_design_first(
    allowed: Sequence[Offer], bounds: Sequence[VolumeBound], best: PlacedOffer | None
) -> list[int]:
    """The numbers of the offers: of the stone found first, then from the highest bound down."""
    mine = [best is not None and one.design is best.offer.design for one in allowed]
    return sorted(range(len(allowed)), key=lambda k: (not mine[k], -bounds[k].volume_mm3))
