"""The dopping flat and the dop, in closed form."""

from dataclasses import replace

import handmade_plans
import numpy as np
import pytest
import shapes
from handmade_plans import body_of, six_sided_body
from hypothesis import given, settings
from hypothesis import strategies as st
from placed_stones import box_body, moved_placement, moved_rough, placement_of, rough_of

from optimizer.guidance.flat import _flat_text, choose_dop, dop_warnings, dopping_flat
from optimizer.mesh import Plane
from optimizer.order import Workshop
from optimizer.sawing import saw_plan
from optimizer.solid import as_solid

SHOP = Workshop()
SCAN_ERROR = 0.05
GRIND_ALL = replace(SHOP, most_cuts=0)


def flat_of(rough, stone, shop=SHOP):
    plan, _ = saw_plan(rough, stone, shop)
    piece = as_solid(plan.pieces[plan.stone_pieces[0]].mesh)
    return plan, dopping_flat(stone, plan, plan.stone_pieces[0], piece, shop, SCAN_ERROR)


def test_a_flat_to_be_ground_lies_its_allowances_above_the_table():
    # a block 9 × 6 × 3 low in a box 10 × 7 × 5: 1.5 mm of rough above the table
    plan, flat = flat_of(
        rough_of(shapes.box((10, 7, 5))), placement_of(box_body(), 6.0, (0, 0, -0.5))
    )
    assert plan.cuts == ()
    assert flat.sawn_by is None
    assert flat.above_table_mm == pytest.approx(SHOP.clean_up_mm + SCAN_ERROR)
    assert flat.plane.offset == pytest.approx(1.0 + 0.25)
    assert flat.plane.normal == pytest.approx([0, 0, 1.0])
    assert flat.depth_to_grind_mm == pytest.approx(2.5 - 1.25)
    assert flat.area_mm2 == pytest.approx(70.0, abs=1e-6)
    assert flat.circle_mm == pytest.approx(7.0, abs=1e-6)
    assert flat.centre == pytest.approx([0, 0, 1.25])
    assert "1.2 mm off" in flat.text or "1.3 mm off" in flat.text


def test_a_cut_parallel_to_the_table_leaves_the_flat():
    plan, flat = flat_of(
        rough_of(shapes.box((10, 7, 20))), placement_of(box_body(), 6.0, (0, 0, -8.0))
    )
    assert flat.sawn_by == 0
    assert plan.cuts[0].plane.normal == pytest.approx([0, 0, 1.0])
    assert flat.above_table_mm == pytest.approx(SHOP.saw_error_mm + SHOP.clean_up_mm, abs=2e-6)
    assert flat.depth_to_grind_mm == 0.0
    assert flat.area_mm2 == pytest.approx(70.0, abs=1e-6)
    assert flat.text.startswith("Cut 1 leaves the dopping flat, 0.50 mm")


@pytest.mark.parametrize(("lean", "sawn"), [(5e-7, True), (5e-5, False)])
def test_a_face_that_leans_by_next_to_nothing_is_the_flat_where_the_axis_meets_it(lean, sawn):
    """A parting cut is as parallel to a table as the search has turned the stone."""
    rough, stone = (
        rough_of(shapes.box((100, 100, 20))),
        placement_of(box_body(), 6.0, (40.0, 0.0, -8.0)),
    )
    normal = np.array([np.sin(lean), 0.0, np.cos(lean)])
    plan = handmade_plans.sequential_saw_plan(rough, (Plane(normal, 0.0),))
    home = plan.cuts[0].below[0]
    piece = as_solid(next(one.mesh for one in plan.pieces if one.id == home))
    flat = dopping_flat(stone, plan, home, piece, SHOP, SCAN_ERROR)
    assert flat.sawn_by == (0 if sawn else None)
    if sawn:
        assert flat.plane.offset == pytest.approx(-0.2 - 40.0 * lean, abs=1e-9)
        assert flat.circle_mm == pytest.approx(20.0, abs=1e-3)


def test_the_circle_is_about_the_axis():
    rough = rough_of(shapes.box((14, 9, 5)))
    _, flat = flat_of(rough, placement_of(box_body(), 6.0, (1.5, 0.7, -0.5)), GRIND_ALL)
    assert flat.circle_mm == pytest.approx(2 * (4.5 - 0.7), abs=1e-6)
    assert flat.centre == pytest.approx([1.5, 0.7, 1.25])


def test_a_hole_in_the_flat_bounds_the_circle():
    outer, bubble = (
        shapes.box((12, 9, 6)),
        shapes.moved(shapes.box((1.0, 1.0, 1.0)), np.eye(3), np.array([4.0, 0, 1.6])),
    )
    rough, stone = (
        rough_of(shapes.hollow(outer, bubble)),
        placement_of(box_body(), 4.0, (-1.0, 0, 0.2)),
    )
    _, flat = flat_of(rough, stone, GRIND_ALL)
    level = 0.2 + 1.0 + 0.25
    assert flat.plane.offset == pytest.approx(level)
    assert flat.area_mm2 == pytest.approx(12 * 9 - 1.0, abs=1e-6)
    assert flat.circle_mm == pytest.approx(min(2 * (3.5 + 1.0), 9.0), abs=1e-6)


@pytest.fixture(scope="module")
def in_a_pebble():
    rough, stone = (
        rough_of(shapes.pebble(2, 9.0, subdivisions=2)),
        placement_of(six_sided_body(), 5.0),
    )
    return rough, stone, flat_of(rough, stone)[1]


