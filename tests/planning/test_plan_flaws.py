"""Plans of flawed rough: kept clear, told in the bound, named where one rules a stone out."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from placed_stones import rough_of
from shapes import box

from optimizer.audit.flaws import gap_to_core
from optimizer.offers.relaxations import without_each_flaw
from optimizer.order import Order, SizeDemand, Workshop
from optimizer.plan import make_plan
from optimizer.rough.model import Flaw

pytestmark = pytest.mark.usefixtures("small_quick")

QUICK = {"effort": "quick", "seed": 0}
BUBBLE = Flaw("bubble", np.array([[0.2, 0.1, 0.3]]), None, 0.0, 0.3, 0.2)
SPECK = Flaw("speck", np.array([[4.8, 3.8, 2.8]]), None, 0.0, 0.0, 0.05)


def asked(**size):
    return Order(
        designs=("round-brilliant",), parameters={"crown": 34.5, "pavilion": 41.0},
        size=SizeDemand(**size), workshop=Workshop(clean_up_mm=0.0, most_cuts=0),
    )  # fmt: skip


def flawed(*flaws):
    return replace(rough_of(box((10.0, 8.0, 6.0))), flaws=flaws)


@pytest.fixture(scope="module")
def free():
    return make_plan(flawed(), asked(), **QUICK)


def test_the_stone_keeps_clear_and_the_bound_says_what_it_ignores(free):
    plan = make_plan(flawed(BUBBLE, SPECK), asked(), **QUICK)
    (stone,) = plan.stones
    corners = stone.placement.mesh().vertices
    assert gap_to_core(corners, BUBBLE) >= BUBBLE.keep_mm - 1e-6
    assert stone.carat < free.stones[0].carat
    assert stone.carat <= stone.bound.carat
    assert "flaws" in stone.bound.ignores
    assert "flaws" in plan.bound.ignores
    assert "flaws" not in free.bound.ignores
    assert any("keeps clear of the flaws" in check for check in plan.audit)
    assert not any("flaws" in check for check in free.audit)


def test_a_crack_left_in_the_stone_is_told_and_sawing_through_one_is_warned_of(free):
    """Cracks along the stone's side, mirrored as the box is so that some lie in any good stone,
    and one right through the box where a cap comes off."""
    pose = free.stones[0].placement.pose
    spot, way = pose.translation + 0.4 * pose.width * pose.rotation[:, 0], pose.rotation[:, 0]
    mirrors = [np.array(signs, float) for signs in product((1, -1), repeat=3)]
    feathers = [
        Flaw(f"feather {k}", (m * spot)[None], m * way, 0.6, 0.0, 0.2, off_table=True)
        for k, m in enumerate(mirrors)
    ]
    split = Flaw("split", np.array([[4.9, 0.0, 0.0]]), np.array([1.0, 0, 0]), np.inf, 0.0, 0.2)
    workshop = Workshop(clean_up_mm=0.0, keep_offcut_ct=0.01, grind_mm=0.1, most_cuts=2)
    order = replace(asked(), workshop=workshop)
    plan = make_plan(flawed(*feathers, split), order, **QUICK)
    assert plan.stones[0].carat <= 1.01 * free.stones[0].carat
    within = [view.flaw for view in plan.stones[0].guidance.flaws]
    assert within
    assert any('"feather 7" below its table by' in check for check in plan.audit)
    for name in within:
        assert sum(text.startswith(f'The crack "{name}"') for text in plan.warnings) == 1
    assert any('runs through the crack "split"' in text for text in plan.warnings)


def test_a_flaw_that_alone_rules_the_stone_out_is_named(free, monkeypatch):
    monkeypatch.setattr(
        "optimizer.planning.relaxation_search.relaxations", lambda _: []
    )  # they take long, and so do nearest orders
    monkeypatch.setattr("optimizer.planning.ruled_out.nearest_orders", lambda *_: ())
    least = 0.97 * free.stones[0].width_mm
    plan = make_plan(flawed(BUBBLE, SPECK), asked(width_mm=(least, 2.0 * least)), **QUICK)
    assert plan.status == "not found"  # the bound knows nothing of flaws, so it proves nothing
    named = {reason.demand: reason.stone for reason in plan.ruled_out_by}
    assert 'the flaw "bubble"' in named
    assert 'the flaw "speck"' not in named
    assert named['the flaw "bubble"'].width_mm >= least


def test_each_flaw_is_left_out_in_turn():
    cube = box((2.0, 2.0, 2.0))
    cloud = Flaw("cloud", np.zeros((1, 3)), None, 0.0, 0.0, 0.2, cube, "c.ply", off_table=True)
    loose = without_each_flaw(flawed(BUBBLE, SPECK, cloud))
    assert [(text, [f.name for f in rough.flaws]) for text, rough in loose] == [
        ('the flaw "bubble"', ["speck", "cloud"]),
        ('the flaw "speck"', ["bubble", "cloud"]),
        ('the flaw "cloud"', ["bubble", "speck"]),
    ]
