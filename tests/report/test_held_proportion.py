"""A length-to-width that nothing ordered holds: said at the top, with what freeing it brings."""

from dataclasses import replace

import pytest

from optimizer.design.model import Parameter
from optimizer.order import SizeDemand
from optimizer.plan_model import FreedProportion, Plan
from optimizer.report import summary
from optimizer.report.scene import scene_of
from optimizer.report.sections.answer import answer

HELD = "Length to width held at the design's usual 1.50."


@pytest.fixture
def held(plan: Plan) -> Plan:
    """The hand-made plan, its stone of a design whose length-to-width is usually 1.5."""
    (stone,) = plan.stones
    known = Parameter("length_to_width", 1.5, 1.2, 1.8)
    design = replace(stone.design, parameters={**stone.design.parameters, known.name: known})
    stone = replace(stone, design=design, parameters={**stone.parameters, known.name: 1.5})
    return replace(plan, stones=(stone,))


def with_freed(plan: Plan, value: float | None, carat: float | None) -> Plan:
    (stone,) = plan.stones
    return replace(plan, stones=(replace(stone, freed=FreedProportion(1.2, 1.8, value, carat)),))


def test_it_is_said_before_the_stone(held: Plan) -> None:
    lines = summary(held)
    assert lines[1] == HELD
    assert lines[2].startswith("Stone 1")
    page = answer(scene_of(held))
    assert "usual 1.50" in page


def test_what_freeing_it_brings_is_said_beside_it(held: Plan) -> None:
    carat = held.stones[0].carat
    told = summary(with_freed(held, 1.72, carat + 0.5))[1]
    assert told.startswith(HELD)
    assert f"{carat + 0.5:.2f} ct at 1.72, 0.50 ct more" in told
    assert "length_to_width = [1.2, 1.8]" in told
    for value, weight in ((1.5, carat), (None, None)):
        assert summary(with_freed(held, value, weight))[1].endswith("found no heavier stone.")


def test_it_is_not_said_where_the_order_holds_it_or_the_design_has_none(
    held: Plan, plan: Plan
) -> None:
    ordered = replace(held.order, parameters={"length_to_width": 1.5})
    sized = replace(held.order, size=SizeDemand(width_mm=(6.0, 6.0), length_mm=(9.0, 9.0)))
    one_width = replace(held.order, size=SizeDemand(width_mm=(5.0, 7.0)))
    for order, said in ((ordered, False), (sized, False), (one_width, True)):
        assert any("held at" in line for line in summary(replace(held, order=order))) == said
    assert not any("held at" in line for line in summary(plan))
