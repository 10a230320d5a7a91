"""Largest first: one stone after another, each the one of most worth that can still be sawn off.

A new stone lies beyond a stone placed before, in the same piece, and one cut between the two
separates them. So every division found this way can be sawn. It is the plain method to which all
others are compared, and the start of the search.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimizer.mesh import Floats, Plane, even_directions
from optimizer.order.several import LookTolerance
from optimizer.placement.model import Placement
from optimizer.placement.place import Want, place
from optimizer.placement.search import Watch
from optimizer.several.cut_tree import CutTree, cell_walls, with_branch
from optimizer.several.instance import Instance, Search
from optimizer.several.model import Division, PlacedStone, Wish, allowance_mm
from optimizer.several.pairs import alike, partner_want, unpaired
from optimizer.several.pose_grids import PoseGrid
from optimizer.several.twins import narrowed_to

SIDES = 40  # directions of cuts beside a stone, besides its own axes: about 30 degrees apart
TWIN_DEG = 10.0  # a direction closer than this to one of the stone's axes is left out
PLACED = 3  # for each new stone, so many of the best by their grids are placed exactly
TRIED, AT_WORST = 8, 12  # attempts at that, where some don't fit; and where none has fitted yet
FAINT = 0.1  # factor on the worth of a stone that by its grid is narrower than ordered
CLOSE = 0.9  # an offer whose grid shows less than this share of the best is not placed
EXACT = {"quick": "glance", "normal": "glance", "thorough": "quick"}  # effort to place a stone


@dataclass(frozen=True, eq=False)
class Slot:
    """Room for the next stone: beyond a cut beside a placed stone, or the whole rough."""

    beside: int | None  # the placed stone
    cut: Plane | None  # its normal towards the next stone
    walls: tuple[Plane, ...]
    widths: tuple[float, ...]  # of the largest stone there, by each grid; 0 where none fits


def greedy(
    search: Search,
    grids: Sequence[PoseGrid],
    start: Division | None = None,
    around: Sequence[int] | None = None,
) -> Division | None:
    """Stones added largest first to those of ``start``, until there are ``search.most``, or no
    other fits or is wanted. They are added beside the stones ``around``, or beside all of them.

    None where no stone was found. Stones that a wish needs come before those that it may have. The
    same input gives the same stones; a stop leaves those placed so far.
    """
    placer, wishes, watch = Placer(search, grids), search.instance.wishes, search.watch
    division, slots = start, list(placer.first_slots(start, around))
    without_partner: set[int] = set()  # wishes for pairs of which a stone found no partner
    while slots and not watch.stop() and (division is None or len(division.stones) < search.most):
        stones = division.stones if division else ()
        odd = unpaired(stones, wishes)
        wanted = open_wishes(wishes, division, without_partner)
        found = placer.best(slots, wanted, stones[odd[0]] if odd else None)
        larger = found and grown(division, *found)
        if larger and odd:
            larger = placer.matched(larger, odd[0])
        if larger is None and odd:
            without_partner.add(stones[odd[0]].wish)
            division = division.without(odd[0]) if division and len(stones) > 1 else None
            slots = list(placer.first_slots(division, None))
            continue
        if larger is None or found is None:
            break
        slot, division = found[0], larger
        watch.progress("placing the largest first", len(division.stones), search.most, 0.0)
        changed = {slot.beside, len(division.stones) - 1}
        slots = [s for s in slots if s.beside not in changed and s.beside is not None]
        slots += [s for k in changed if k is not None for s in placer.slots(division, k)]
    return division


def grown(division: Division | None, slot: Slot, stone: PlacedStone) -> Division:
    """The division with one stone more, beyond the cut of its slot."""
    if division is None or slot.beside is None or slot.cut is None:
        return Division((stone,), 0)
    branch = CutTree(slot.cut, slot.beside, len(division.stones))
    cut_tree = with_branch(division.cut_tree, slot.beside, branch)
    return Division((*division.stones, stone), cut_tree)


def open_wishes(
    wishes: Sequence[Wish], division: Division | None, left_out: Collection[int]
) -> Mapping[int, Wish]:
    """The wishes that still want stones, by number, without those ``left_out``. While some stones
    are needed, only the wishes that need them."""
    stones = division.stones if division else ()
    placed = [sum(one.wish == k for one in stones) for k in range(len(wishes))]
    first = [k for k, w in enumerate(wishes) if w.first and placed[k] < w.least]
    needed = first or [k for k, wish in enumerate(wishes) if placed[k] < wish.least]
    wanted = needed or [k for k, wish in enumerate(wishes) if placed[k] < wish.most]
    return {k: wishes[k] for k in wanted if k not in left_out}


class Placer:
    """Places stones in slots and remembers them: few slots change from step to step."""

    def __init__(self, search: Search, grids: Sequence[PoseGrid]) -> None:
        self.instance, self.grids = search.instance, grids
        self.effort, self.seed, self.watch = EXACT[search.effort], search.seed, search.watch
        self._placed: dict[tuple[Slot, int], PlacedStone | None] = {}

    def first_slots(self, start: Division | None, around: Sequence[int] | None) -> Iterator[Slot]:
        """The whole rough, or the slots beside the stones placed."""
        if start is None:
            widths = tuple(float(g.widths[0]) if len(g.widths) else 0.0 for g in self.grids)
            yield Slot(None, None, (), widths)
            return
        for number in range(len(start.stones)) if around is None else around:
            yield from self.slots(start, number)

    def slots(self, division: Division, number: int) -> Iterator[Slot]:
        """The slots beside a stone, within its piece, that have room for another stone."""
        allowance = allowance_mm(self.instance.workshop)
        stone = division.stones[number].placement
        corners = stone.mesh().vertices
        walls = dict(cell_walls(division.cut_tree, allowance))[number]
        planes = [self.instance.ground.plane(wall) for wall in walls]
        here = [grid.within(planes) for grid in self.grids]
        for normal in _cut_directions(stone):
            cut = Plane(normal, float((corners @ normal).max()) + allowance)
            wall = Plane(-normal, -(cut.offset + allowance))
            plane = self.instance.ground.plane(wall)
            widths = tuple(
                grid.widest_beside(left, plane.normal, plane.offset)
                for grid, left in zip(self.grids, here, strict=True)
            )
            if any(widths):
                yield Slot(number, cut, (*walls, wall), widths)

    def best(
        self, slots: Sequence[Slot], wishes: Mapping[int, Wish], first: PlacedStone | None = None
    ) -> tuple[Slot, PlacedStone] | None:
        """The stone of most worth over all slots, or the best partner of ``first`` where that is
        given. The grids decide which stones are placed exactly."""
        ranked = sorted(
            ((self._estimate(number, width), slot, number)
             for slot in slots
             for number, width in enumerate(slot.widths)
             if width and self._is_wanted(self.grids[number], wishes, first)
             and self._placed.get((slot, number), slot) is not None),
            key=lambda one: -one[0],
        )  # fmt: skip
        found: list[tuple[Slot, PlacedStone]] = []
        for tried, (worth, slot, number) in enumerate(ranked[:AT_WORST]):
            enough = found and (worth < CLOSE * ranked[0][0] or tried >= TRIED)
            if self.watch.stop() or enough:
                break
            stone = (
                self._stone(slot, number) if first is None else self._partner(slot, number, first)
            )
            if stone is not None:
                found.append((slot, stone))
            if len(found) == PLACED:
                break
        return max(found, key=lambda one: self._worth(one[1]), default=None)

    def _estimate(self, number: int, width: float) -> float:
        """What a stone of a width by its grid is worth; much less where that is narrower than
        ordered, since a climb seldom makes up for it."""
        offer = self.grids[number].offer
        narrow = width < offer.want.width_mm[0]
        return (FAINT if narrow else 1.0) * self.instance.offer_worth(offer, width)

    def _worth(self, stone: PlacedStone) -> float:
        return self.instance.worth_at(stone, stone.placement.pose.width)

    def _is_wanted(
        self, grid: PoseGrid, wishes: Mapping[int, Wish], first: PlacedStone | None
    ) -> bool:
        """Whether a grid's stones belong to one of ``wishes``, or can be partners of ``first``."""
        if first is None:
            return grid.wish in wishes
        same_parameters = grid.offer.parameters == first.offer.parameters
        same_design = grid.offer.design.name == first.offer.design.name
        return grid.wish == first.wish and same_design and same_parameters

    def matched(self, division: Division, number: int) -> Division | None:
        """The division whose last stone is the partner of stone ``number``, which is narrowed to
        match it; None where that can't be done."""
        first, last = division.stones[number], division.stones[-1]
        pair_mm = self.instance.wishes[first.wish].pair_mm or 0.0
        width = last.placement.pose.width
        if first.placement.pose.width - width <= pair_mm:
            return division
        walls = dict(cell_walls(division.cut_tree, allowance_mm(self.instance.workshop)))[number]
        want = first.offer.want
        in_cell = replace(first.offer, want=replace(want, walls=(*want.walls, *walls)))
        narrowed = narrowed_to(self.instance.ground, replace(first, offer=in_cell), width)
        if narrowed is None:
            return None
        return division.with_stone(number, replace(narrowed, offer=first.offer))

    def _stone(self, slot: Slot, number: int) -> PlacedStone | None:
        """The stone of a grid's offer in a slot, placed once."""
        if (slot, number) not in self._placed:
            grid = self.grids[number]
            self._placed[slot, number] = self._place(slot, grid, grid.offer.want)
        return self._placed[slot, number]

    def _partner(self, slot: Slot, number: int, first: PlacedStone) -> PlacedStone | None:
        """The stone of a grid's offer in a slot that makes a pair with ``first``."""
        grid, wish = self.grids[number], self.instance.wishes[first.wish]
        stone = self._place(slot, grid, partner_want(grid.offer.want, first, wish))
        return stone if stone and alike(stone, first, wish.alike or LookTolerance()) else None

    def _place(self, slot: Slot, grid: PoseGrid, asked: Want) -> PlacedStone | None:
        want = replace(asked, walls=(*asked.walls, *slot.walls))
        watch = Watch(self.watch.stop)
        placement = place(
            self.instance.ground, want, effort=self.effort, seed=self.seed, watch=watch
        )
        if placement is None:
            return None
        stone = PlacedStone(grid.wish, grid.offer, placement)
        return stone if self.instance.look_met(stone) else None


def grid_worth(instance: Instance, grid: PoseGrid, walls: Sequence[Plane]) -> float:
    """What the best stone of a grid below walls (scan frame) is worth; 0 where none fits."""
    left = grid.within([instance.ground.plane(wall) for wall in walls])
    return instance.offer_worth(grid.offer, float(left.widths.max(initial=0.0)))


def _cut_directions(stone: Placement) -> Iterator[Floats]:
    """Unit vectors (3,), scan frame: the stone's own axes, both ways, and an even spread."""
    own = [sign * axis for axis in stone.pose.rotation.T for sign in (1.0, -1.0)]
    yield from own
    near = np.cos(np.radians(TWIN_DEG))
    for way in even_directions(SIDES):
        if max(float(way @ other) for other in own) < near:
            yield way
