"""What no plan for several stones passes: loose, since it knows nothing of how stones lie together.

Each stone by itself is bounded as a single one is, and all together by the rough's weight. A plan
of n stones takes n − 1 cuts at least.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import islice

from optimizer.design.model import Design
from optimizer.offers.bound import Bound
from optimizer.offers.limits import Most, limit
from optimizer.offers.shape_limits import most_possible
from optimizer.placement.search import QUIET, Watch
from optimizer.rough.model import Rough
from optimizer.several.joined import Site
from optimizer.several.model import Wish
from optimizer.several.shared_work import share_of
from optimizer.several.worth import Worth

CELLS, LEAST_CELLS = 600, 32  # of rotations for each offer's own bound
TOGETHER = "how the stones and the cuts between them share the rough"
COUNTS = "how many stones are wanted"


@dataclass(frozen=True)
class Alone:
    """What no stone of a wish passes by itself."""

    count: int  # stones of the wish at most
    carat: float
    worth: float
    per_carat: float  # no stone of it is paid more for each carat


def alone(site: Site, watch: Watch = QUIET) -> tuple[tuple[Most, ...], ...]:
    """Of each wish and offer what no stone of it passes by itself."""
    jobs = [offer for wish in site.wishes for offer in wish.offers]
    found: list[Most] = []
    cells = share_of(CELLS, len(jobs), LEAST_CELLS)
    for offer in jobs:
        quiet = Watch(watch.stop)
        found.append(
            most_possible(
                site.ground, offer, found_mm3=None, cells=cells, gap=0.0, hollows=False, watch=quiet
            )
        )
        watch.progress("bounding", len(found), len(jobs), 0.0)
    each = iter(found)
    return tuple(tuple(islice(each, len(wish.offers))) for wish in site.wishes)


def most_of(site: Site, rough: Rough, most: int, each: Sequence[Sequence[Most]]) -> Bound:
    """No plan of these wishes with at most ``most`` stones weighs more; ``each``: ``alone``."""
    bounds = [
        limit(rough, wish.offers, own, hollows=False, convex=site.ground.convex)
        for wish, own in zip(site.wishes, each, strict=True)
    ]
    limits = [
        Alone(w.most, b.carat, b.carat, 1.0) for w, b in zip(site.wishes, bounds, strict=True)
    ]
    return replace(
        _merged(site, bounds),
        carat=max(_total(limits, count, rough.carat) for count in range(1, most + 1)),
    )


def most_worth(site: Site, rough: Rough, most: int, each: Sequence[Sequence[Most]]) -> float:
    """No plan of these wishes with at most ``most`` stones is worth more, its cuts paid; ``each``:
    ``alone``."""
    limits = [_paid(site, rough, *one) for one in zip(site.wishes, each, strict=True)]
    return max(
        _total(limits, count, rough.carat) - site.worth.cut * (count - 1)
        for count in range(1, most + 1)
    )


def disproved(site: Site, rough: Rough, each: Sequence[Sequence[Most]]) -> bool:
    """Whether it is proved (``each`` of ``alone``) that the stones that are needed can't all be
    had: one of a kind is too large for the piece by itself, or all together weigh more than it."""
    needed = [(wish, most) for wish, most in zip(site.wishes, each, strict=True) if wish.least]
    if any(all(one.too_small for one in most) for _, most in needed):
        return True
    least_mm3 = sum(
        wish.least * min(o.want.body.volume_at(o.want.width_mm[0]) for o in wish.offers)
        for wish, _ in needed
    )
    return least_mm3 > rough.volume_mm3


def _total(limits: Sequence[Alone], count: int, carat: float) -> float:
    """At most ``count`` stones: the lesser of what they are worth with weight to spare, and of
    what the weight is worth when it goes to the best paid first."""
    by_count = _filled(limits, count, lambda one: one.worth, lambda one: one.count)
    by_weight = _filled(
        limits, carat, lambda one: one.per_carat, lambda one: min(one.count, count) * one.carat
    )
    return min(by_count, by_weight)


def _filled(
    limits: Sequence[Alone],
    room: float,
    pays: Callable[[Alone], float],
    takes: Callable[[Alone], float],
) -> float:
    """``room`` shared out to the wishes that pay most for each unit of it."""
    total = 0.0
    for one in sorted(limits, key=pays, reverse=True):
        share = min(room, takes(one))
        total += share * pays(one)
        room -= share
    return total


def _paid(site: Site, rough: Rough, wish: Wish, own: Sequence[Most]) -> Alone:
    """By the offer of a wish that is paid most."""
    carats = [min(one.volume_mm3 * site.sg / 200.0, rough.carat) for one in own]
    dearest = [
        best_paid(site.worth, offer.design, carat)
        for offer, carat in zip(wish.offers, carats, strict=True)
    ]
    worth = max(carat * paid for carat, paid in zip(carats, dearest, strict=True))
    return Alone(wish.most, max(carats), worth, max(dearest))


def best_paid(worth: Worth, design: Design, carat: float) -> float:
    """The most that a stone of at most ``carat`` is worth for each carat."""
    weights, low = [carat], 0.0
    while (next_low := worth.next_break(design, low)) is not None and next_low <= carat:
        weights += [0.5 * (low + next_low), next_low]  # the price is the same between two breaks
        low = next_low
    return max(worth.of(design, weight) / weight for weight in weights)


def _merged(site: Site, bounds: Sequence[Bound]) -> Bound:
    """What the bounds of all wishes cover, use and ignore together."""
    named = len(bounds) > 1
    designs: dict[str, None] = {}
    parameters: dict[str, object] = {}
    for wish, bound in zip(site.wishes, bounds, strict=True):
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
        (*uses, COUNTS),
        (*ignores, *(u for u in unused if u not in ignores), TOGETHER),
    )
