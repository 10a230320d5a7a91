"""The most that an offer can be, its free parameters anywhere in their ranges.

Branch and bound over boxes of parameters: each box counts as the body common to all of it
(``placement.box``), whose greatest size is proved as any body's; the box with the highest bound is
cut in two until the gap asked for is reached or the work is done.
"""

from dataclasses import dataclass, replace

import numpy as np

from optimizer.errors import InputError
from optimizer.offers.limits import Most, hollows_of, over_cells, room_of, widest_possible
from optimizer.offers.offer import Offer
from optimizer.order import Range
from optimizer.placement.bound import widest
from optimizer.placement.bounding import bound_size
from optimizer.placement.box import Box
from optimizer.placement.containers import Planes
from optimizer.placement.copy import convex_body
from optimizer.placement.ground import Ground
from optimizer.placement.hollows import Hollows
from optimizer.placement.search import Watch

JUST_BELOW = 1e-6  # of the width: a bound there proves that the least size ordered is out of reach
FIRST_SHARE = 4  # of the cells, for the whole box, where hollows are looked at
FIRST_CELLS = 5000  # of rotations for the whole box; each halving gets twice as many
LEAST_CELLS = 256  # that cutting a box in two counts for, so that the work has an end


def most_possible(
    ground: Ground,
    offer: Offer,
    *,
    found_mm3: float | None,
    cells: int,
    gap: float,
    hollows: bool,
    watch: Watch,
) -> Most:
    """The most that any stone of the offer holds; ``found_mm3``: of a stone known, None without.

    ``cells`` of rotations are looked at, until the bound is within ``gap`` (relative, of the edge
    of an equal cube) of what is found; ``hollows`` as in ``widest_possible``.
    """
    if offer.freedom is not None:
        return _over_boxes(ground, offer, found_mm3, cells, gap, hollows, watch)
    want = offer.want
    aim = want.width_mm[0] * (1.0 - JUST_BELOW)
    if found_mm3 is not None:
        aim = want.body.width_for_volume(found_mm3)
    width = widest_possible(
        ground, offer, found=aim, cells=cells, gap=gap, hollows=hollows, watch=watch
    )
    return Most(
        want.body.volume_at(min(width, want.width_mm[1])), too_small=width < want.width_mm[0]
    )


def _over_boxes(
    ground: Ground,
    offer: Offer,
    found_mm3: float | None,
    cells: int,
    gap: float,
    hollows: bool,
    watch: Watch,
) -> Most:
    assert offer.freedom is not None
    room = room_of(ground, offer.want)
    balls = hollows_of(ground, offer.want, room) if hollows else None
    bounder = Bounder(ground, offer, room, balls, found_mm3, gap, watch)
    budget = min(FIRST_CELLS, cells) if balls is None else cells // FIRST_SHARE
    first = bounder.branch(Box.whole(offer.freedom.family), budget, None)
    branches, left = [first], cells - first.cells
    while True:
        branches.sort(key=lambda b: -b.volume_mm3)
        top = branches[0]
        aim = top.least_mm3 if found_mm3 is None else found_mm3 * (1.0 + gap) ** 3
        if top.volume_mm3 <= aim or left < LEAST_CELLS or watch.stop():
            break
        share = min(2 * top.budget, left // 2)
        halves = [bounder.branch(box, share, top.cube_mm) for box in top.box.halves()]
        branches[:1] = [half.under(top) for half in halves]
        left -= sum(max(half.cells, LEAST_CELLS) for half in halves)
    return Most(top.volume_mm3, all(b.volume_mm3 < b.least_mm3 for b in branches))


@dataclass(frozen=True)
class Branch:
    """A box of parameters, the volume that no stone of it passes, the least that the size ordered
    asks of it, and the cells of rotations that it could have had and had."""

    box: Box
    volume_mm3: float
    least_mm3: float
    budget: int
    cells: int
    cube_mm: float | None  # no stone of it, its least girdle left out, fills a larger cube

    def under(self, whole: "Branch") -> "Branch":
        """No part holds more than the whole."""
        return replace(self, volume_mm3=min(self.volume_mm3, whole.volume_mm3))


@dataclass(frozen=True)
class Bounder:
    """What all boxes of an offer have in common."""

    ground: Ground
    offer: Offer
    room: Planes
    hollows: Hollows | None
    found_mm3: float | None
    gap: float
    watch: Watch

    def branch(self, box: Box, budget: int, most: float | None) -> Branch:
        """Bound one box, to where it can't be heavier than what is found, or as large as
        ordered; ``most``: the edge of a cube that holds no less than any stone of it, if known."""
        try:
            least, largest = self._ordered(box)
            box.core  # noqa: B018 - cut while a lost facet can be told
        except InputError:  # a facet is lost somewhere in the box: it says nothing
            return Branch(box, np.inf, 0.0, budget, 0, most)
        found = self.found_mm3 if self.found_mm3 is not None else least * (1.0 - JUST_BELOW)
        aim = box.least(lambda b: b.width_for_volume(found) * b.cube_edge)
        first = most
        if first is None:
            first = widest(convex_body(box.core.corners)[0], self.room)
        cube, cells = first, 0
        if aim < first and found < largest:
            cube, cells = self._proved(box, aim, first, budget)
        volume = box.most(lambda b: b.volume_at(cube / b.cube_edge))
        return Branch(box, min(volume, largest), least, budget, cells, cube)

    def _ordered(self, box: Box) -> Range:
        """The least and the most volume that the sizes ordered leave."""
        assert self.offer.freedom is not None
        window = self.offer.freedom.window
        least = box.least(lambda b: b.volume_at(window(b)[0]))
        if np.isinf(window(box.corners[0])[1]):
            return least, np.inf
        return least, box.most(lambda b: b.volume_at(window(b)[1]))

    def _proved(self, box: Box, aim: float, first: float, budget: int) -> tuple[float, int]:
        core, want = box.core, replace(self.offer.want, body=box.corners[0])
        demands = over_cells(self.ground, want, first * core.reach, core.turn)
        proof = bound_size(
            convex_body(core.corners)[0], box.group, self.room, self.hollows, found=aim,
            most=first, gap=self.gap, budget=budget, demands=demands, watch=self.watch,
        )  # fmt: skip
        return proof.bound, proof.cells
