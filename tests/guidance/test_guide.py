"""The whole guidance of one stone of the library in one piece."""

import numpy as np
import pytest
import shapes
from handmade_plans import six_sided_body
from placed_stones import box_body, placement_of, rough_of, solid_volume

from optimizer.design import build_body, load_design, tiers
from optimizer.guidance import guide, guide_saw, weight_ladder
from optimizer.guidance.model import SawGuide
from optimizer.mesh import Plane
from optimizer.order import Order, Workshop, ZoneDemand
from optimizer.rough.model import Colour, Zone
from optimizer.sawing import saw_plan
from optimizer.trade.materials import cautions_for

SHOP = Workshop()
SPLIT = Zone(
    "split", Plane(np.array([1.0, 0, 0]), 0.5), Colour("smoke", "#554433"), Colour("clear", "#fff")
)


@pytest.fixture(scope="module")
def job():
    design = load_design("long-hexagon")
    rough = rough_of(shapes.crystal(1, length=26.0, width=13.0, subdivisions=3), zones=[SPLIT])
    stone = placement_of(build_body(design, least_girdle_mm=0.2), 5.0, turn=np.eye(3)[[1, 2, 0]])
    plan, _ = saw_plan(rough, stone, SHOP)
    order = Order(zone=ZoneDemand("split", "clear"))
    return design, rough, stone, plan, guide(rough, design, {}, stone, plan, order)


def test_every_part_is_there(job):
    design, rough, stone, plan, told = job
    guided = guide_saw(rough, plan, stone.pose.rotation[:, 0])
    assert len(guided.distances) == len(plan.cuts) > 0
    assert guided.marks == ()  # the crystal's corners are all alike
    assert told.marks
    assert told.gear == design.gear
    assert told.cautions == cautions_for(rough.material)
    assert (told.zone.zone, told.zone.colour) == ("split", "clear")
    assert told.dop.most_mm < 5.0


def test_the_ladder_goes_down_to_the_stones_own_weight(job):
    _, rough, stone, plan, told = job
    names, carats = zip(*told.ladder, strict=True)
    assert names == ("rough", "sawn", "finished")
    home = plan.pieces[plan.stone_pieces[0]].mesh
    assert carats[0] == pytest.approx(rough.carat)
    assert carats[1] == pytest.approx(solid_volume(home) * 2.65 / 200)
    assert carats[2] == pytest.approx(solid_volume(stone.mesh()) * 2.65 / 200)
    assert carats[0] > carats[1] > carats[2]


def test_the_ladder_of_a_block_in_a_bar():
    rough = rough_of(shapes.box((30.0, 7.0, 4.0)))
    stone = placement_of(box_body(), 6.0, at=(-10.0, 0.0, 0.0))
    plan, _ = saw_plan(rough, stone, SHOP)
    ladder = dict(weight_ladder(rough, plan.pieces[plan.stone_pieces[0]].mesh, stone))
    length = 15.0 - 10.0 + 4.5 + SHOP.saw_error_mm + SHOP.clean_up_mm
    expected = {"rough": 840.0, "sawn": length * 28.0, "finished": 9.0 * 6.0 * 3.0}
    for name, mm3 in expected.items():
        assert ladder[name] == pytest.approx(mm3 * 2.65 / 200, rel=1e-6)


def test_the_cut_sheet_lists_the_tiers_in_order(job):
    design, _, _, _, told = job
    names = list(dict.fromkeys((row.order, row.name) for row in told.tiers))
    order = ["preform", *(tier.name for tier in tiers(design, {}))]
    assert names == list(enumerate(order, 1))
    for tier in tiers(design, {}):
        rows = [row for row in told.tiers if row.name == tier.name]
        angles = {setting: row.angle_deg for row in rows for setting in row.settings}
        assert angles == pytest.approx(dict(zip(tier.settings, tier.angles_deg, strict=True)))
        assert all(row.side == tier.side for row in rows)
        assert all(row.cut_to.endswith(".") for row in rows)
    girdle = next(row.cut_to for row in told.tiers if row.side == "girdle")
    assert "its distance from the axis is" in girdle
    assert " mm" in girdle


def test_the_flat_carries_the_dop(job):
    *_, told = job
    assert told.flat.circle_mm >= told.dop.least_mm
    assert "only" not in told.dop.text


def test_without_cuts_and_zones_nothing_is_made_up():
    rough, stone = rough_of(shapes.box((9.8, 6.8, 3.8))), placement_of(six_sided_body(), 4.0)
    shop = Workshop(most_cuts=0)
    plan, _ = saw_plan(rough, stone, shop)
    told = guide(rough, load_design("oval"), {}, stone, plan, Order(workshop=shop))
    assert told.zone is None
    assert guide_saw(rough, plan, np.eye(3)[0]) == SawGuide((), ())
    assert told.ladder[0][1] == pytest.approx(told.ladder[1][1])
