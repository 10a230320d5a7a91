"""The saw plan of several stones: closed forms on bars and slabs, and what must always hold."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import shapes
from hypothesis import given, settings
from hypothesis import strategies as st
from placed_stones import box_body, kerf_volume, leaf_ids, placement_of, rough_of, solid_volume

from optimizer.audit.cuts import cuts_clear_stones
from optimizer.audit.pieces import piece_solids, pieces_add_up, stones_lie_in_their_pieces
from optimizer.audit.tree import pieces_form_a_tree
from optimizer.mesh import Plane
from optimizer.order import Workshop
from optimizer.rough.model import ReferenceFace
from optimizer.sawing import OutOfReachError, saw_plan, saw_plan_of
from optimizer.several.cut_tree import CutTree
from optimizer.several.model import Division, PlacedStone
from optimizer.several.separation import separate
from optimizer.solid import as_mesh, as_solid

SHOP = Workshop()
ALLOWANCE = SHOP.kerf_mm / 2 + SHOP.saw_error_mm + SHOP.clean_up_mm
GRIND_ALL = replace(SHOP, most_cuts=0)
X, Y, Z = np.eye(3)


def division(placements, cut_tree=None):
    """The stones with the cut tree given, or with one that separates them."""
    stones = tuple(PlacedStone(0, None, placement) for placement in placements)
    corners = [placement.mesh().vertices for placement in placements]
    return Division(
        stones, separate(corners, 2 * ALLOWANCE).cut_tree if cut_tree is None else cut_tree
    )


def row(*places, width=4.0):
    """Blocks 1.5 × 1 × 0.5 widths at places along x."""
    return [placement_of(box_body(), width, at=(x, 0.0, 0.0)) for x in places]


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
    left = sum(solid_volume(plan.pieces[i].mesh) for i in leaf_ids(plan))
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
    stones = [
        placement_of(box_body(), 4.0, at=(x, y, 0.0)) for x in (-8.0, 8.0) for y in (-5.0, 5.0)
    ]
    slanted = CutTree(Plane.through(np.zeros(3), Y + 0.1 * X), CutTree(Plane(X, 0.5), 0, 2), 3)
    slanted = replace(slanted, above=CutTree(Plane.through(np.zeros(3), X + 0.1 * Y), 1, 3))
    plan, _ = saw_plan_of(rough, division(stones, slanted), GRIND_ALL)
    assert abs(plan.cuts[0].plane.normal @ Y) == pytest.approx(1.0)
    assert "parallel to the rough's base" in plan.cuts[0].reason
    assert abs(plan.cuts[2].plane.normal @ plan.cuts[1].plane.normal) == pytest.approx(1.0)
    assert "parallel to cut 2" in plan.cuts[2].reason


def test_parallel_cuts_follow_one_another():
    rough = rough_of(shapes.box((44.0, 12.0, 3.0)))
    stones = [
        placement_of(box_body(), 4.0, at=(x, y, 0)) for x in (-16, -5, 5, 16) for y in (-3, 3)
    ]
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
    stones = [
        placement_of(box_body(), 4.0, at=at) for at in ((-10.0, 0, 7.0), (10.0, 0, 7.0), (0, 0, 0))
    ]
    cut_tree = CutTree(Plane(Z, 3.5), 2, CutTree(Plane(X, 0.0), 0, 1))
    plan, warnings = saw_plan_of(rough, division(stones, cut_tree), GRIND_ALL)
    assert len(plan.cuts) == 1
    assert len(set(plan.stone_pieces)) == 3
    assert any("2 on the other" in warning for warning in warnings)
    checked(rough, stones, plan)


def test_caps_come_off_each_stones_piece():
    rough, stones = rough_of(shapes.box((30.0, 14.0, 3.0))), row(-4.0, 4.0)
    plan, _ = saw_plan_of(rough, division(stones), SHOP)
    parting = [cut for cut in plan.cuts if "Parts" in cut.reason]
    assert len(parting) == 1
    assert len(plan.cuts) > 3
    checked(rough, stones, plan)


def test_stones_the_saw_does_not_reach_between_are_refused_in_words():
    rough, stones = rough_of(shapes.box((23.0, 10.0, 8.0))), row(-7.5, 7.5)
    shop = replace(GRIND_ALL, saw_reach_mm=3.9)
    words = r"stone 1 .* stone 2.* reach 8.0 mm .* reaches 3.9 mm"
    with pytest.raises(OutOfReachError, match=words):
        saw_plan_of(rough, division(stones), shop)
    with pytest.raises(OutOfReachError, match=r"reaches 7.8 mm"):
        saw_plan_of(rough, division(stones), replace(shop, two_sided=True))


@pytest.mark.parametrize(("saw", "sides", "deep"), [("blade", 2, 4.0), ("wire", 1, 8.0)])
def test_a_cut_beyond_the_reach_is_made_from_both_sides_or_by_wire(saw, sides, deep):
    rough, stones = rough_of(shapes.box((23.0, 10.0, 8.0))), row(-7.5, 7.5)
    shop = replace(GRIND_ALL, saw_reach_mm=4.1, two_sided=True, saw=saw)
    plan, _ = saw_plan_of(rough, division(stones), shop)
    assert [(cut.sides, cut.depth_mm) for cut in plan.cuts] == [(sides, pytest.approx(deep))]
    checked(rough, stones, plan, shop)


def test_caps_bring_the_stones_within_the_saws_reach():
    rough, stones = rough_of(shapes.box((23.0, 18.0, 18.0))), row(-7.5, 7.5)
    shop = replace(SHOP, saw_reach_mm=17.0)
    with pytest.raises(OutOfReachError, match=r"reach 18.0 mm"):
        saw_plan_of(rough, division(stones), replace(shop, most_cuts=0))
    plan, _ = saw_plan_of(rough, division(stones), shop)
    parting = next(k for k, cut in enumerate(plan.cuts) if "Parts" in cut.reason)
    assert parting > 0
    assert all(cut.depth_mm <= 17.0 for cut in plan.cuts)
    checked(rough, stones, plan, shop)


def test_a_large_rest_comes_off_before_the_stones_are_parted():
    rough = rough_of(shapes.box((40.0, 16.0, 3.0)))
    stones = [placement_of(box_body(), 4.0, at=(x, y, 0.0)) for x in (-16.0,) for y in (-4.0, 4.0)]
    plan, _ = saw_plan_of(rough, division(stones), SHOP)
    assert "Parts" not in plan.cuts[0].reason
    assert plan.cuts[0].plane.normal == pytest.approx(X, abs=1e-9)
    assert "Parts" in plan.cuts[1].reason
    assert len(plan.cuts) == 2
    (offcut,) = plan.offcuts
    face = -16.0 + 3.0 + ALLOWANCE + SHOP.kerf_mm / 2
    assert offcut.volume_mm3 == pytest.approx((20.0 - face) * 48.0, rel=1e-5)
    checked(rough, stones, plan)


@pytest.mark.parametrize(("reach", "before"), [(30.0, 1), (17.0, 2)])
def test_caps_before_the_parting_are_few_and_leave_cuts_to_the_stones(reach, before):
    rough = rough_of(shapes.box((40.0, 18.0, 22.0)))  # the stones lie in a corner
    stones = [placement_of(box_body(), 4.0, at=(x, 0.0, -9.0)) for x in (-16.0, -8.0)]
    shop = replace(SHOP, saw_reach_mm=reach, most_cuts=4)
    plan, _ = saw_plan_of(rough, division(stones), shop)
    parting = next(k for k, cut in enumerate(plan.cuts) if "Parts" in cut.reason)
    assert parting == before
    alone = [cut for cut in plan.cuts[parting + 1 :] if "Keeps" in cut.reason]
    assert len(alone) >= 3
    checked(rough, stones, plan, shop)


def test_how_each_piece_is_set_for_its_cut():
    flat = ReferenceFace("base", Plane(-Y, 10.0))
    rough = rough_of(shapes.box((30.0, 20.0, 3.0)), faces=[flat])
    stones = [
        placement_of(box_body(), 4.0, at=(x, y, 0.0)) for x in (-8.0, 8.0) for y in (-5.0, 5.0)
    ]
    cut_tree = CutTree(Plane(Y, 0.0), CutTree(Plane(X, 0.0), 0, 2), CutTree(Plane(X, 0.0), 1, 3))
    plan, _ = saw_plan_of(rough, division(stones, cut_tree), GRIND_ALL)
    first, second, third = (cut.setting for cut in plan.cuts)
    assert (first.face, first.square, first.last) == ("face base", False, None)
    at = float(plan.cuts[0].plane.normal @ Y) * plan.cuts[0].plane.offset
    assert first.face_mm == pytest.approx(at + 10.0 - SHOP.kerf_mm / 2)
    for one in (second, third):
        assert (one.face, one.square, one.face_mm) == ("the sawn face of cut 1", True, None)
        assert (one.last, one.last_deg) == ("the sawn face of cut 1", pytest.approx(90.0))


def test_a_piece_too_short_to_hold_is_said():
    rough, stones = rough_of(shapes.box((23.0, 5.0, 3.0))), row(-7.5, 7.5)
    _, warnings = saw_plan_of(rough, division(stones), replace(GRIND_ALL, hold_mm=24.0))
    (warning,) = warnings
    assert "Piece 0 is only 23.7 mm long" in warning
    assert saw_plan_of(rough, division(stones), replace(GRIND_ALL, hold_mm=23.7))[1] == ()


def test_stopped_only_the_cuts_between_the_stones_are_left():
    rough, stones = rough_of(shapes.box((30.0, 14.0, 3.0))), row(-4.0, 4.0)
    plan, warnings = saw_plan_of(rough, division(stones), SHOP, stop=lambda: True)
    assert len(plan.cuts) == 1
    assert any("Stopped before the caps" in warning for warning in warnings)
    checked(rough, stones, plan)


@given(st.integers(0, 1000))
@settings(max_examples=2)
def test_any_stones_in_a_pebble_are_freed(seed):
    rng = np.random.default_rng(seed)
    rough = rough_of(shapes.pebble(seed, radius=14.0, subdivisions=3))
    stones = []
    while len(stones) < 3:
        turn = shapes.random_rotation(rng)
        stones.append(placement_of(box_body(), 3.0, rng.uniform(-6, 6, 3), turn))
        if separate([one.mesh().vertices for one in stones], 2 * ALLOWANCE).cut_tree is None:
            stones.pop()
    shop = replace(SHOP, most_cuts=1, saw_reach_mm=60.0)
    plan, _ = saw_plan_of(rough, division(stones), shop)
    checked(rough, stones, plan, shop)
    kerfs = sum(kerf_volume(plan, k) for k in range(len(plan.cuts)))
    left = sum(solid_volume(plan.pieces[i].mesh) for i in leaf_ids(plan))
    assert left + kerfs == pytest.approx(rough.volume_mm3, rel=1e-9)
