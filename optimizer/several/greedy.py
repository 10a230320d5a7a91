"""Largest first: one stone after the other, each the most worth that still can be sawn off.

A new stone lies beyond one laid before, in the same piece, so that one cut between the two parts
them: what is found this way can always be sawn. It is the plain way that everything else is
measured against, and where the search begins.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimizer.mesh import Floats, Plane, even_directions
from optimizer.order.several import LookTolerance
from optimizer.placement.model import Placement
from optimizer.placement.place import Want, place
from optimizer.placement.search import Watch
from optimizer.several.forks import grafted, without
from optimizer.several.joined import Site
from optimizer.several.model import Division, Fork, PlacedStone, Wish, allowance_mm, walls_beside
from optimizer.several.pairs import alike, odd_ones, twin_want
from optimizer.several.soundings import Sounding, widest_beside, within
from optimizer.several.twins import as_small

SIDES = 40  # ways off a stone that are looked at, besides its own axes: about 30 degrees apart
TWIN_DEG = 10.0
LAID = 3  # of the best by their soundings are laid exactly, for each stone
TRIED, AT_WORST = 8, 32  # of them at most, where some turn out not to fit, or all so far
FAINT = 0.1  # what a promise counts that a sounding does not bear out
CLOSE = 0.9  # an offer whose sounding is below this share of the best's is not laid
EXACT = {"quick": "glance", "normal": "glance", "thorough": "quick"}  # to lay a stone with


@dataclass(frozen=True, eq=False)
class _Slot:
    """A piece that the next stone could come from: beyond a cut off a stone laid, or all of it."""

    beside: int | None  # the stone
    cut: Plane | None  # towards the next stone
    walls: tuple[Plane, ...]
    widths: tuple[float, ...]  # of the largest stone there, by each sounding; 0 for none


def greedy(
    site: Site,
    soundings: Sequence[Sounding],
    most: int,
    *,
    effort: str,
    seed: int,
    watch: Watch,
    start: Division | None = None,
    around: Sequence[int] | None = None,
) -> Division | None:
    """Stones laid largest first beside those of ``start`` (all, or these of them), ``most`` in
    all, until no other fits or is wanted.

    None where not even one was found. What wishes need at least comes before what they may have.
    The same input gives the same stones; a stop leaves those laid.
    """
    search = _Greedy(site, soundings, EXACT[effort], seed, watch)
    division, slots = start, list(search.first_slots(start, around))
    alone: set[int] = set()  # wishes for pairs of which a stone found no twin
    while slots and not watch.stop() and (division is None or len(division.stones) < most):
        stones = division.stones if division else ()
        lone = odd_ones(stones, site.wishes)
        wanted = _open(site.wishes, division, alone)
        found = search.best(slots, wanted, stones[lone[0]] if lone else None)
        grown = found and _with(division, *found)
        if grown and lone:
            grown = search.matched(grown, lone[0])
        if grown is None and lone:
            alone.add(stones[lone[0]].wish)  # no twin for it: no more of its kind
            division = without(division, lone[0]) if division and len(stones) > 1 else None
            slots = list(search.first_slots(division, None))
            continue
        if grown is None or found is None:
            break
        slot, division = found[0], grown
        watch.progress("largest first", len(division.stones), most, 0.0)
        changed = {slot.beside, len(division.stones) - 1}
        slots = [s for s in slots if s.beside not in changed and s.beside is not None]
        slots += [s for k in changed if k is not None for s in search.slots(division, k)]
    return division


def _with(division: Division | None, slot: _Slot, laid: PlacedStone) -> Division:
    if division is None or slot.beside is None or slot.cut is None:
        return Division((laid,), 0)
    number = len(division.stones)
    fork = Fork(slot.cut, slot.beside, number)
    return Division((*division.stones, laid), grafted(division.fork, slot.beside, fork))


def _open(
    wishes: Sequence[Wish], division: Division | None, alone: Collection[int]
) -> Mapping[int, Wish]:
    """The wishes that still want stones, by number, but for those ``alone``: those in need, where
    there are any."""
    stones = division.stones if division else ()
    laid = [sum(one.wish == k for one in stones) for k in range(len(wishes))]
    first = [k for k, w in enumerate(wishes) if w.first and laid[k] < w.least]
    needed = first or [k for k, wish in enumerate(wishes) if laid[k] < wish.least]
    wanted = needed or [k for k, wish in enumerate(wishes) if laid[k] < wish.most]
    return {k: wishes[k] for k in wanted if k not in alone}


class _Greedy:
    """Remembers the stones laid in each slot: few slots change from step to step."""

    def __init__(
        self, site: Site, soundings: Sequence[Sounding], exact: str, seed: int, watch: Watch
    ) -> None:
        self.site, self.soundings = site, soundings
        self.exact, self.seed, self.watch = exact, seed, watch
        self._laid: dict[tuple[_Slot, int], PlacedStone | None] = {}

    def first_slots(self, start: Division | None, around: Sequence[int] | None) -> Iterator[_Slot]:
        """The whole rough, or what lies beside the stones laid."""
        if start is None:
            widths = tuple(float(s.widths[0]) if len(s.widths) else 0.0 for s in self.soundings)
            yield _Slot(None, None, (), widths)
            return
        for number in range(len(start.stones)) if around is None else around:
            yield from self.slots(start, number)

    def slots(self, division: Division, number: int) -> Iterator[_Slot]:
        """The ways off a stone within its piece that leave room for another."""
        allowance = allowance_mm(self.site.workshop)
        stone = division.stones[number].placement
        corners = stone.mesh().vertices
        walls = dict(walls_beside(division.fork, allowance))[number]
        planes = [self.site.ground.plane(wall) for wall in walls]
        here = [within(sounding, planes) for sounding in self.soundings]
        for normal in _ways(stone):
            cut = Plane(normal, float((corners @ normal).max()) + allowance)
            wall = Plane(-normal, -(cut.offset + allowance))
            plane = self.site.ground.plane(wall)
            widths = tuple(
                widest_beside(sounding, left, plane.normal, plane.offset)
                for sounding, left in zip(self.soundings, here, strict=True)
            )
            if any(widths):
                yield _Slot(number, cut, (*walls, wall), widths)

    def best(
        self, slots: Sequence[_Slot], wishes: Mapping[int, Wish], first: PlacedStone | None = None
    ) -> tuple[_Slot, PlacedStone] | None:
        """The stone of most worth over all slots, a twin of ``first`` where that is given. The
        soundings tell which are worth laying."""
        ranked = sorted(
            ((self._promise(number, width), slot, number)
             for slot in slots
             for number, width in enumerate(slot.widths)
             if width and self._serves(self.soundings[number], wishes, first)
             and self._laid.get((slot, number), slot) is not None),
            key=lambda one: -one[0],
        )  # fmt: skip
        found: list[tuple[_Slot, PlacedStone]] = []
        for tried, (worth, slot, number) in enumerate(ranked[:AT_WORST]):
            enough = found and (worth < CLOSE * ranked[0][0] or tried >= TRIED)
            if self.watch.stop() or enough:
                break
            laid = self._exact(slot, number) if first is None else self._twin(slot, number, first)
            if laid is not None:
                found.append((slot, laid))
            if len(found) == LAID:
                break
        return max(found, key=lambda one: self._worth(one[1]), default=None)

    def _promise(self, number: int, width: float) -> float:
        """What a stone so wide is worth; much less where it is narrower than asked for, since a
        climb seldom makes good what a sounding lacks."""
        sounding = self.soundings[number]
        narrow = width < sounding.offer.want.width_mm[0]
        return (FAINT if narrow else 1.0) * _worth_at(self.site, sounding, width)

    def _worth(self, laid: PlacedStone) -> float:
        return self.site.value(laid, laid.placement.pose.width)

    def _exact(self, slot: _Slot, number: int) -> PlacedStone | None:
        if (slot, number) not in self._laid:
            self._laid[slot, number] = self._lay(slot, self.soundings[number])
        return self._laid[slot, number]

    def _serves(
        self, sounding: Sounding, wishes: Mapping[int, Wish], first: PlacedStone | None
    ) -> bool:
        if first is None:
            return sounding.wish in wishes
        same = sounding.offer.parameters == first.offer.parameters
        named = sounding.offer.design.name == first.offer.design.name
        return sounding.wish == first.wish and named and same

    def matched(self, division: Division, number: int) -> Division | None:
        """The division whose last stone is the twin of stone ``number``, which is made as small
        as that; None where it can't be."""
        first, last = division.stones[number], division.stones[-1]
        pair_mm = self.site.wishes[first.wish].pair_mm or 0.0
        width = last.placement.pose.width
        if first.placement.pose.width - width <= pair_mm:
            return division
        walls = dict(walls_beside(division.fork, allowance_mm(self.site.workshop)))[number]
        want = first.offer.want
        there = replace(want, walls=(*want.walls, *walls))
        held = replace(first, offer=replace(first.offer, want=there))
        smaller = as_small(self.site.ground, held, width)
        if smaller is None:
            return None
        smaller = replace(smaller, offer=first.offer)
        return replace(division, stones=(
            *division.stones[:number], smaller, *division.stones[number + 1 :]
        ))  # fmt: skip

    def _twin(self, slot: _Slot, number: int, first: PlacedStone) -> PlacedStone | None:
        sounding, wish = self.soundings[number], self.site.wishes[first.wish]
        want = twin_want(sounding.offer.want, first, wish)
        laid = self._lay(slot, sounding, want)
        return laid if laid and alike(laid, first, wish.alike or LookTolerance()) else None

    def _lay(
        self, slot: _Slot, sounding: Sounding, asked: Want | None = None
    ) -> PlacedStone | None:
        offer, watch = sounding.offer, Watch(self.watch.stop)
        asked = asked or offer.want
        want = replace(asked, walls=(*asked.walls, *slot.walls))
        laid = place(self.site.ground, want, effort=self.exact, seed=self.seed, watch=watch)
        stone = None if laid is None else PlacedStone(sounding.wish, offer, laid)
        return stone if stone is not None and self.site.met(stone) else None


def sounded_worth(site: Site, sounding: Sounding, walls: Sequence[Plane]) -> float:
    """What the best stone of a sounding below walls (scan frame) is worth; 0 for none."""
    left = within(sounding, [site.ground.plane(wall) for wall in walls])
    return _worth_at(site, sounding, float(left.widths.max(initial=0.0)))


def _worth_at(site: Site, sounding: Sounding, width: float) -> float:
    carat = sounding.offer.want.body.volume_at(width) * site.sg / 200.0
    return site.worth.of(sounding.offer.design, carat)


def _ways(stone: Placement) -> Iterator[Floats]:
    """Unit vectors (3,), scan frame: the stone's own axes, both ways, and an even spread."""
    own = [sign * axis for axis in stone.pose.rotation.T for sign in (1.0, -1.0)]
    yield from own
    near = np.cos(np.radians(TWIN_DEG))
    for way in even_directions(SIDES):
        if max(float(way @ other) for other in own) < near:
            yield way
