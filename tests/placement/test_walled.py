"""A piece beside saw cuts, planned without being meshed: against the same piece sawn and meshed."""

from dataclasses import replace

import numpy as np
import pytest
from placed_stones import rough_of
from shapes import box

from optimizer.mesh import Plane
from optimizer.offers.offer import offers
from optimizer.order import Order
from optimizer.placement.ground import Ground
from optimizer.placement.place import place
from optimizer.placement.search import QUIET
from optimizer.solid import saw


@pytest.mark.parametrize("normal", [(1.0, 0.0, 0.0), (0.6, 0.8, 0.0), (1.0, 1.0, 1.0)])
def test_a_stone_beside_a_cut_is_that_of_the_sawn_piece(normal):
    rough = rough_of(box((20.0, 14.0, 9.0)))
    cut = Plane.through(rough.mesh.vertices.mean(axis=0) + 0.5, normal)
    want = offers(rough, Order(designs=("round-brilliant",)))[0][0].want
    beside = replace(want, walls=(Plane(cut.normal, cut.offset - want.skin_mm),))
    ground, piece = Ground.of(rough.mesh), Ground.of(saw(rough.mesh, cut, 0.0)[0])
    laid = place(ground, beside, effort="quick", seed=0, watch=QUIET)
    sawn = place(piece, want, effort="quick", seed=0, watch=QUIET)
    assert laid is not None
    assert sawn is not None
    assert laid.pose.width == pytest.approx(sawn.pose.width, rel=1e-4)
    reach = laid.mesh().vertices @ cut.normal
    assert reach.max() <= cut.offset - want.skin_mm + 1e-7


def test_walls_that_leave_no_place_leave_no_stone():
    rough = rough_of(box((20.0, 14.0, 9.0)))
    want = offers(rough, Order(designs=("round-brilliant",)))[0][0].want
    away = Plane(np.array([1.0, 0.0, 0.0]), float(rough.mesh.vertices[:, 0].min()) - 1.0)
    laid = place(
        Ground.of(rough.mesh), replace(want, walls=(away,)), effort="quick", seed=0, watch=QUIET
    )
    assert laid is None