@settings(max_examples=3)
@given(st.integers(0, 10_000))
def test_the_flat_holds_the_table_wherever_the_piece_lies(in_a_pebble, seed):
    rough, stone, here = in_a_pebble
    turn, shift = shapes.random_motion(np.random.default_rng(seed))
    there = flat_of(moved_rough(rough, turn, shift), moved_placement(stone, turn, shift))[1]
    assert there.plane.normal == pytest.approx(turn @ here.plane.normal)
    assert there.centre == pytest.approx(shift + turn @ here.centre, abs=1e-6)
    assert there.area_mm2 == pytest.approx(here.area_mm2, abs=1e-4)
    assert there.circle_mm == pytest.approx(here.circle_mm, abs=1e-4)
    table_circle = 2 * 0.6 * 0.5 * 5.0 * 0.99  # the table is the outline 0.6 times; its half width
    assert here.circle_mm >= table_circle


def test_a_dop_is_half_to_three_quarters_of_the_width():
    rough, stone = rough_of(shapes.box((10, 7, 5))), placement_of(box_body(), 6.0, (0, 0, -0.5))
    dop = choose_dop(stone, flat_of(rough, stone)[1])
    assert (dop.least_mm, dop.most_mm) == pytest.approx((3.0, 4.5))
    assert "3.0 to 4.5 mm" in dop.text
    assert "only" not in dop.text


def test_a_dop_stays_inside_an_outline_that_is_narrow_about_the_axis():
    triangle = np.array([[1.0, 0], [-0.3, 0.5], [-0.3, -0.5]])
    body = body_of(np.array([[x, y, z] for x, y in triangle for z in (-0.2, 0.2)]), 0.4)
    stone = placement_of(body, 10.0)
    nearest = min(np.array(body.offsets)[np.abs(body.normals[:, 2]) < 1e-6]) * 10.0
    dop = choose_dop(stone, flat_of(rough_of(shapes.box((30, 30, 8))), stone)[1])
    assert dop.most_mm == pytest.approx(min(7.5, 2 * nearest), abs=1e-9)
    assert dop.most_mm / 2 <= nearest + 1e-12


@pytest.mark.parametrize(
    ("aside", "least", "most", "said"),
    [
        (1.0, 3.0, 4.5, "3.0 to 4.5 mm"),  # the flat holds a circle of 7 mm: nothing to say
        (3.0, 3.0, 4.0, "No larger: the flat holds a circle of 4.0 mm"),
        (4.0, 2.0, 2.0, "only 2.0 mm"),
        (4.2, 1.6, 1.6, "No dop on this flat will hold the stone: the flat takes one of 1.6 mm"),
        (5.5, 0.0, 0.0, "which the stone's axis misses"),
    ],
)
def test_a_dop_is_no_larger_than_the_flat_about_the_axis(aside, least, most, said):
    rough, stone = rough_of(shapes.box((10, 7, 5))), placement_of(box_body(), 6.0, (aside, 0, -0.5))
    dop = choose_dop(stone, flat_of(rough, stone, GRIND_ALL)[1])
    assert (dop.least_mm, dop.most_mm) == pytest.approx((least, most), abs=1e-6)
    assert said in dop.text
    assert dop_warnings(stone, dop) == ((dop.text,) if most < 0.3 * 6.0 else ())
    assert ("No larger" in dop.text) == (aside == 3.0)


@pytest.mark.parametrize(("tip", "sawn"), [(2.2, False), (9.0, True)])
def test_a_sawn_face_too_narrow_for_a_dop_is_ground_down_to_one_that_holds(tip, sawn):
    """A pyramid sawn off above the stone, where it is 2.2 mm wide or 9: the stone is 20 mm wide."""
    apex = np.array([[x, y, -20.0] for x in (-30.0, 30.0) for y in (-30.0, 30.0)] + [[0, 0, 40.0]])
    rough, stone = rough_of(shapes.hull(apex)), placement_of(box_body(), 20.0)
    level = 40.0 - tip  # the pyramid is as wide as it is far below its tip
    plan = handmade_plans.sequential_saw_plan(
        rough, (Plane(np.array([0.0, 0.0, 1.0]), level + 0.2),)
    )
    home = plan.cuts[0].below[0]
    flat = dopping_flat(stone, plan, home, as_solid(plan.pieces[home].mesh), SHOP, SCAN_ERROR)
    dop = choose_dop(stone, flat)
    assert (flat.sawn_by is not None) == sawn
    if sawn:
        assert "weaker than usual" in dop.text
        assert flat.circle_mm == pytest.approx(tip, abs=1e-3)
    else:
        assert flat.depth_to_grind_mm == pytest.approx(level - flat.plane.offset, abs=1e-6)
        assert flat.circle_mm == pytest.approx(40.0 - flat.plane.offset, abs=1e-3)
        assert dop.text.startswith("Take a dop 10.0 to 15.0 mm across")


def test_nothing_is_ground_where_nothing_is_to_be_ground() -> None:
    assert "nothing to grind" in _flat_text(None, 0.25, "table", 0.049)
    assert _flat_text(None, 0.25, "table", 0.051).startswith("Grind 0.1 mm")


def test_a_stone_without_a_table_has_its_flat_above_its_top() -> None:
    assert _flat_text(0, 0.25, "stone's top", 0.0).endswith("0.25 mm above the stone's top.")
