"""Plans whose order limits how the crystal lies in the stone."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import shapes
from handmade_plans import rough_of

from optimizer import make_plan
from optimizer.mesh import Plane
from optimizer.order import DirectionDemand, Order, SizeDemand, Workshop, ZoneDemand
from optimizer.placement.search import EFFORTS
from optimizer.rough.model import Colour, Zone
from optimizer.trade.materials import load_material

pytestmark = pytest.mark.usefixtures("small_quick")

BARE = Workshop(clean_up_mm=0.0, most_cuts=0)
FIXED = {"crown": 36.0, "pavilion": 42.0}  # the bound of one body is the tightest
UP = np.array([0.0, 0.0, 1.0])


def planned(rough, design="oval", **asked):
    order = Order(designs=(design,), parameters=FIXED, workshop=BARE, **asked)
    return make_plan(rough, order, effort="quick")


def leaning(name):
    """A piece whose optic axis leans to the box's sides."""
    mesh = shapes.box((14.0, 10.0, 7.0)) if name == "box" else shapes.random_polytope(0)
    return replace(rough_of(mesh), optic_axis=np.array([0.6, 0.0, 0.8]))


@pytest.fixture(scope="module")
def free_in(small_quick):
    """The plan of each piece that no direction holds, by all of quick effort's search."""

    @cache
    def free(name):
        with pytest.MonkeyPatch.context() as patch:
            patch.setitem(EFFORTS, "quick", small_quick)
            return planned(leaning(name))

    return free


@pytest.mark.parametrize(
    ("name", "ends"),
    [
        ("polytope", (40.0, 50.0)),
        ("box", (90.0, 90.0)),
        ("box", (0.0, 5.0)),
    ],
)
def test_the_table_keeps_its_angle_and_the_bound_knows_of_it(name, ends, free_in, request):
    """Below the bound, and where the limit costs weight, the bound is lower for it, too."""
    free = free_in(name)
    if name == "box":
        request.getfixturevalue("whole_quick")  # for a bound that is near
    held = planned(leaning(name), direction=DirectionDemand(axis_to_table_deg=ends))
    ((_, angle),) = held.stones[0].guidance.direction.axes_deg
    assert ends[0] - 1e-5 <= angle <= ends[1] + 1e-5
    assert held.stones[0].carat <= held.bound.carat
    assert held.stones[0].carat <= free.stones[0].carat * (1.0 + 1e-3)
    assert held.bound.carat <= 1.06 * held.stones[0].carat or name != "box"
    assert "the table's angle to the axis" in held.bound.uses
    assert not any("axis" in used for used in free.bound.uses)


def test_a_topaz_crystal_keeps_off_its_own_cleavage():
    """Free, the stone lies with its table on the widest side of the box, in the cleavage plane;
    no facet may then lie within 5 degrees of it, and the table leans 10 to 15."""
    rough = replace(
        rough_of(shapes.box((14.0, 12.0, 6.0))), material=load_material("topaz"), optic_axis=UP
    )
    free = planned(rough, "cut-corner-rectangle", direction=DirectionDemand(cleavage_clear_deg=0.0))
    limits = DirectionDemand(axis_to_table_deg=(75.0, 80.0), cleavage_clear_deg=5.0)
    held = planned(rough, "cut-corner-rectangle", direction=limits)
    seen = held.stones[0].guidance.direction
    assert seen.cleavage_deg >= 5.0 - 1e-5
    assert 75.0 - 1e-5 <= seen.axes_deg[0][1] <= 80.0 + 1e-5
    assert held.stones[0].carat < free.stones[0].carat
    assert any("cleavage" in used for used in held.bound.uses)
    assert any("no facet lies within" in text for text in held.audit)


def test_perfect_cleavage_is_kept_clear_of_unless_the_order_waives_it():
    """A step cut fills a box as flat as itself with its table in the cleavage plane."""
    box = shapes.box((14.0, 10.0, 6.0))

    def warned(species, **asked):
        rough = replace(rough_of(box), material=load_material(species), optic_axis=UP)
        plan = planned(rough, "cut-corner-rectangle", **asked)
        return plan.stones[0].guidance.direction.cleavage_deg, [
            w for w in plan.warnings if "cleavage" in w
        ]

    angle, texts = warned("topaz")
    assert angle >= 5.0 - 1e-5
    (said,) = texts
    assert said.startswith("No facet lies within 5° of a cleavage plane, as is usual")
    angle, texts = warned("topaz", direction=DirectionDemand(cleavage_clear_deg=0.0))
    assert angle < 5.0
    (said,) = texts
    assert f"lies {angle:.1f}° off a cleavage plane" in said
    assert warned("beryl")[1] == []  # indistinct: every beryl is cut so
    angle, texts = warned("topaz", direction=DirectionDemand(cleavage_clear_deg=3.0))
    assert (angle >= 3.0 - 1e-5, texts) == (True, [])


def test_a_boundary_and_an_axis_are_met_together():
    """The boundary square to x stands upright along the stone; the table is square to z."""
    zone = Zone("split", Plane(np.eye(3)[0], 0.0), Colour("a", "#808080"), Colour("b", "#404040"))
    rough = replace(rough_of(shapes.dented(0, subdivisions=2), (zone,)), growth_axis=UP)
    plan = planned(
        rough,
        zone=ZoneDemand("split", "a", tilt_deg=(-5.0, 5.0), azimuth_deg=(-5.0, 5.0)),
        direction=DirectionDemand("growth axis", (80.0, 90.0)),
    )
    assert plan.status == "found"
    assert plan.stones[0].carat <= plan.bound.carat
    assert plan.stones[0].guidance.direction.axes_deg[0][1] >= 80.0 - 1e-5
    assert abs(plan.stones[0].guidance.zone.tilt_deg) <= 5.0 + 1e-5
    assert abs(plan.stones[0].guidance.zone.azimuth_deg) <= 5.0 + 1e-5


def test_limits_that_shut_out_every_turn_are_proved_and_named():
    """Three cleavages square to one another leave no facet 45 degrees from all: none of a
    stone's fits; without the limit a stone does."""
    rough = replace(rough_of(shapes.box((14.0, 12.0, 6.0))), cleavage=tuple(np.eye(3)))
    plan = planned(rough, direction=DirectionDemand(cleavage_clear_deg=45.0))
    assert plan.status == "impossible"
    assert [r.demand for r in plan.ruled_out_by] == ["no facet within 45° of a cleavage plane"]


def test_a_size_that_the_axis_rules_out_is_named_with_both():
    """A table square to the long side has only 12 × 6 mm."""
    rough = replace(rough_of(shapes.box((14.0, 12.0, 6.0))), optic_axis=np.eye(3)[0])
    plan = planned(
        rough,
        size=SizeDemand(width_mm=(8.0, np.inf)),
        direction=DirectionDemand(axis_to_table_deg=(90.0, 90.0)),
    )
    assert plan.status == "impossible"
    said = {reason.demand for reason in plan.ruled_out_by}
    assert said == {"the optic axis: 90 to 90° to the table", "the size: at least 8 mm wide"}
