"""An upper bound on the volume of an offer's stone, its free parameters anywhere in their ranges.

Branch and bound over boxes of parameters: a box is bounded by the body common to all its stones
(``placement.box``), whose greatest size is proved as for any body. The box with the highest bound
is halved until the gap asked for is reached or the work is spent.
"""

from dataclasses import dataclass, replace

import numpy as np

from optimizer.errors import InputError
from optimizer.offers.bound import VolumeBound
from optimizer.offers.offer import Offer
from optimizer.offers.width_bound import hollows_of, over_cells, room_of, width_bound
from optimizer.order import Range
from optimizer.placement.bound import widest
from optimizer.placement.bounding import bound_size
from optimizer.placement.box import Box
from optimizer.placement.containers import Planes
from optimizer.placement.copy import convex_body
from optimizer.placement.ground import Ground
from optimizer.placement.hollows import Hollows
from optimizer.placement.proof import ProofTask
from optimizer.placement.search import Watch

JUST_BELOW = 1e-6  # of the width: a bound so little below the least size proves it out of reach
FIRST_SHARE = 4  # where hollows count, the whole box gets one in so many of the cells
FIRST_CELLS = 5000  # of rotations for the whole box; each halving gets twice as many
LEAST_CELLS = 256  # halving a box counts as at least so many, so that the work is finite


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
    assert offer.freedom is not None
    room = room_of(ground, offer.want)
    balls = hollows_of(ground, offer.want, room) if hollows else None
    bounder = BoxBounder(ground, offer, room, balls, found_mm3, gap, watch)
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
    return VolumeBound(top.volume_mm3, all(b.volume_mm3 < b.least_mm3 for b in branches))


@dataclass(frozen=True)
class Branch:
    """A box of parameters with its bound."""

    box: Box
    volume_mm3: float  # no stone of the box has more
    least_mm3: float  # the least volume with the size ordered
    budget: int  # of cells of rotations
    cells: int  # of the budget, spent
    cube_mm: float | None  # no stone, its least girdle left out, has the volume of a larger cube

    def under(self, whole: "Branch") -> "Branch":
        """The branch bounded by the box that it is a part of as well."""
        return replace(self, volume_mm3=min(self.volume_mm3, whole.volume_mm3))


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

    def branch(self, box: Box, budget: int, most: float | None) -> Branch:
        """Bound one box, as far as is needed to show that its stones are lighter than the stone
        known, or smaller than ordered. ``most`` is a cube edge known to be a bound already."""
        try:
            least, largest = self._ordered(box)
            box.core  # noqa: B018 - computed here, where a lost facet raises
        except InputError:  # a facet is lost somewhere in the box: there is no bound
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
        """The least and the greatest volume that the sizes ordered allow."""
        assert self.offer.freedom is not None
        window = self.offer.freedom.window
        least = box.least(lambda b: b.volume_at(window(b)[0]))
        if np.isinf(window(box.corners[0])[1]):
            return least, np.inf
        return least, box.most(lambda b: b.volume_at(window(b)[1]))

    def _proved(self, box: Box, aim: float, first: float, budget: int) -> tuple[float, int]:
        core, want = box.core, replace(self.offer.want, body=box.corners[0])
        demands = over_cells(self.ground, want, first * core.reach, core.turn)
        task = ProofTask(aim, first, self.gap, budget)
        body = convex_body(core.corners)[0]
        proof = bound_size(body, box.group, self.room, self.hollows, task, demands, self.watch)
        return proof.bound, proof.cells
