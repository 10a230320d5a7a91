"""Plans of flawed rough: kept clear, told in the bound, named where one rules a stone out."""

from dataclasses import replace

import numpy as np
import pytest
from laid_stones import rough_of
from shapes import box

from optimizer.audit.flaws import gap_to_core
from optimizer.offer import without_each_flaw
from optimizer.order import Order, SizeDemand, Workshop
from optimizer.plan import make_plan
from optimizer.rough.model import Flaw

QUICK = {"effort": "quick", "seed": 0}
BUBBLE = Flaw("bubble", np.array([[0.2, 0.1, 0.3]]), None, 0.0, 0.3, 0.2)
SPECK = Flaw("speck", np.array([[4.8, 3.8, 2.8]]), None, 0.0, 0.0, 0.05)


def asked(**size):
    return Order(
        designs=("round-brilliant",), size=SizeDemand(**size), workshop=Workshop(clean_up_mm=0.0)
    )


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


def test_a_flaw_that_alone_rules_the_stone_out_is_named(free):
    least = 0.97 * free.stones[0].width_mm
    plan = make_plan(flawed(BUBBLE, SPECK), asked(width_mm=(least, 2.0 * least)), **QUICK)
    assert plan.status == "not found"  # the bound knows nothing of flaws, so it proves nothing
    named = {reason.demand: reason.stone for reason in plan.ruled_out_by}
    assert 'the flaw "bubble"' in named
    assert 'the flaw "speck"' not in named
    assert named['the flaw "bubble"'].width_mm >= least


def test_each_flaw_is_left_out_in_turn():
    loose = without_each_flaw(flawed(BUBBLE, SPECK))
    assert [(text, [f.name for f in rough.flaws]) for text, rough in loose] == [
        ('the flaw "bubble"', ["speck"]),
        ('the flaw "speck"', ["bubble"]),
    ]
