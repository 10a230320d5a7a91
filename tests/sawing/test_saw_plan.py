"""The saw plan: closed forms, and what must hold for every piece and every stone in it."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import shapes
from handmade_plans import six_sided_body
from hypothesis import given, settings
from hypothesis import strategies as st
from placed_stones import (
    box_body,
    kerf_volume,
    leaf_ids,
    moved_placement,
    moved_rough,
    placement_of,
    rough_of,
    solid_volume,
)

from optimizer.mesh import Plane
from optimizer.order import Workshop
from optimizer.sawing import saw_plan
from optimizer.sawing.piece_tree import contains_point, cut_centre
from optimizer.solid import as_mesh, as_solid

SEEDS = st.integers(0, 10_000)
SHOP = Workshop()
ALLOWANCE = SHOP.kerf_mm / 2 + SHOP.saw_error_mm + SHOP.clean_up_mm
PER_CT = 200.0 / 2.65  # mm³ a carat


HOLLOW = shapes.hollow(
    shapes.box((12.0, 9.0, 6.0)),
    shapes.moved(shapes.box((1.0, 2.0, 1.0)), np.eye(3), np.array([4.0, 1.0, 1.6])),
)


@pytest.fixture(scope="module")
def bar():
    """A bar 30 × 7 × 4 with a block of 9 × 6 × 3 at its -x end, nothing else worth sawing."""
    rough = rough_of(shapes.box((30.0, 7.0, 4.0)))
    stone = placement_of(box_body(), 6.0, at=(-10.0, 0.0, 0.0))
    plan, warnings = saw_plan(rough, stone, SHOP)
    return plan, warnings


def test_the_free_end_of_a_bar_is_sawn_off_square(bar):
    plan, warnings = bar
    (cut,) = plan.cuts
    assert cut.plane.normal == pytest.approx([1.0, 0, 0], abs=1e-12)
    assert cut.plane.offset == pytest.approx(-10.0 + 4.5 + ALLOWANCE, abs=2e-6)
    assert cut.depth_mm == pytest.approx(4.0)
    assert cut.kerf_mm == SHOP.kerf_mm
    assert warnings == ()


def test_the_free_end_of_a_bar_weighs_what_it_should(bar):
    plan, _ = bar
    (offcut,) = plan.offcuts
    face = -10.0 + 4.5 + ALLOWANCE + SHOP.kerf_mm / 2
    assert offcut.volume_mm3 == pytest.approx((15.0 - face) * 28.0, rel=1e-6)
    assert offcut.carat == pytest.approx(offcut.volume_mm3 / PER_CT, rel=1e-12)
    assert "square to the length" in plan.cuts[0].reason
    assert f"{offcut.carat:.1f} ct" in plan.cuts[0].reason


def test_the_tree_of_one_cut(bar):
    plan, _ = bar
    assert [(p.id, p.from_cut, p.side) for p in plan.pieces] == [
        (0, None, None),
        (1, 0, "below"),
        (2, 0, "above"),
    ]
    assert (plan.cuts[0].piece, plan.cuts[0].below, plan.cuts[0].above) == (0, (1,), (2,))
    assert plan.stone_pieces == (1,)


def test_a_stone_that_fills_its_rough_needs_no_saw():
    plan, warnings = saw_plan(
        rough_of(shapes.box((9.8, 6.8, 3.8))), placement_of(box_body(), 6.0), SHOP
    )
    assert (plan.cuts, plan.offcuts, plan.stone_pieces, warnings) == ((), (), (0,), ())


def test_a_thin_light_cap_is_ground():
    rough, stone = (
        rough_of(shapes.box((20.0, 7.0, 4.0))),
        placement_of(box_body(), 6.0, at=(-5.0, 0, 0)),
    )
    thick = 10.0 - (-5.0 + 4.5 + ALLOWANCE - SHOP.kerf_mm / 2)  # beyond the kerf's near face
    carat = (thick - SHOP.kerf_mm) * 28.0 / PER_CT
    for grind, keep, cuts in [(thick + 0.1, carat + 0.1, 0), (thick - 0.1, carat + 0.1, 1)]:
        shop = replace(SHOP, grind_mm=grind, keep_offcut_ct=keep)
        plan, _ = saw_plan(rough, stone, shop)
        assert len(plan.cuts) == cuts
        assert plan.offcuts == ()
    plan, _ = saw_plan(rough, stone, replace(SHOP, grind_mm=100.0, keep_offcut_ct=carat - 0.1))
    assert [o.carat for o in plan.offcuts] == [pytest.approx(carat, rel=1e-5)]


def test_waste_stays_among_the_pieces():
    rough, stone = (
        rough_of(shapes.box((20.0, 7.0, 4.0))),
        placement_of(box_body(), 6.0, at=(-5.0, 0, 0)),
    )
    plan, _ = saw_plan(rough, stone, replace(SHOP, keep_offcut_ct=50.0))
    assert len(plan.cuts) == 1
    assert plan.offcuts == ()
    assert len(plan.pieces) == 3
    assert "waste" in plan.cuts[0].reason


def test_the_cut_on_the_table_side_comes_first():
    rough = rough_of(shapes.box((40.0, 7.0, 20.0)))
    plan, _ = saw_plan(rough, placement_of(box_body(), 6.0, at=(-14.0, 0, -7.5)), SHOP)
    assert plan.cuts[0].plane.normal == pytest.approx([0, 0, 1.0], abs=1e-12)
    assert plan.cuts[0].plane.offset == pytest.approx(-7.5 + 1.5 + ALLOWANCE, abs=2e-6)


def test_a_cut_beyond_the_saws_reach_is_not_made_and_said():
    rough = rough_of(shapes.box((60.0, 12.0, 12.0)))
    stone = placement_of(box_body(), 6.0, at=(-20.0, 0.0, 0.0))
    plan, warnings = saw_plan(rough, stone, replace(SHOP, saw_reach_mm=5.0))
    assert all(cut.depth_mm <= 5.0 for cut in plan.cuts)
    assert any("reach" in warning for warning in warnings)


def test_a_ball_too_thick_for_the_saw_is_worked_down_from_outside():
    rough, stone = rough_of(shapes.icosphere(14.0)), placement_of(box_body(), 5.0)
    shop = replace(SHOP, saw_reach_mm=24.0)
    plan, _ = saw_plan(rough, stone, shop)
    assert len(plan.cuts) == shop.most_cuts
    assert all(cut.depth_mm <= 24.0 for cut in plan.cuts)
    # square cuts at the stone would be 28 mm wide, nearly the whole ball
    assert "farther out for the saw's reach" in plan.cuts[0].reason
    corners = stone.mesh().vertices
    for cut in plan.cuts:
        assert cut.plane.offset - (corners @ cut.plane.normal).max() >= ALLOWANCE
    assert sum(o.carat for o in plan.offcuts) > 0.5 * rough.carat


def test_the_number_of_cuts_is_kept_and_what_is_left_is_said():
    rough, stone = rough_of(shapes.icosphere(14.0)), placement_of(box_body(), 5.0)
    plan, warnings = saw_plan(rough, stone, replace(SHOP, most_cuts=2))
    assert len(plan.cuts) == 2
    assert any("only 2 cuts" in warning for warning in warnings)
    assert saw_plan(rough, stone, replace(SHOP, most_cuts=0))[0].cuts == ()


def test_two_horns_come_off_with_one_cut():
    solid = as_solid(shapes.box((30.0, 10.0, 6.0)))
    for x in (-11.0, 11.0):
        solid += as_solid(shapes.box((8.0, 10.0, 16.0))).translate((x, 0, 5.0))
    rough = rough_of(as_mesh(solid))
    stone = placement_of(box_body(), 4.4, at=(0.0, 0.0, 1.3))
    plan, warnings = saw_plan(rough, stone, SHOP)
    face = 1.3 + 1.1 + ALLOWANCE + SHOP.kerf_mm / 2
    assert len(plan.cuts[0].above) == 2
    horns = [o.volume_mm3 for o in plan.offcuts if o.piece in plan.cuts[0].above]
    assert horns == pytest.approx([80.0 * (13.0 - face)] * 2, rel=1e-6)
    assert "Cut 1 leaves 1 lump on the stone's side and 2" in warnings[0]


PIECES = {
    "pebble": shapes.pebble(2, radius=9.0, subdivisions=3),
    "crystal": shapes.crystal(1, length=26.0, width=13.0, subdivisions=3),
    "slab": shapes.slab(5, length=26.0, thickness=8.0, subdivisions=3),
    "dented": shapes.dented(4, radius=10.0, subdivisions=3),
}


def test_crumbs_that_count_as_one_piece_are_no_offcut():
    """A horn worth keeping and twelve of 0.04 ct come off with one cut: together they weigh enough,
    but nothing can be planned in them."""
    solid = as_solid(shapes.box((24.0, 14.0, 8.0)))
    solid += as_solid(shapes.box((8.0, 4.0, 8.0))).translate((0.0, 0.0, 6.0))
    for x in (-9.0, -7.0, 7.0, 9.0):
        for y in (-5.0, 0.0, 5.0):
            solid += as_solid(shapes.box((0.8, 0.8, 8.0))).translate((x, y, 6.0))
    stone = placement_of(box_body(), 12.0, at=(0.0, 0.0, 0.3))
    plan, _ = saw_plan(rough_of(as_mesh(solid)), stone, replace(SHOP, keep_offcut_ct=0.3))
    loose = [p for p in plan.pieces if len(as_solid(p.mesh).decompose()) > 1]
    assert len(loose) == 1
    assert solid_volume(loose[0].mesh) > 0.3 * PER_CT
    assert loose[0].id not in [offcut.piece for offcut in plan.offcuts]
    assert plan.offcuts


def assert_plan_holds(rough, stone, plan, shop):
    """Everything that must hold for any saw plan of one stone."""
    corners = stone.mesh().vertices
    allowance = shop.kerf_mm / 2 + shop.saw_error_mm + shop.clean_up_mm
    for number, cut in enumerate(plan.cuts):
        gap = cut.plane.offset - (corners @ cut.plane.normal).max()
        assert allowance <= gap <= allowance + 1e-5
        assert cut.depth_mm <= shop.saw_reach_mm
        for side, ids in (("below", cut.below), ("above", cut.above)):
            assert ids
            assert all(
                (plan.pieces[i].from_cut, plan.pieces[i].side) == (number, side) for i in ids
            )
        off = max(solid_volume(plan.pieces[i].mesh) for i in cut.above) / PER_CT
        near = cut.plane.offset - shop.kerf_mm / 2
        rise = (plan.pieces[cut.piece].mesh.vertices @ cut.plane.normal).max() - near
        assert off >= shop.keep_offcut_ct or rise > shop.grind_mm
    assert len(plan.cuts) <= shop.most_cuts
    assert_partition(rough, plan)
    assert_stone_inside(stone, plan)
    kept = {o.piece for o in plan.offcuts}
    for i in set(leaf_ids(plan)) - set(plan.stone_pieces):
        carat = solid_volume(plan.pieces[i].mesh) / PER_CT
        assert (i in kept) == (carat >= shop.keep_offcut_ct)


def assert_partition(rough, plan):
    """Leaves and kerfs fill the rough, every piece but the rough comes off one side of a cut."""
    assert [p.id for p in plan.pieces] == list(range(len(plan.pieces)))
    made = [i for cut in plan.cuts for i in (*cut.below, *cut.above)]
    assert sorted(made) == list(range(1, len(plan.pieces)))
    filled = sum(solid_volume(plan.pieces[i].mesh) for i in leaf_ids(plan))
    filled += sum(kerf_volume(plan, i) for i in range(len(plan.cuts)))
    assert filled == pytest.approx(rough.volume_mm3, rel=1e-6)


def assert_stone_inside(stone, plan):
    (home,) = plan.stone_pieces
    assert home in leaf_ids(plan)
    whole, piece = as_solid(stone.mesh()), as_solid(plan.pieces[home].mesh)
    assert (whole - piece).volume() <= 1e-9 * whole.volume()


@settings(max_examples=8)
@given(st.sampled_from(sorted(PIECES)), SEEDS, st.floats(2.0, 4.5), st.integers(0, 6))
def test_every_plan_holds(kind, seed, width, most_cuts):
    rng = np.random.default_rng(seed)
    rough = rough_of(PIECES[kind])
    stone = placement_of(
        six_sided_body(), width, rng.uniform(-0.5, 0.5, 3), shapes.random_rotation(rng)
    )
    if (as_solid(stone.mesh()) - as_solid(rough.mesh)).volume() > 0:
        return
    shop = replace(SHOP, most_cuts=most_cuts, keep_offcut_ct=float(rng.uniform(0.5, 4.0)))
    plan, _ = saw_plan(rough, stone, shop)
    assert_plan_holds(rough, stone, plan, shop)


def test_a_kerf_of_nothing_loses_nothing():
    rough, stone = rough_of(PIECES["pebble"]), placement_of(six_sided_body(), 4.0)
    shop = replace(SHOP, kerf_mm=0.0)
    plan, _ = saw_plan(rough, stone, shop)
    assert plan.cuts
    assert_plan_holds(rough, stone, plan, shop)


ASIDE = (0.3, -0.2, 0.1)


@cache
def unmoved(kind):
    return saw_plan(rough_of(PIECES[kind]), placement_of(six_sided_body(), 4.0, ASIDE), SHOP)


@settings(max_examples=2)
@given(SEEDS, st.sampled_from(["pebble", "crystal"]))
def test_the_plan_moves_with_rough_and_stone(seed, kind):
    rough, stone = rough_of(PIECES[kind]), placement_of(six_sided_body(), 4.0, ASIDE)
    turn, shift = shapes.random_motion(np.random.default_rng(seed))
    here, _ = unmoved(kind)
    there, _ = saw_plan(moved_rough(rough, turn, shift), moved_placement(stone, turn, shift), SHOP)
    assert len(there.cuts) == len(here.cuts)
    for a, b in zip(here.cuts, there.cuts, strict=True):
        assert b.plane.normal == pytest.approx(turn @ a.plane.normal, abs=1e-8)
        assert b.plane.offset == pytest.approx(a.plane.offset + b.plane.normal @ shift, abs=1e-6)
        assert b.depth_mm == pytest.approx(a.depth_mm, abs=1e-6)
        assert b.reason == a.reason
    assert [o.carat for o in there.offcuts] == pytest.approx([o.carat for o in here.offcuts])


def test_the_same_input_gives_the_same_plan():
    rough, stone = rough_of(PIECES["pebble"]), placement_of(six_sided_body(), 4.0, ASIDE)
    first, second = unmoved("pebble"), saw_plan(rough, stone, SHOP)
    assert first[1] == second[1]
    for a, b in zip(first[0].cuts, second[0].cuts, strict=True):
        assert np.array_equal(a.plane.normal, b.plane.normal)
        assert a.plane.offset == b.plane.offset


@given(SEEDS)
@settings(max_examples=30)
def test_a_mesh_holds_the_points_inside_it(seed):
    rng = np.random.default_rng(seed)
    size = rng.uniform(2, 10, 3)
    point = rng.uniform(-8, 8, 3)
    assert contains_point(shapes.box(tuple(size)), point) == bool((np.abs(point) < size / 2).all())


@pytest.mark.parametrize("shift", [(0.0, 0.0, 0.0), (300.0, -200.0, 500.0)])
def test_a_cuts_centre_is_the_centroid_of_its_section(shift):
    # closed form: a 12 × 9 section less a hole of 1 × 2 about (4, 1)
    rough = shapes.moved(HOLLOW, np.eye(3), np.array(shift))
    plane = Plane(np.array([0.0, 0.0, 1.0]), 1.6 + shift[2])
    centre = cut_centre(as_solid(rough), plane) - shift
    assert centre == pytest.approx([-2 * 4.0 / 106.0, -2 * 1.0 / 106.0, 1.6], abs=1e-6)


def test_the_cut_of_a_bar_tells_its_own_centre(bar):
    (cut,) = bar[0].cuts
    assert cut.centre == pytest.approx([cut.plane.offset, 0.0, 0.0], abs=1e-6)
