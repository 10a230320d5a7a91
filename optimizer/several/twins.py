"""Second stones for pairs: candidates narrowed to the width of others that lie apart from them."""

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
from optimizer.several.hull_distance import conflicts, corners_of
from optimizer.several.model import Candidate, PlacedStone, Wish
from optimizer.several.pairs import alike

Price = Callable[[Offer, float], float]  # worth of a stone by its width

MOST = 80  # twins of a wish
EACH = 4  # twins for one stone


def twins(
    ground: Ground,
    found: Sequence[Candidate],
    wishes: Sequence[Wish],
    apart_mm: float,
    price: Price,
) -> tuple[Candidate, ...]:
    """For wishes that ask for pairs: of two stones that differ too much in width, the larger
    narrowed to the width of the smaller, as candidates. ``found`` must come most worth first;
    stones lie ``apart_mm`` apart or more."""
    made: list[Candidate] = []
    for number, wish in enumerate(wishes):
        own = [one for one in found if one.stone.wish == number]
        if wish.pair_mm is None or not own:
            continue
        for large, small in islice(_unequal(own, wish.pair_mm, apart_mm), MOST):
            twin = narrowed_to(ground, large, small.placement.pose.width)
            if twin is not None and alike(twin, small, wish.alike or LookTolerance()):
                made.append(Candidate(twin, price(twin.offer, twin.placement.pose.width)))
    return tuple(made)


def _unequal(
    own: Sequence[Candidate], pair_mm: float, apart_mm: float
) -> Iterator[tuple[PlacedStone, PlacedStone]]:
    """Two stones of one design that lie far enough apart and differ too much in width; the larger
    comes first."""
    near = conflicts(corners_of([c.stone.placement.mesh().vertices for c in own]), apart_mm)
    widths = np.array([c.stone.placement.pose.width for c in own])
    designs = np.array([c.stone.offer.design.name for c in own])
    for j, small in enumerate(own):
        larger = (designs == designs[j]) & (widths > widths[j] + pair_mm) & ~near[j]
        for i in np.flatnonzero(larger)[:EACH]:
            yield own[i].stone, small.stone


def narrowed_to(ground: Ground, stone: PlacedStone, width: float) -> PlacedStone | None:
    """The stone at a lesser width, moved a little where the order's demands need it; None where
    that width is not allowed or the demands can't be met."""
    want = stone.offer.want
    if width < want.width_mm[0]:
        return None
    growing = growing_by_width(want.body, want.skin_mm, want.width_mm[0])
    radius = float(np.linalg.norm(want.body.vertices_at(width), axis=1).max())
    containers = (ground.surface, *walls_of(ground, want))
    problem = Problem(growing, containers, demands_of(ground, want), radius, width)
    state = _state(ground, problem, stone)
    if not state.met:
        state = climb(
            problem, state, radius=SETTLING.radius * radius, tolerance=SETTLING.tolerance * width,
            steps=SETTLING.steps,
        )  # fmt: skip
    if not state.met or state.sigma < width:
        return None
    return PlacedStone(stone.wish, stone.offer, as_placement(ground, want, state))


def _state(ground: Ground, problem: Problem, stone: PlacedStone) -> State:
    """The stone as it stands in a problem."""
    pose = ground.own_pose(stone.placement.pose)
    return stand(problem, pose.rotation, pose.translation, -np.inf)
