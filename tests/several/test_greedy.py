"""Largest first: its stones can be sawn apart, pairs match in width, needed stones come first."""

import numpy as np
import pytest
import shapes
from placed_stones import rough_of

from optimizer.order import Order, SizeDemand
from optimizer.order.several import LookTolerance, Several, Wanted
from optimizer.placement.ground import Ground
from optimizer.placement.search import QUIET
from optimizer.several.cut_tree import cell_walls
from optimizer.several.greedy import greedy
from optimizer.several.instance import Instance, Search
from optimizer.several.model import allowance_mm
from optimizer.several.pairs import alike, unpaired
from optimizer.several.pool import pose_grids
from optimizer.several.wishes import wishes
from optimizer.several.worth import Worth

ROUGH = rough_of(shapes.box((24.0, 11.0, 8.0)))
GROUND = Ground.of(ROUGH.mesh)


def largest_first(*wanted: Wanted, most: int = 3):
    order = Order(wanted=wanted, several=Several(most=most))
    asked = wishes(ROUGH, order)[0]
    instance = Instance(GROUND, asked, Worth(), ROUGH.material.sg, order.workshop)
    search = Search(ROUGH, instance, most, "quick", 0, QUIET)
    return instance, greedy(search, pose_grids(search))


@pytest.fixture(scope="module")
def pair():
    ears = Wanted("ears", ("pear",), size=SizeDemand(width_mm=(4.0, 9.0)), count=(2, 2),
                  pair_mm=0.1)  # fmt: skip
    ring = Wanted("ring", ("oval",), size=SizeDemand(width_mm=(3.0, 9.0)))
    return largest_first(ears, ring)


def test_the_second_stone_of_a_pair_matches_the_first(pair):
    instance, division = pair
    ears = [s for s in division.stones if instance.wishes[s.wish].name == "ears"]
    assert len(ears) == 2
    widths = [s.placement.pose.width for s in ears]
    assert abs(widths[0] - widths[1]) <= 0.1
    assert alike(*ears, LookTolerance())
    assert unpaired(division.stones, instance.wishes) == ()


def test_every_stone_clears_its_cuts_and_the_surface(pair):
    instance, division = pair
    allowance = allowance_mm(instance.workshop)
    low, high = ROUGH.mesh.vertices.min(axis=0), ROUGH.mesh.vertices.max(axis=0)
    walls = dict(cell_walls(division.cut_tree, allowance))
    assert set(walls) == set(range(len(division.stones)))
    for number, stone in enumerate(division.stones):
        corners = stone.placement.mesh().vertices
        skin = stone.offer.want.skin_mm
        assert np.all(corners >= low + skin - 1e-6)
        assert np.all(corners <= high - skin + 1e-6)
        for wall in walls[number]:
            assert (corners @ wall.normal).max() <= wall.offset + 1e-6


def test_a_stone_without_a_partner_is_not_kept():
    ears = Wanted("ears", ("pear",), size=SizeDemand(width_mm=(8.5, 9.0)), count=(0, 2),
                  pair_mm=0.1)  # fmt: skip
    ring = Wanted("ring", ("oval",), size=SizeDemand(width_mm=(3.0, 6.0)))
    instance, division = largest_first(ears, ring)
    assert division is not None
    assert unpaired(division.stones, instance.wishes) == ()


def test_calibrated_sizes_too_large_for_the_piece_do_not_hide_those_that_fit():
    suite = Wanted("suite", ("round-brilliant",), calibrated=True)
    _, division = largest_first(suite, most=2)
    assert division is not None
    assert len(division.stones) == 2
