"""The largest usual size of each outline that a kept offcut could still give."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

import numpy as np

from optimizer.design import outline_designs
from optimizer.errors import InputError
from optimizer.offcuts.piece_rough import offcut_rough
from optimizer.offers.crystal import with_cleavage_clearance
from optimizer.offers.offer import Offer, offers
from optimizer.order import Order, SizeDemand
from optimizer.placement.climb import Problem, State, climb, stand
from optimizer.placement.ground import Ground
from optimizer.placement.growing import growing_by_clearance, growing_by_width
from optimizer.placement.model import Placement
from optimizer.placement.place import as_placement, demands_of, directed_task, walls_of
from optimizer.placement.search import Effort, Watch, search
from optimizer.plan_model import Plan
from optimizer.rough.model import Rough
from optimizer.running.workers import side_by_side
from optimizer.sawing.model import Fitting
from optimizer.trade.calibrated import CalibratedOutline, CalibratedSize

# A calibrated size needs no fine search: in most offcuts measured, this effort finds widths within
# 1 % of a quick plan's, in a tenth of the work.
EFFORT = Effort(120, 16, 30, 6, 0, 2, 0)
SEARCHED = {"quick": 1, "normal": 3, "thorough": 6}  # offcuts of a plan, the heaviest first
STAGE = "looking for stones in the offcuts"  # as progress says it
MOST_TRIED = 5  # sizes of one outline
OVER = 1.2  # of the area found at the usual proportion: another proportion may give more
REACH, STEPS = 0.05, 12  # of a climb at one size: trust radius as a share of half the length


def with_sizes(plan: Plan, watch: Watch) -> Plan:
    """The plan with the stones that its heaviest offcuts could still give; the other offcuts are
    not searched."""
    heaviest = sorted(plan.sawing.offcuts, key=lambda o: (-o.carat, o.piece))
    chosen = {offcut.piece for offcut in heaviest[: SEARCHED[plan.effort]]}
    order = Order(
        least_girdle_mm=plan.order.least_girdle_mm,
        least_girdle_percent=plan.order.least_girdle_percent,
        workshop=plan.order.workshop,
    )

    pieces = [offcut.piece for offcut in plan.sawing.offcuts if offcut.piece in chosen]
    roughs = [
        offcut_rough(plan.rough, plan.sawing, offcut)
        for offcut in plan.sawing.offcuts
        if offcut.piece in chosen and not watch.stop()
    ]
    found = dict(zip(pieces, largest_fittings(roughs, order, plan.seed, watch), strict=False))
    offcuts = tuple(
        replace(offcut, fittings=found[offcut.piece])
        if offcut.piece in found and not watch.stop()
        else offcut
        for offcut in plan.sawing.offcuts
    )
    return replace(plan, sawing=replace(plan.sawing, offcuts=offcuts))


def largest_fittings(
    roughs: Sequence[Rough], order: Order, seed: int, watch: Watch
) -> list[tuple[Fitting, ...]]:
    """In each piece, the largest calibrated size found of each outline, the heaviest stone first.

    Each stone is checked exactly against the whole surface. It keeps the clearance of any stone of
    the order, and stays off flaws and cleavage. A larger size may have been missed. Colour
    boundaries are ignored.
    """
    designs = outline_designs()
    grounds = [Ground.of(rough.mesh) for rough in roughs]
    orders = [with_cleavage_clearance(rough, order) for rough in roughs]
    jobs = [(k, design) for k in range(len(roughs)) for design in designs]
    done: list[None] = []

    def one(job: tuple[int, str]) -> Fitting | None:
        k, design = job
        if watch.stop():
            return None
        asked = replace(orders[k], designs=(design,))
        fitting = _in_design(roughs[k], grounds[k], asked, designs[design], seed, watch)
        done.append(None)
        watch.progress(STAGE, len(done), len(jobs), 0.0)
        return fitting

    each = side_by_side(one, jobs)
    count = len(designs)
    return [_largest(each[count * k : count * (k + 1)]) for k in range(len(roughs))]


def _largest(found: Iterable[Fitting | None]) -> tuple[Fitting, ...]:
    """The largest of each outline, the heaviest first."""
    rising = sorted((fitting for fitting in found if fitting), key=_size)
    largest = {fitting.outline: fitting for fitting in rising}
    return tuple(sorted(largest.values(), key=lambda fitting: (-fitting.carat, fitting.outline)))


def _size(fitting: Fitting) -> tuple[float, float]:
    """The sort key: width × length in mm², then the weight."""
    body, width = fitting.placement.body, fitting.placement.pose.width
    return width * body.length_at(width), fitting.carat


def _in_design(
    rough: Rough, ground: Ground, order: Order, outline: CalibratedOutline, seed: int, watch: Watch
) -> Fitting | None:
    """The outline's largest size found with the one design that the order names."""
    usual = offers(rough, order)[0][0]
    places = _widest(ground, usual, seed, watch)
    if not places:
        return None
    most = OVER * usual.want.body.length_at(1.0) * places[0].sigma ** 2
    for size in list(_largest_first(outline, most))[:MOST_TRIED]:
        offer = _fixed(rough, order, size)
        placed = None if offer is None else _placed(ground, offer, places)
        if offer is not None and placed is not None:
            carat = placed.body.volume_at(placed.pose.width) * rough.material.sg / 200.0
            return Fitting(outline.name, offer.design.name, offer.parameters, placed, carat)
    return None


def _widest(ground: Ground, offer: Offer, seed: int, watch: Watch) -> list[State]:
    """The best distinct placements at the usual proportion, the best first; σ is the width."""
    want = offer.want
    growing = growing_by_width(want.body, want.skin_mm, want.width_mm[0])
    task = directed_task(ground, want, growing, np.inf, EFFORT, seed)
    found = search(ground, task, EFFORT, Watch(watch.stop))
    return [state for state in found if state.met]


def _largest_first(outline: CalibratedOutline, most_mm2: float) -> Iterator[CalibratedSize]:
    return (s for s in reversed(outline.sizes) if s.width_mm * s.length_mm <= most_mm2)


def _fixed(rough: Rough, order: Order, size: CalibratedSize) -> Offer | None:
    """The order's design at exactly this size; None where it can't be cut so."""
    window = SizeDemand((size.width_mm, size.width_mm), (size.length_mm, size.length_mm))
    try:
        return offers(rough, replace(order, size=window))[0][0]
    except InputError:
        return None


def _placed(ground: Ground, offer: Offer, places: list[State]) -> Placement | None:
    """A stone of one size near one of the places, with the clearance that it needs; None where
    there is none."""
    want, width = offer.want, offer.want.width_mm[1]
    growing = growing_by_clearance(want.body, width)
    mm_per_radian = float(np.linalg.norm(growing.corners(0.0), axis=1).max())
    containers = (replace(ground.surface, square=True), *walls_of(ground, want))
    problem = Problem(growing, containers, demands_of(ground, want), mm_per_radian, np.inf)
    for place in places:
        start = stand(problem, place.rotation, place.translation, -np.inf)
        end = climb(
            problem,
            start,
            radius=REACH * mm_per_radian,
            tolerance=1e-4 * mm_per_radian,
            steps=STEPS,
        )
        if end.sigma >= want.skin_mm and end.met:
            placed = as_placement(ground, want, replace(end, sigma=width))
            if placed.clearance_mm >= want.skin_mm:
                return placed
    return None
