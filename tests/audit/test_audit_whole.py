"""The audit against what the other stages really make: designs, saw plans and guidance."""

from dataclasses import replace

import handmade_plans
import pytest
import shapes
from design_places import SAMPLE

from optimizer.audit import audit
from optimizer.design import build_body, full_parameters, load_design
from optimizer.errors import AuditError
from optimizer.guidance import guide, guide_saw
from optimizer.guidance.model import SawGuide
from optimizer.order import Order
from optimizer.placement.model import Pose
from optimizer.plan_model import Plan, Stone
from optimizer.rough.model import Rough
from optimizer.sawing import saw_plan

POSE = handmade_plans.STONE_TO_SCAN


def stone_of(name: str, width: float, rough: Rough, order: Order) -> Stone:
    """A stone of the library at the world's pose, figures by the body's own closed forms."""
    design = load_design(name)
    parameters = full_parameters(design, {})
    body = build_body(
        design,
        parameters,
        least_girdle_mm=order.least_girdle_mm,
        least_girdle_share=order.least_girdle_percent / 100.0,
    )
    stone = handmade_plans.stone_in(rough, Pose(width, *POSE), body)
    mm3 = body.volume_at(width)
    return replace(
        stone,
        design=design,
        parameters=parameters,
        length_mm=body.length_at(width),
        depth_mm=body.depth_at(width),
        girdle_mm=body.girdle_at(width),
        volume_mm3=mm3,
        carat=mm3 * rough.material.sg / 200.0,
    )


def whole_plan(name: str, width: float, rough: Rough) -> Plan:
    """Sawn and guided by the project's own stages; only the pose is by hand."""
    order = Order()
    stone = stone_of(name, width, rough, order)
    sawing, _ = saw_plan(rough, stone.placement, order.workshop)
    guidance = guide(rough, stone.design, stone.parameters, stone.placement, sawing, order)
    saw_guide = guide_saw(rough, sawing, stone.placement.pose.rotation[:, 0])
    stones = (replace(stone, guidance=guidance),)
    plan = replace(handmade_plans.sound_plan(), rough=rough, order=order, stones=stones)
    return replace(plan, sawing=sawing, saw_guide=saw_guide, bound=None)


def unsawn_plan(name: str, width: float) -> Plan:
    """In the middle of a ball that holds any of them."""
    rough = handmade_plans.rough_of(shapes.moved(shapes.icosphere(25.0, 3), *POSE))
    stone = stone_of(name, width, rough, Order())
    return replace(
        handmade_plans.sound_plan(),
        rough=rough,
        order=Order(),
        stones=(replace(stone, guidance=handmade_plans.guidance_of(rough, stone, None)),),
        sawing=handmade_plans.sequential_saw_plan(rough, ()),
        saw_guide=SawGuide((), ()),
        bound=None,
    )


@pytest.mark.parametrize("width", [3.0, 8.0, 15.0])
@pytest.mark.parametrize("name", SAMPLE)
def test_a_design_measures_as_it_states(name, width):
    plan = unsawn_plan(name, width)
    assert any("rebuilt from its parameters" in sentence for sentence in audit(plan))


@pytest.mark.parametrize("name", ["oval", "long-hexagon", "round-brilliant"])
@pytest.mark.parametrize("kind", ["pebble", "crystal"])
def test_a_plan_sawn_and_guided_by_its_own_stages_passes(name, kind):
    grown = shapes.scaled(shapes.all_rough(4)[kind], {"pebble": 1.1, "crystal": 1.6}[kind])
    zone = handmade_plans.rough_ball().zones
    rough = handmade_plans.rough_of(shapes.moved(grown, *POSE), zone)
    plan = whole_plan(name, 6.0, rough)
    told = " ".join(audit(plan))
    assert plan.sawing.cuts
    assert "the middle of each kerf passes at least 0.70000" in told


def test_a_parameter_that_builds_no_body_is_the_audits_error():
    plan = unsawn_plan("oval", 6.0)
    stone = plan.stones[0]
    wide = {k: p.high for k, p in stone.design.parameters.items()}
    with pytest.raises(AuditError, match="rebuilt"):
        audit(replace(plan, stones=(replace(stone, parameters=wide),)))
