"""Stones made as small as others that lie apart from them, so that the two can be a pair."""

from collections.abc import Callable, Iterator, Sequence
from itertools import islice

import numpy as np

from optimizer.offers.offer import Offer
from optimizer.order.several import LookTolerance
from optimizer.placement.climb import Problem, State, climb, stand
from optimizer.placement.ground import Ground
from optimizer.placement.growing import growing_by_width
from optimizer.placement.place import as_placement, demands_of, walls_of
from optimizer.placement.search import SETTLING
from optimizer.several.apart import Corners, too_near
from optimizer.several.model import Candidate, PlacedStone, Wish
from optimizer.several.pairs import alike

Price = Callable[[Offer, float], float]  # worth of a stone by its width

MOST = 80  # of a wish
EACH = 4  # for each stone


def twins(
    ground: Ground,
    found: Sequence[Candidate],
    wishes: Sequence[Wish],
    apart_mm: float,
    price: Price,
) -> tuple[Candidate, ...]:
    """For wishes for pairs: of stones that differ too much in width the larger as small as the
    smaller, those of most worth first. ``found``: most worth first."""
    made: list[Candidate] = []
    for number, wish in enumerate(wishes):
        own = [one for one in found if one.laid.wish == number]
        if wish.pair_mm is None or not own:
            continue
        for large, small in islice(_unlike(own, wish.pair_mm, apart_mm), MOST):
            laid = as_small(ground, large, small.placement.pose.width)
            if laid is not None and alike(laid, small, wish.alike or LookTolerance()):
                made.append(Candidate(laid, price(laid.offer, laid.placement.pose.width)))
    return tuple(made)


def _unlike(
    own: Sequence[Candidate], pair_mm: float, apart_mm: float
) -> Iterator[tuple[PlacedStone, PlacedStone]]:
    """Stones of one design far enough apart, the larger first, that differ too much in width."""
    near = too_near(Corners.of([c.laid.placement.mesh().vertices for c in own]), apart_mm)
    widths = np.array([c.laid.placement.pose.width for c in own])
    designs = np.array([c.laid.offer.design.name for c in own])
    for j, small in enumerate(own):
        larger = (designs == designs[j]) & (widths > widths[j] + pair_mm) & ~near[j]
        for i in np.flatnonzero(larger)[:EACH]:
            yield own[i].laid, small.laid


def as_small(ground: Ground, laid: PlacedStone, width: float) -> PlacedStone | None:
    """The stone at a lesser width, moved a little where the order's demands ask for it."""
    want = laid.offer.want
    if width < want.width_mm[0]:
        return None
    growing = growing_by_width(want.body, want.skin_mm, want.width_mm[0])
    lever = float(np.linalg.norm(want.body.vertices_at(width), axis=1).max())
    containers = (ground.surface, *walls_of(ground, want))
    problem = Problem(growing, containers, demands_of(ground, want), lever, width)
    state = _stood(ground, problem, laid)
    if not state.met:
        state = climb(
            problem, state, radius=SETTLING.radius * lever, tolerance=SETTLING.tolerance * width,
            steps=SETTLING.steps,
        )  # fmt: skip
    if not state.met or state.sigma < width:
        return None
    return PlacedStone(laid.wish, laid.offer, as_placement(ground, want, state))


def _stood(ground: Ground, problem: Problem, laid: PlacedStone) -> State:
    pose = ground.own_pose(laid.placement.pose)
    return stand(problem, pose.rotation, pose.translation, -np.inf)
