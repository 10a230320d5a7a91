"""The audit's own look at the crystal's directions in a plan laid by hand."""

from dataclasses import replace

import handmade_plans
import numpy as np
import pytest
from handmade_plans import STONE_TO_SCAN, order_it_meets, sound_plan

from optimizer.audit import audit
from optimizer.errors import AuditError
from optimizer.guidance.direction import view_direction
from optimizer.order import DirectionDemand
from optimizer.placement.rotations import turn


def axis(lean_deg):
    """Scan-frame direction this far from the table's normal."""
    lean = np.radians(lean_deg)
    return STONE_TO_SCAN[0] @ np.array([0.6 * np.sin(lean), -0.8 * np.sin(lean), -np.cos(lean)])


def plan(demand, *, optic=None, growth=None, cleavage=()):
    base = sound_plan()
    rough = replace(base.rough, optic_axis=optic, growth_axis=growth, cleavage=cleavage)
    view = view_direction(rough, base.stones[0].placement)
    order = replace(order_it_meets(), direction=demand)
    return handmade_plans.with_guidance(replace(base, rough=rough, order=order), direction=view)


def checked(one):
    return audit(one, handmade_plans.rebuild)


def refused(one, message):
    with pytest.raises(AuditError, match=message) as caught:
        checked(one)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("way", [1.0, -1.0])
def test_a_table_s_angle_that_is_met_is_said_and_one_that_is_not_is_refused(way):
    demand = DirectionDemand("growth axis", (75.0, 85.0))
    sentences = checked(plan(demand, growth=way * axis(10.0), optic=axis(50.0)))
    assert any("growth axis lies at 80.0000° to its table" in text for text in sentences)
    refused(plan(demand, growth=way * axis(15.001), optic=axis(10.0)), "table and the growth axis")
    refused(plan(demand, growth=way * axis(4.999)), "growth axis: 85.001 degrees measured")
    refused(plan(demand, optic=axis(10.0)), "growth axis: unknown")


def test_a_facet_in_a_cleavage_plane_is_refused():
    """The table itself: 6 degrees off passes a limit of 5, and 4.999 does not."""
    demand = DirectionDemand(cleavage_clear_deg=5.0)
    sentences = checked(plan(demand, cleavage=(axis(6.0),)))
    assert any("no facet lies within 6.0000° of a cleavage plane" in text for text in sentences)
    refused(plan(demand, cleavage=(axis(20.0), axis(4.999))), "clear of cleavage: 4.999 degrees")
    refused(plan(demand), "cleavage: unknown")


def test_every_facet_counts_not_the_table_alone():
    body = sound_plan().stones[0].placement.body
    for normal in body.normals:
        plane = turn(np.radians(2.0) * np.cross(normal, np.roll(normal, 1))) @ normal
        demand = DirectionDemand(cleavage_clear_deg=5.0)
        refused(plan(demand, cleavage=(STONE_TO_SCAN[0] @ plane,)), "clear of cleavage")


def test_the_guidance_must_state_what_is_measured():
    good = plan(None, optic=axis(30.0), cleavage=(axis(6.0),))
    assert any("directions in the stone are as stated" in text for text in checked(good))
    view = good.stones[0].guidance.direction
    assert view.axes_deg[0][1] == pytest.approx(60.0)
    assert view.cleavage_deg == pytest.approx(6.0)
    for wrong, message in (
        (replace(view, axes_deg=(("optic axis", 60.01),)), "optic axis to the table as stated"),
        (replace(view, cleavage_deg=6.01), "cleavage to facets as stated"),
    ):
        refused(handmade_plans.with_guidance(good, direction=wrong), message)
