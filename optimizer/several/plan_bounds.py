"""Upper bounds on the weight and the worth of a plan for several stones.

Each is the least of several: by each stone as if it had the rough to itself, by the rough's weight,
and by what the stones share (``shared_room``). A plan of n stones takes at least n − 1 cuts.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import islice

import numpy as np

from optimizer.design.model import Design
from optimizer.offers.bound import Bound, VolumeBound, weight_bound
from optimizer.offers.volume_bound import volume_bound
from optimizer.placement.search import QUIET, Watch
from optimizer.rough.model import Rough
from optimizer.several.instance import Instance
from optimizer.several.model import Wish
from optimizer.several.shared_room import BY_THICKNESS, shared_bounds
from optimizer.several.shared_work import share_of
from optimizer.several.worth import Worth

CELLS, LEAST_CELLS = 600, 32  # of rotations for each offer's own bound
TOGETHER = "how the stones and the cuts between them share the rough"
COUNTS = "how many stones are wanted"
ALONE = (
    "each stone counts as the largest that fits in the piece by itself, and the order allows no "
    "more stones than were counted"
)
WEIGHT = "all stones together can't weigh more than the piece"


@dataclass(frozen=True)
class WishBound:
    """Upper bounds on the stones of one wish, each stone taken by itself."""

    count: int  # of stones
    carat: float  # of one stone
    worth: float  # of one stone
    per_carat: float  # price of one stone for each carat


def single_stone_bounds(
    instance: Instance, watch: Watch = QUIET
) -> tuple[tuple[VolumeBound, ...], ...]:
    """For each wish, the bound of each offer on a stone that has the rough to itself."""
    offers = [offer for wish in instance.wishes for offer in wish.offers]
    found: list[VolumeBound] = []
    cells = share_of(CELLS, len(offers), LEAST_CELLS)
    for offer in offers:
        quiet = Watch(watch.stop)
        found.append(
            volume_bound(
                instance.ground, offer, found_mm3=None, cells=cells, gap=0.0, hollows=False,
                watch=quiet,
            )
        )  # fmt: skip
        watch.progress("proving how heavy each design can be", len(found), len(offers), 0.0)
    bounds = iter(found)
    return tuple(tuple(islice(bounds, len(wish.offers))) for wish in instance.wishes)


@dataclass(frozen=True)
class PlanBound:
    """No plan is worth more; and the argument that proves it, as the end of a sentence."""

    worth: float
    because: str


def plan_weight_bound(
    instance: Instance, rough: Rough, most: int, singles: Sequence[Sequence[VolumeBound]]
) -> tuple[Bound, str]:
    """(no plan with at most ``most`` stones of these wishes weighs more, because of this argument).
    ``singles`` are the ``single_stone_bounds``."""
    bounds = [
        weight_bound(rough, wish.offers, own, hollows=False, convex=instance.ground.convex)
        for wish, own in zip(instance.wishes, singles, strict=True)
    ]
    by_wish = [
        WishBound(w.most, b.carat, b.carat, 1.0)
        for w, b in zip(instance.wishes, bounds, strict=True)
    ]
    by_carat = replace(instance, worth=Worth())
    found = _least(by_carat, rough, most, by_wish, singles)
    merged = _merged(instance, bounds, shared=found.because not in (ALONE, WEIGHT, BY_THICKNESS))
    return replace(merged, carat=found.worth), found.because


def plan_worth_bound(
    instance: Instance, rough: Rough, most: int, singles: Sequence[Sequence[VolumeBound]]
) -> PlanBound:
    """No plan with at most ``most`` stones of these wishes is worth more, less its cuts.
    ``singles`` are the ``single_stone_bounds``."""
    by_wish = [_priced(instance, rough, *one) for one in zip(instance.wishes, singles, strict=True)]
    return _least(instance, rough, most, by_wish, singles)


def _least(
    instance: Instance,
    rough: Rough,
    most: int,
    by_wish: Sequence[WishBound],
    singles: Sequence[Sequence[VolumeBound]],
) -> PlanBound:
    """The least of all bounds, each the most over all numbers of stones."""
    counts = np.arange(1, most + 1)
    cuts = instance.worth.cut * (counts - 1)
    alone, weight = (
        np.array([total(by_wish, int(count), rough.carat) for count in counts])
        for total in (_by_count, _by_weight)
    )
    found = [PlanBound(float((alone - cuts).max()), ALONE)]
    found.append(PlanBound(float((np.minimum(alone, weight) - cuts).max()), WEIGHT))
    for shared in shared_bounds(instance, rough, most, singles):
        worths = np.minimum(np.minimum(alone, weight), shared.worths[1:])
        found.append(PlanBound(float((worths - cuts).max()), shared.because))
    return min(found, key=lambda one: one.worth)


def proved_infeasible(
    instance: Instance, rough: Rough, singles: Sequence[Sequence[VolumeBound]]
) -> bool:
    """Whether ``single_stone_bounds`` prove that the stones needed can't all be had: stones of one
    kind are too large for the piece, or all stones together weigh more than the piece. A plan
    needs one stone at least, of whatever kind."""
    if all(one.proved_too_small for own in singles for one in own):
        return True
    needed = [(w, own) for w, own in zip(instance.wishes, singles, strict=True) if w.least]
    if any(all(one.proved_too_small for one in own) for _, own in needed):
        return True
    least_mm3 = sum(
        wish.least * min(o.want.body.volume_at(o.want.width_mm[0]) for o in wish.offers)
        for wish, _ in needed
    )
    return least_mm3 > rough.volume_mm3


def _by_count(by_wish: Sequence[WishBound], count: int, _: float) -> float:
    """Upper bound on the worth of at most ``count`` stones, each as if it were alone."""
    return _filled(by_wish, count, lambda one: one.worth, lambda one: one.count)


def _by_weight(by_wish: Sequence[WishBound], count: int, carat: float) -> float:
    """Upper bound on the worth of at most ``count`` stones that together weigh at most ``carat``,
    whatever their shape."""
    return _filled(
        by_wish, carat, lambda one: one.per_carat, lambda one: min(one.count, count) * one.carat
    )


def _filled(
    by_wish: Sequence[WishBound],
    capacity: float,
    pays: Callable[[WishBound], float],
    takes: Callable[[WishBound], float],
) -> float:
    """The value of a fractional knapsack: ``capacity`` goes to the wishes that pay most per
    unit."""
    total = 0.0
    for one in sorted(by_wish, key=pays, reverse=True):
        share = min(capacity, takes(one))
        total += share * pays(one)
        capacity -= share
    return total


def _priced(instance: Instance, rough: Rough, wish: Wish, own: Sequence[VolumeBound]) -> WishBound:
    """The bounds in money: by the offers of a wish that are paid most."""
    carats = [min(one.volume_mm3 * instance.sg / 200.0, rough.carat) for one in own]
    prices = [
        best_price(instance.worth, offer.design, carat)
        for offer, carat in zip(wish.offers, carats, strict=True)
    ]
    worth = max(carat * price for carat, price in zip(carats, prices, strict=True))
    return WishBound(wish.most, max(carats), worth, max(prices))


def best_price(worth: Worth, design: Design, carat: float) -> float:
    """The greatest worth per carat of any stone that weighs at most ``carat``."""
    weights, low = [carat], 0.0
    while (next_low := worth.next_break(design, low)) is not None and next_low <= carat:
        weights += [0.5 * (low + next_low), next_low]  # the price is the same between two breaks
        low = next_low
    return max(worth.of(design, weight) / weight for weight in weights if weight > 0.0)


def _merged(instance: Instance, bounds: Sequence[Bound], *, shared: bool) -> Bound:
    """What the bounds of all wishes cover, use and ignore together. ``shared``: whether it counts
    that the stones share the rough."""
    named = len(bounds) > 1
    designs: dict[str, None] = {}
    parameters: dict[str, object] = {}
    for wish, bound in zip(instance.wishes, bounds, strict=True):
        covered = bound.covers["parameters"]
        assert isinstance(covered, dict)
        designs |= dict.fromkeys(offer.design.name for offer in wish.offers)
        parameters |= {f"{wish.name}: {d}" if named else d: p for d, p in covered.items()}
    uses = [use for use in bounds[0].uses if all(use in bound.uses for bound in bounds)]
    unused = dict.fromkeys(u for bound in bounds for u in bound.uses if u not in uses)
    ignores = dict.fromkeys(i for bound in bounds for i in bound.ignores)
    return Bound(
        bounds[0].carat,
        {"designs": list(designs), "parameters": parameters},
        (*uses, COUNTS, *((TOGETHER,) if shared else ())),
        (*ignores, *(u for u in unused if u not in ignores), *(() if shared else (TOGETHER,))),
    )
