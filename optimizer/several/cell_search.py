"""Stones of a division searched from scratch, each in its own cell: between the cuts beside it."""

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from optimizer.offers.offer import Offer
from optimizer.offers.placement_cache import place_offer
from optimizer.order import Range
from optimizer.placement.model import Placement
from optimizer.placement.place import Want
from optimizer.placement.search import Watch
from optimizer.several.cut_tree import cell_walls
from optimizer.several.greedy import grid_worth
from optimizer.several.instance import Instance
from optimizer.several.model import Division, PlacedStone, allowance_mm
from optimizer.several.pair_constraints import PairConstraint, pair_constraints, pairs_hold
from optimizer.several.pose_grids import PoseGrid

PROMISING = 2  # a stone is searched with at most so many offers besides its own
CLOSE = 0.97  # of the stone's worth: what the grid of another offer must show in the cell


def search_cells(
    instance: Instance,
    grids: Sequence[PoseGrid],
    division: Division,
    *,
    count: int,
    seed: int,
    watch: Watch,
) -> Division:
    """The ``count`` stones of most worth searched each in its cell; then all stones with the
    parameters that were found best for others of their wish. No stone loses worth."""
    chosen_parameters: dict[tuple[int, str], Offer] = {}
    order = np.argsort([-instance.worth_at(s, s.placement.pose.width) for s in division.stones])
    chosen = [int(number) for number in order[:count]]
    for done, number in enumerate(chosen, 1):
        own = _with_promising_offers(instance, grids, division, number)
        new = _searched(own, division, number, seed, watch)
        if new is not division:
            stone = new.stones[number]
            key = stone.wish, stone.offer.design.name
            chosen_parameters[key] = replace(stone.offer, freedom=None)
        division = new
        watch.progress("improving stones between their cuts", done, len(chosen), 0.0)
    for number in map(int, order if chosen_parameters else ()):
        wish = division.stones[number].wish
        offers = tuple(offer for (w, _), offer in chosen_parameters.items() if w == wish)
        division = _searched(_with_offers(instance, wish, offers), division, number, seed, watch)
    return division


def search_cell(
    instance: Instance, division: Division, number: int, *, effort: str, seed: int, watch: Watch
) -> Division:
    """The division with stone ``number`` searched in its cell, by every offer of its wish; the
    same division where no such stone is worth more. Pairs stay pairs."""
    walls = dict(cell_walls(division.cut_tree, allowance_mm(instance.workshop)))[number]
    pairs = pair_constraints(instance.wishes, division.stones)
    best = division
    for offer in instance.wishes[division.stones[number].wish].offers:
        window = _within_its_pair(division, number, pairs, offer.want.width_mm)
        want = replace(offer.want, width_mm=window, walls=(*offer.want.walls, *walls))
        found = place_offer(instance.ground, replace(offer, want=want), effort, seed, watch)
        if found is None:
            continue
        stone = _stone(division.stones[number].wish, *found, offer.want)
        new = division.with_stone(number, stone)
        feasible = pairs_hold(instance.wishes, new.stones, pairs) and instance.look_met(stone)
        if instance.division_worth(new) > instance.division_worth(best) and feasible:
            best = new
    return best


def _stone(wish: int, chosen: Offer, placement: Placement, own: Want) -> PlacedStone:
    """The stone found, with the demands of its offer alone: the cell's walls and the width of its
    pair are dropped."""
    window = own.width_mm if chosen.freedom is None else chosen.want.width_mm
    want = replace(chosen.want, width_mm=window, walls=own.walls)
    return PlacedStone(wish, replace(chosen, want=want), placement)


def _within_its_pair(
    division: Division, number: int, pairs: Iterable[PairConstraint], window: Range
) -> Range:
    """The widths of ``window`` that agree with the other stone of the pair."""
    for one, other, tolerance in pairs:
        if number in (one, other):
            width = division.stones[one + other - number].placement.pose.width
            return max(window[0], width - tolerance), min(window[1], width + tolerance)
    return window


def _searched(
    instance: Instance, division: Division, number: int, seed: int, watch: Watch
) -> Division:
    """A glance at one stone's cell; the very same division where nothing better is found."""
    if watch.stop():
        return division
    quiet = Watch(watch.stop)
    new = search_cell(instance, division, number, effort="glance", seed=seed, watch=quiet)
    return division if instance.division_worth(new) <= instance.division_worth(division) else new


def _with_offers(instance: Instance, wish: int, offers: tuple[Offer, ...]) -> Instance:
    """The instance with other offers for one wish."""
    wishes = list(instance.wishes)
    wishes[wish] = replace(wishes[wish], offers=offers)
    return replace(instance, wishes=tuple(wishes))


def _with_promising_offers(
    instance: Instance, grids: Sequence[PoseGrid], division: Division, number: int
) -> Instance:
    """The instance with those offers of a stone's wish that may be as good in its cell."""
    stone = division.stones[number]
    walls = dict(cell_walls(division.cut_tree, allowance_mm(instance.workshop)))[number]
    best = instance.worth_at(stone, stone.placement.pose.width)
    worths = {
        grid.offer.design.name: grid_worth(instance, grid, walls)
        for grid in grids
        if grid.wish == stone.wish
    }
    ranked = sorted(worths, key=lambda name: -worths[name])[:PROMISING]
    names = {name for name in ranked if worths[name] >= CLOSE * best}
    names.add(stone.offer.design.name)
    offers = tuple(o for o in instance.wishes[stone.wish].offers if o.design.name in names)
    return _with_offers(instance, stone.wish, offers)
