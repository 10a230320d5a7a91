"""Layouts of bricks, and what squeezing makes of them."""

from itertools import product

import numpy as np
import pytest
import shapes
from placed_stones import rough_of

from optimizer.order import Order, SizeDemand, Workshop
from optimizer.order.several import Several, Wanted
from optimizer.placement.ground import Ground
from optimizer.placement.search import QUIET
from optimizer.rough.flats.find import with_flats
from optimizer.several.guillotine import Brick, best_block, leaves
from optimizer.several.instance import Instance, Search
from optimizer.several.layouts import brick_layouts, trimmed
from optimizer.several.model import allowance_mm
from optimizer.several.pool import pose_grids
from optimizer.several.squeeze import squeezed
from optimizer.several.wishes import wishes
from optimizer.several.worth import Worth
from optimizer.solid import as_solid

SHOP = Workshop()
APART = 2.0 * allowance_mm(SHOP)
WIDE = 4.5
SKIN = 0.05 + SHOP.clean_up_mm


def plainly(room, bricks):
    """The most worth by every guillotine cut at whole mm, slowly."""
    known = {}

    def best(cell):
        if cell not in known:
            fits = (
                b.worth for b in bricks if all(e <= c for e, c in zip(b.edges, cell, strict=True))
            )
            known[cell] = max(fits, default=0.0)
            for axis, at in product(range(3), range(1, max(cell))):
                if at < cell[axis]:
                    parts = [(*cell[:axis], e, *cell[axis + 1 :]) for e in (at, cell[axis] - at)]
                    known[cell] = max(known[cell], sum(map(best, parts)))
        return known[cell]

    return best(room)


@pytest.mark.parametrize("seed", range(6))
def test_the_best_block_is_that_of_every_cut_tried(seed):
    rng = np.random.default_rng(seed)
    room = tuple(map(int, rng.integers(4, 9, 3)))
    bricks = [
        Brick(k, tuple(map(float, rng.integers(1, 5, 3))), float(rng.uniform(1, 9)))
        for k in range(3)
    ]
    block = best_block(np.array(room, float), bricks)
    found = sum(bricks[leaf].worth for leaf in leaves(block)) if block else 0.0
    assert found == pytest.approx(plainly(room, bricks))
    assert block is None or (np.array(block.edges) <= room).all()


def test_a_brick_longer_than_the_room_is_no_block():
    assert best_block(np.ones(3), [Brick(0, (2.0, 1.0, 1.0), 1.0)]) is None


def test_a_bar_just_long_enough_for_pears_head_to_tail_gives_them():
    """Three pears side by side need 3 widths and 2 gaps of 1.4 mm: the bar is 0.3 mm shorter."""
    wanted = Wanted("pears", ("pear",), {"crown": 36.0, "pavilion": 42.0}, SizeDemand((WIDE, WIDE)))
    order = Order(workshop=SHOP, several=Several(4), wanted=(wanted,))
    long = 3 * WIDE + 2 * APART + 2 * SKIN - 0.3
    rough = with_flats(rough_of(shapes.box((1.45 * WIDE + 2 * SKIN + 0.05, long, 3.58))))
    instance = Instance(
        Ground.of(rough.mesh), wishes(rough, order)[0], Worth(), rough.material.sg, SHOP
    )
    search = Search(rough, instance, 4, "quick", 0, QUIET)
    _, rows = brick_layouts(search, pose_grids(search))
    layout = rows[0]
    assert len(layout.stones) == 3
    found = squeezed(search, layout)
    assert found is not None
    solid, stones = as_solid(rough.mesh), [as_solid(s.placement.mesh()) for s in found.stones]
    assert all((stone - solid).volume() < 1e-9 for stone in stones)
    assert stones[0].min_gap(stones[1], 5.0) >= APART - 1e-6
    assert len(trimmed(instance, layout, 2).stones) == 2
