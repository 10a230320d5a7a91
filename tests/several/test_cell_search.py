"""One stone searched again in its cell."""

import numpy as np
import shapes
from divisions import assert_feasible, instance_of, offer_of, row, stone_at, widths
from solids import body_of

from optimizer.mesh import Plane
from optimizer.placement.search import QUIET
from optimizer.several.cell_search import search_cell

ACROSS = np.array([1.0, 0.0, 0.0])
BODY = body_of(shapes.random_polytope(7, 14, radius=0.5))


def division_of(**wished):
    mesh, offer = shapes.box((20.0, 11.0, 9.0)), offer_of(BODY)
    stones = [stone_at(offer, 3.0, (at, 0, 0)) for at in (-5.0, 5.0)]
    return mesh, instance_of(mesh, offer, **wished), row(stones, [Plane(ACROSS, 0.0)])


def test_a_stone_fills_its_cell_and_leaves_the_other_alone():
    mesh, instance, division = division_of()
    new = search_cell(instance, division, 1, effort="quick", seed=0, watch=QUIET)
    assert widths(new)[0] == 3.0
    assert widths(new)[1] > 6.0
    assert new.stones[1].offer.want.walls == ()
    assert_feasible(instance, mesh, new)
    again = search_cell(instance, new, 1, effort="quick", seed=0, watch=QUIET)
    assert widths(again) == widths(new)


def test_a_pair_is_not_broken():
    mesh, instance, division = division_of(pair_mm=0.5)
    new = search_cell(instance, division, 1, effort="quick", seed=0, watch=QUIET)
    assert 3.0 < widths(new)[1] <= 3.5
    assert_feasible(instance, mesh, new)
