"""An upper bound on the volume of an offer's stone, its free parameters anywhere in their ranges.

Branch and bound over boxes of parameters: a box is bounded by the body common to all its stones
(``placement.box``), whose greatest size is proved as for any body. The box with the highest bound
is halved until the gap asked for is reached or the work is spent.
"""

from dataclasses import dataclass, replace

import numpy as np

from optimizer.design.enclosures.taylor import NoEnclosure
from optimizer.errors import InputError
from optimizer.offers.bound import VolumeBound
from optimizer.offers.offer import Offer
from optimizer.offers.width_bound import hollows_of, over_cells, room_of, width_bound
from optimizer.placement.bound import widest
from optimizer.placement.bounding import bound_size
from optimizer.placement.box import Box
from optimizer.placement.containers import Planes
from optimizer.placement.copy import convex_body
from optimizer.placement.ground import Ground
from optimizer.placement.hollows import Hollows
from optimizer.placement.proof import ProofTask
from optimizer.placement.search import Watch
from optimizer.placement.shaping import SizeLimits

JUST_BELOW = 1e-6  # of the width: a bound so little below the least size proves it out of reach
FIRST_SHARE = 4  # where hollows count, the whole box gets one in so many of the cells
FIRST_CELLS = 4000  # of rotations for the whole box; each halving gets twice as many
CORE_SHARE = 0.5  # of the edge that a cube loses to the core: closer bounds say little of the box
LEAST_CELLS = 256  # bounding a box counts as at least so many, so that the work is finite
MOST_PARTS = 64  # into which ranges too wide for a bound are divided at first


def volume_bound(
    ground: Ground,
    offer: Offer,
    *,
    found_mm3: float | None,
    cells: int,
    gap: float,
    hollows: bool,
    watch: Watch,
) -> VolumeBound:
    """The volume that no stone of the offer exceeds. ``found_mm3`` is the volume of a stone that is
    known, None where none is.

    The proof goes through ``cells`` of rotations, until the bound is within ``gap`` (relative, of
    the edge of a cube of equal volume) of ``found_mm3``; ``hollows`` as in ``width_bound``.
    """
    if offer.freedom is not None:
        return _over_boxes(ground, offer, found_mm3, cells, gap, hollows, watch)
    want = offer.want
    aim = want.width_mm[0] * (1.0 - JUST_BELOW)
    if found_mm3 is not None:
        aim = want.body.width_for_volume(found_mm3)
    width = width_bound(
        ground, offer, found=aim, cells=cells, gap=gap, hollows=hollows, watch=watch
    )
    return VolumeBound(
        want.body.volume_at(min(width, want.width_mm[1])), proved_too_small=width < want.width_mm[0]
    )


def _over_boxes(
    ground: Ground,
    offer: Offer,
    found_mm3: float | None,
    cells: int,
    gap: float,
    hollows: bool,
    watch: Watch,
) -> VolumeBound:
    """``volume_bound`` over boxes of free parameters: a branch and bound that halves the box with
    the greatest bound, with twice as many cells for each half."""
    assert offer.freedom is not None
    room = room_of(ground, offer.want)
    balls = hollows_of(ground, offer.want, room) if hollows else None
    bounder = BoxBounder(ground, offer, room, balls, found_mm3, gap, watch)
    budget = min(FIRST_CELLS, cells) if balls is None else cells // FIRST_SHARE
    parts = _bounded_parts(Box.whole(offer.freedom.family))
    budget = min(budget, max(cells // len(parts), LEAST_CELLS))
    branches = [bounder.branch(box, budget) for box in parts]
    left = cells - sum(branch.cells for branch in branches)
    while True:
        branches.sort(key=lambda b: -b.volume_mm3)
        open_ones = [b for b in branches if found_mm3 is not None or not b.too_small]
        top = open_ones[0] if open_ones else branches[0]
        enough = found_mm3 is not None and top.volume_mm3 <= found_mm3 * (1.0 + gap) ** 3
        if not open_ones or enough or left < LEAST_CELLS or watch.stop():
            break
        share = min(2 * top.budget, left // 2)
        halves = [bounder.branch(box, share).under(top) for box in top.box.halves()]
        branches = [*halves, *(b for b in branches if b is not top)]
        left -= sum(half.cells for half in halves)
    return VolumeBound(branches[0].volume_mm3, all(b.too_small for b in branches))


def _bounded_parts(whole: Box) -> list[Box]:
    """The box divided until every part has a core, or there are MOST_PARTS."""
    parts = [whole]
    done: list[Box] = []
    while parts and len(parts) + len(done) < MOST_PARTS:
        box = parts.pop(0)
        if _has_core(box):
            done.append(box)
        else:
            parts += box.halves()
    return done + parts


def _has_core(box: Box) -> bool:
    """Whether its bodies can be enclosed; not where the box is too large, or loses a facet."""
    try:
        return len(box.core.corners) > 0
    except (InputError, NoEnclosure):
        return False


@dataclass(frozen=True)
class Branch:
    """A box of parameters with its bound."""

    box: Box
    volume_mm3: float  # no stone of the box has more
    too_small: bool  # no stone of the box has the least size ordered
    budget: int  # of cells of rotations
    cells: int  # of the budget, spent

    def under(self, whole: "Branch") -> "Branch":
        """The branch bounded by the box that it is a part of as well."""
        volume = min(self.volume_mm3, whole.volume_mm3)
        return replace(self, volume_mm3=volume, too_small=self.too_small or whole.too_small)


@dataclass(frozen=True)
class BoxBounder:
    """Bounds boxes of one offer's parameters; what all of them have in common."""

    ground: Ground
    offer: Offer
    room: Planes
    hollows: Hollows | None
    found_mm3: float | None
    gap: float
    watch: Watch

    def branch(self, box: Box, budget: int) -> Branch:
        """Bound one box, as far as is needed to show that its stones are lighter than the stone
        known, or smaller than ordered."""
        if not _has_core(box):
            return Branch(box, np.inf, False, budget, LEAST_CELLS)
        largest, too_small = box.most_volume(self._limits), box.least_size(self._limits)
        aim = too_small * (1.0 - JUST_BELOW)
        if self.found_mm3 is not None:
            aim = box.size_for_volume(self.found_mm3)
        size = widest(convex_body(box.core.corners)[0], self.room)
        cells = 0
        if aim < size and (self.found_mm3 is None or self.found_mm3 < largest):
            size, cells = self._proved(box, aim, size, budget)
        volume = min(box.volume_at(size), largest)
        return Branch(box, volume, size < too_small, budget, max(cells, LEAST_CELLS))

    @property
    def _limits(self) -> SizeLimits:
        assert self.offer.freedom is not None
        return self.offer.freedom.limits

    def _proved(self, box: Box, aim: float, most: float, budget: int) -> tuple[float, int]:
        core, want = box.core, replace(self.offer.want, body=box.middle)
        demands = over_cells(self.ground, want, most * core.reach, core.turn)
        body = convex_body(core.corners)[0]
        gap = max(self.gap, CORE_SHARE * (1.0 / body.cube_edge - 1.0))
        task = ProofTask(aim, most, gap, budget)
        proof = bound_size(body, box.group, self.room, self.hollows, task, demands, self.watch)
        return proof.bound, proof.cells
