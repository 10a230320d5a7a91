"""A stone near a guessed surface: the plan warns of it where the stone may break out there."""

from dataclasses import replace

import numpy as np
import pytest
from handmade_plans import sound_plan
from placed_stones import rough_of
from shapes import box

from optimizer.guidance.guessed_surface import guessed_surface_warnings
from optimizer.order import Order, Workshop
from optimizer.plan import make_plan
from optimizer.report.words import grave_warnings
from optimizer.rough.model import Repair
from optimizer.trade.materials import load_material

PLAN = sound_plan()
PLACED = PLAN.stones[0].placement
SKIN = PLAN.rough.scan_error_mm + PLAN.order.workshop.clean_up_mm
DEEP = 0.5


def said(*gaps: float, guessed: str = "a hole was filled") -> tuple[str, ...]:
    """With mended places straight above the middle of the table."""
    pose = PLACED.pose
    table = PLACED.body.vertices_at(pose.width)[:, 2].max()
    places = [pose.translation + (table + gap) * pose.rotation[:, 2] for gap in gaps]
    repair = Repair("mended", np.array(places), 1.0, DEEP, guessed)
    return guessed_surface_warnings(replace(PLAN.rough, repairs=(repair,)), PLAN.order, PLACED)


@pytest.mark.parametrize(
    ("gap", "words"),
    [
        (DEEP + SKIN + 1e-6, None),
        (DEEP + SKIN - 1e-6, "NEARER TO THE STONE THAN ITS CLEARANCE ALLOWS"),
        (DEEP - 0.01, "WITHIN REACH OF THE STONE, 0.49 mm from it"),
        (-1.0, "IN THE STONE"),
    ],
)
def test_it_is_told_from_the_depth_and_the_skin_on(gap: float, words: str | None) -> None:
    told = said(gap)
    assert len(told) == (words is not None)
    assert words is None or told[0].startswith(words)


def test_the_nearest_of_several_places_counts_and_sure_repairs_do_not() -> None:
    assert "0.30 mm from it" in said(0.4, 0.3, 5.0)[0]
    assert said(0.3, guessed="") == ()


@pytest.mark.usefixtures("small_quick")
def test_a_plan_says_it_first() -> None:
    piece = rough_of(box((10.0, 8.0, 6.0)))
    top = Repair("1 hole filled", np.array([[0.0, 0.0, 3.0], [0.0, 0.0, -3.0]]), 1.0, 1.0, "filled")
    order = Order(
        ("round-brilliant",),
        parameters={"crown": 34.5, "pavilion": 41.0},
        workshop=Workshop(most_cuts=0),
    )
    piece = replace(piece, repairs=(top,), material=load_material("quartz"))
    plan = make_plan(piece, order, effort="quick", seed=0)
    assert "a guessed surface" in plan.warnings[0]
    assert grave_warnings(plan)[0] == plan.warnings[0]
