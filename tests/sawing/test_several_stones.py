"""The saw plan of several stones: closed forms on bars and slabs, and what must always hold."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import shapes
from hypothesis import given, settings
from hypothesis import strategies as st
from laid_stones import block, kerf_volume, laid, leaves, rough_of, solid_volume

from optimizer.audit.cuts import cuts_clear_stones
from optimizer.audit.pieces import piece_solids, pieces_add_up, stones_lie_in_their_pieces
from optimizer.audit.tree import pieces_form_a_tree
from optimizer.mesh import Plane
from optimizer.order import Workshop
from optimizer.rough.model import ReferenceFace
from optimizer.sawing import OutOfReachError, saw_plan, saw_plan_of
from optimizer.several.model import Division, Fork, Laid
from optimizer.several.parting import part
from optimizer.solid import as_mesh, as_solid

SHOP = Workshop()
ALLOWANCE = SHOP.kerf_mm / 2 + SHOP.saw_error_mm + SHOP.clean_up_mm
GRIND_ALL = replace(SHOP, most_cuts=0)
X, Y, Z = np.eye(3)


def division(placements, fork=None):
    """The stones with the fork told, or the one that parts them."""
    stones = tuple(Laid(0, None, placement) for placement in placements)
    corners = [placement.mesh().vertices for placement in placements]
    return Division(stones, part(corners, 2 * ALLOWANCE).fork if fork is None else fork)


def row(*places, width=4.0):
    """Blocks 1.5 × 1 × 0.5 widths at places along x."""
    return [laid(block(), width, at=(x, 0.0, 0.0)) for x in places]


def checked(rough, placements, plan, shop=SHOP):
    """The audit's own checks of the tree, the weights, the planes and the stones' places."""
    stones = [placement.mesh() for placement in placements]
    pieces_form_a_tree(plan, len(stones))
    solids = piece_solids(plan, as_solid(rough.mesh), rough.mesh)
    pieces_add_up(plan, solids)
    if plan.cuts:
        cuts_clear_stones(plan, stones, shop)
    stones_lie_in_their_pieces(plan, stones, solids)


def test_one_stone_is_sawn_as_ever():
    rough = rough_of(shapes.box((30.0, 7.0, 4.0)))
    (stone,) = row(-10.0, width=6.0)
    plan, warnings = saw_plan_of(rough, division([stone], 0), SHOP)
    alone, said = saw_plan(rough, stone, SHOP)
    assert [cut.reason for cut in plan.cuts] == [cut.reason for cut in alone.cuts]
    assert [cut.plane.offset for cut in plan.cuts] == [cut.plane.offset for cut in alone.cuts]
    assert (plan.stone_pieces, warnings) == (alone.stone_pieces, said)


def test_three_stones_in_a_bar_are_parted_by_two_square_cuts():
    rough, stones = rough_of(shapes.box((23.0, 5.0, 3.0))), row(-7.5, 0.0, 7.5)
    plan, warnings = saw_plan_of(rough, division(stones), SHOP)
    assert len(plan.cuts) == 2
    for cut in plan.cuts:
        assert abs(cut.plane.normal[0]) == pytest.approx(1.0)
        assert abs(cut.plane.offset) == pytest.approx(3.75)  # in the middle of the gap
        assert cut.depth_mm == pytest.approx(3.0)
    assert len(set(plan.stone_pieces)) == 3
    assert warnings == ()
    left = sum(solid_volume(plan.pieces[i].mesh) for i in leaves(plan))
    assert left == pytest.approx((23.0 - 0.8) * 15.0, rel=1e-9)
    assert plan.cuts[0].reason.startswith("Parts stone")
    checked(rough, stones, plan)


def test_what_lies_between_two_stones_far_apart_stays_in_one_lump():
    rough, stones = rough_of(shapes.box((40.0, 5.0, 3.0))), row(-16.5, 16.5)
    plan, _ = saw_plan_of(rough, division(stones), SHOP)
    assert len(plan.cuts) == 2
    (offcut,) = plan.offcuts
    inner = 16.5 - 3.0 - ALLOWANCE - SHOP.kerf_mm / 2  # both kerfs lie at their stones' allowance
    assert offcut.volume_mm3 == pytest.approx(2 * inner * 15.0, rel=1e-5)
    checked(rough, stones, plan)


def test_a_cut_runs_along_a_flat_an_earlier_cut_or_a_table_where_the_gap_lets():
    flat = ReferenceFace("base", Plane(-Y, 10.0))
    rough = rough_of(shapes.box((30.0, 20.0, 3.0)), faces=[flat])
    stones = [laid(block(), 4.0, at=(x, y, 0.0)) for x in (-8.0, 8.0) for y in (-5.0, 5.0)]
    slanted = Fork(Plane.through(np.zeros(3), Y + 0.1 * X), Fork(Plane(X, 0.5), 0, 2), 3)
    slanted = replace(slanted, above=Fork(Plane.through(np.zeros(3), X + 0.1 * Y), 1, 3))
    plan, _ = saw_plan_of(rough, division(stones, slanted), GRIND_ALL)
    assert abs(plan.cuts[0].plane.normal @ Y) == pytest.approx(1.0)
    assert "parallel to the rough's base" in plan.cuts[0].reason
    assert abs(plan.cuts[2].plane.normal @ plan.cuts[1].plane.normal) == pytest.approx(1.0)
    assert "parallel to cut 2" in plan.cuts[2].reason


def test_parallel_cuts_follow_one_another():
    rough = rough_of(shapes.box((44.0, 12.0, 3.0)))
    stones = [laid(block(), 4.0, at=(x, y, 0)) for x in (-16, -5, 5, 16) for y in (-3, 3)]
    plan, _ = saw_plan_of(rough, division(stones), GRIND_ALL)
    assert len(plan.cuts) == 7
    along = [int(np.argmax(np.abs(cut.plane.normal))) for cut in plan.cuts]
    assert sum(a != b for a, b in pairwise(along)) == 1
    checked(rough, stones, plan)


def test_stones_that_fall_apart_by_themselves_need_no_cut_between_them():
    solid = as_solid(shapes.box((30.0, 10.0, 4.0)))  # two towers on a base, a stone in each
    for x in (-10.0, 10.0):
        solid += as_solid(shapes.box((9.0, 10.0, 8.0))).translate((x, 0, 5.0))
    rough = rough_of(as_mesh(solid))
    stones = [laid(block(), 4.0, at=at) for at in ((-10.0, 0, 7.0), (10.0, 0, 7.0), (0, 0, 0))]
    fork = Fork(Plane(Z, 3.5), 2, Fork(Plane(X, 0.0), 0, 1))
    plan, warnings = saw_plan_of(rough, division(stones, fork), GRIND_ALL)
    assert len(plan.cuts) == 1
    assert len(set(plan.stone_pieces)) == 3
    assert any("2 on the other" in warning for warning in warnings)
    checked(rough, stones, plan)


def test_caps_come_off_each_stones_piece():
    rough, stones = rough_of(shapes.box((30.0, 14.0, 3.0))), row(-4.0, 4.0)
    plan, _ = saw_plan_of(rough, division(stones), SHOP)
    assert "Parts" in plan.cuts[0].reason
    assert len(plan.cuts) > 3
    assert all("Parts" not in cut.reason for cut in plan.cuts[1:])
    checked(rough, stones, plan)


def test_stones_the_saw_does_not_reach_between_are_refused_in_words():
    rough, stones = rough_of(shapes.box((23.0, 20.0, 20.0))), row(-7.5, 7.5)
    with pytest.raises(OutOfReachError, match=r"stone 1 .* stone 2.* 20.0 mm .* reaches 19 mm"):
        saw_plan_of(rough, division(stones), replace(SHOP, saw_reach_mm=19.0))


def test_stopped_only_the_cuts_between_the_stones_are_left():
    rough, stones = rough_of(shapes.box((30.0, 14.0, 3.0))), row(-4.0, 4.0)
    plan, warnings = saw_plan_of(rough, division(stones), SHOP, stop=lambda: True)
    assert len(plan.cuts) == 1
    assert any("Stopped before the caps" in warning for warning in warnings)
    checked(rough, stones, plan)


@given(st.integers(0, 1000))
@settings(max_examples=4)
def test_any_stones_in_a_pebble_are_freed(seed):
    rng = np.random.default_rng(seed)
    rough = rough_of(shapes.pebble(seed, radius=14.0, subdivisions=3))
    stones = []
    while len(stones) < 3:
        turn = shapes.random_rotation(rng)
        stones.append(laid(block(), 3.0, rng.uniform(-6, 6, 3), turn))
        if part([one.mesh().vertices for one in stones], 2 * ALLOWANCE).fork is None:
            stones.pop()
    shop = replace(SHOP, most_cuts=1, saw_reach_mm=60.0)
    plan, _ = saw_plan_of(rough, division(stones), shop)
    checked(rough, stones, plan, shop)
    kerfs = sum(kerf_volume(plan, k) for k in range(len(plan.cuts)))
    left = sum(solid_volume(plan.pieces[i].mesh) for i in leaves(plan))
    assert left + kerfs == pytest.approx(rough.volume_mm3, rel=1e-9)
