"""Layouts of stones that lie alike, squeezed in plates where the stones just fit."""

import numpy as np
import shapes
from placed_stones import rough_of

from optimizer.order import Order, SizeDemand, Workshop
from optimizer.order.several import Several, Wanted
from optimizer.placement.ground import Ground
from optimizer.placement.search import QUIET
from optimizer.rough.flats.find import with_flats
from optimizer.several.bricks import brick_divisions
from optimizer.several.frames import frames_of
from optimizer.several.instance import Instance, Search
from optimizer.several.model import allowance_mm
from optimizer.several.pool import pose_grids
from optimizer.several.squeeze import squeezed
from optimizer.several.trial_cuts import CutJudge
from optimizer.several.trial_layouts import layouts_alike
from optimizer.several.wishes import wishes
from optimizer.several.worth import Worth
from optimizer.solid import as_solid

SHOP = Workshop()
APART = 2.0 * allowance_mm(SHOP)
WIDE, SKIN = 5.0, 0.05 + SHOP.clean_up_mm
SPARE, THICKER = 1.005, 1.03
DEPTH = 0.6362  # of a round, as a share of its width
ANGLES = {"crown": 34.5, "pavilion": 41.0}


def plate(below):
    """A plate around a row of rounds and a row above it with one round less."""
    pitch, reach = WIDE + APART, WIDE / 2.0 + SKIN
    slope = np.array([1.0, 0.5]) / np.hypot(1.0, 0.5)
    offset = slope[0] * pitch * (below - 1) / 2.0 + reach
    corners = [((offset - slope[1] * y) / slope[0], y) for y in (-reach, pitch + reach)]
    half = THICKER * DEPTH * WIDE / 2.0 + SKIN
    return shapes.hull(
        [(s * SPARE * x, SPARE * y, z) for x, y in corners for s in (-1, 1) for z in (-half, half)]
    )


def search_of(mesh, most):
    wanted = Wanted("rounds", ("round-brilliant",), ANGLES, SizeDemand((WIDE, WIDE)))
    order = Order(workshop=SHOP, several=Several(most), wanted=(wanted,))
    rough = with_flats(rough_of(mesh))
    instance = Instance(Ground.of(mesh), wishes(rough, order)[0], Worth(), rough.material.sg, SHOP)
    return Search(rough, instance, most, "quick", 0, QUIET)


def test_rounds_in_two_rows_fill_the_plate_made_for_them():
    """Left to lean while they are still too small for the plate's thickness, the rounds end at 0.96
    of their width."""
    search, count = search_of(plate(3), 5), 5
    ground, instance = search.instance.ground, search.instance
    grids = pose_grids(search)
    judge = CutJudge(grids, instance.offer_worth, 1, np.eye(3), allowance_mm(SHOP))
    bricks = brick_divisions(judge, judge.whole_rough(ground), frames_of(search.rough, ground))
    divisions = [one for _, one in bricks if len(one) == count]
    found = [squeezed(search, one) for one in layouts_alike(search, grids, divisions)[count]]
    whole = [one for one in found if one is not None and len(one.stones) == count]
    assert whole
    stones = [as_solid(stone.placement.mesh()) for stone in whole[0].stones]
    rough = as_solid(search.rough.mesh)
    assert all((stone - rough).volume() < 1e-9 for stone in stones)
    apart = [one.min_gap(other, 5.0) for k, one in enumerate(stones) for other in stones[:k]]
    assert min(apart) >= APART - 1e-6
