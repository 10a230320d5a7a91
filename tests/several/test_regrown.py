"""One stone searched anew between its cuts."""

import numpy as np
import shapes
from divisions import in_order, laid, offer_of, row, site_of, widths
from solids import body_of

from optimizer.mesh import Plane
from optimizer.placement.search import QUIET
from optimizer.several.regrown import regrown

ACROSS = np.array([1.0, 0.0, 0.0])
BODY = body_of(shapes.random_polytope(7, 14, radius=0.5))


def division_of(**wished):
    mesh, offer = shapes.box((20.0, 11.0, 9.0)), offer_of(BODY)
    stones = [laid(offer, 3.0, (at, 0, 0)) for at in (-5.0, 5.0)]
    return mesh, site_of(mesh, offer, **wished), row(stones, [Plane(ACROSS, 0.0)])


def test_a_stone_fills_its_cell_and_leaves_the_other_alone():
    mesh, site, division = division_of()
    new = regrown(site, division, 1, effort="quick", seed=0, watch=QUIET)
    assert widths(new)[0] == 3.0
    assert widths(new)[1] > 6.0
    assert new.stones[1].offer.want.walls == ()
    in_order(site, mesh, new)
    again = regrown(site, new, 1, effort="quick", seed=0, watch=QUIET)
    assert widths(again) == widths(new)


def test_a_pair_is_not_broken():
    mesh, site, division = division_of(pair_mm=0.5)
    new = regrown(site, division, 1, effort="quick", seed=0, watch=QUIET)
    assert 3.0 < widths(new)[1] <= 3.5
    in_order(site, mesh, new)
