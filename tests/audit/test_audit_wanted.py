"""The audit holds stones laid by hand against the order's list, each fault alone."""

from dataclasses import replace

import handmade_plans
import numpy as np
import pytest
from handmade_plans import STONE_TO_SCAN, order_it_meets, sound_plan

from optimizer.audit import audit
from optimizer.audit.wanted import list_is_met
from optimizer.design import build_body, load_design
from optimizer.errors import AuditError
from optimizer.offers.crystal import with_cleavage_clearance
from optimizer.offers.least_width import with_least_width
from optimizer.order import Order, SizeDemand, ZoneDemand
from optimizer.order.several import LookTolerance, Several, Wanted
from optimizer.placement.model import Placement, Pose
from optimizer.placement.rotations import turn
from optimizer.plan_model import Plan, Stone

ZONE = ZoneDemand("break", "clear", tilt_deg=(-90.0, 90.0))
TIGHT = LookTolerance(tilt_deg=1.0, azimuth_deg=1.0, offset=0.01, mirrored=False)
AXES = {"x": (1.0, 0.0, 0.0), "y": (0.0, 1.0, 0.0), "z": (0.0, 0.0, 1.0)}


def plan(*wanted: Wanted, most: int = 8, stones: tuple[Stone, ...] = ()) -> Plan:
    order = Order(several=Several(most), wanted=wanted, zone=ZONE)
    named = tuple(
        replace(stone, wanted=one.name, order=with_least_width(order.of(one)))
        for stone, one in zip(stones, wanted * len(stones), strict=False)
    )
    return replace(sound_plan(), order=order, stones=named)


def stone(width: float = 8.0, about: str = "z", degrees: float = 0.0, shift: float = 0.0) -> Stone:
    """The hand plans' stone, turned about one of its own axes and shifted along its length; what
    is measured of it is its solid, the figures stay those of the stone it was."""
    rotation, translation = STONE_TO_SCAN
    turned = rotation @ turn(np.radians(degrees) * np.array(AXES[about]))
    base = sound_plan().stones[0]
    pose = Pose(width, turned, translation + shift * rotation[:, 0])
    return replace(base, placement=replace(base.placement, pose=pose))


def refused(one: Plan, message: str) -> None:
    with pytest.raises(AuditError, match=message) as caught:
        list_is_met(one)
    assert "\n" not in str(caught.value)


def test_a_whole_plan_of_a_list_passes_its_audit():
    base, line = sound_plan(), Wanted("a", count=(1, 1))
    order = replace(order_it_meets(), several=Several(), wanted=(line,))
    one = replace(base.stones[0], wanted="a", order=with_least_width(order.of(line)))
    passed = audit(replace(base, order=order, stones=(one,)), handmade_plans.rebuild)
    assert "1 stone in all, of the kinds and counts that the list asks." in passed


@pytest.mark.parametrize(
    ("count", "stones", "message"),
    [
        ((2, 3), 1, 'the number of "a": 1; demanded: 2 to 3'),
        ((0, 1), 2, 'the number of "a": 2; demanded: 0 to 1'),
        (None, 3, "the stones in all: 3; demanded: at most 2"),
    ],
)
def test_counts(count, stones, message):
    refused(plan(Wanted("a", count=count), most=2, stones=(stone(),) * stones), message)


def test_each_stone_is_of_a_line_and_held_against_it():
    good = plan(Wanted("a"), stones=(stone(),))
    list_is_met(good)
    refused(
        replace(good, stones=(replace(good.stones[0], wanted="b"),)),
        "names in the list: b; demanded: lines of the list",
    )
    other = replace(good.stones[0].order, size=SizeDemand((1.0, 2.0)))
    refused(
        replace(good, stones=(replace(good.stones[0], order=other),)),
        'what is asked of a "a": another order; demanded: that of its line',
    )


def test_the_limit_on_cleavage_that_is_taken_for_granted_is_no_other_order():
    cleft = replace(sound_plan().rough, cleavage=(np.array([0.0, 0.0, 1.0]),))
    good = replace(plan(Wanted("a"), stones=(stone(),)), rough=cleft)
    kept = with_cleavage_clearance(cleft, good.stones[0].order)
    assert kept != good.stones[0].order
    list_is_met(replace(good, stones=(replace(good.stones[0], order=kept),)))


def test_calibrated_stones_have_a_usual_size():
    design = load_design("oval")

    def oval(width: float) -> Stone:
        body = build_body(design, {"length_to_width": 8.0 / 6.0})
        return replace(
            stone(), design=design, placement=Placement(body, Pose(width, *STONE_TO_SCAN), 1.0)
        )

    line = Wanted("a", calibrated=True)
    list_is_met(plan(line, stones=(oval(6.0),)))
    refused(
        plan(line, stones=(oval(6.01),)),
        r"6\.01 × 8\.01333333 mm measured; demanded: one of the usual sizes",
    )
    refused(plan(line, stones=(stone(6.0),)), 'the size of a "a"')  # its outline has none


@pytest.mark.parametrize(
    ("told", "paired"),
    [
        (((8.0,), (8.05,)), True),
        (((8.0,), (8.11,)), False),
        (((8.0,),), False),
        (((8.0,), (8.0, "z", 180.0)), True),  # half round, as the design allows
        (((8.0,), (8.0, "z", 0.9)), True),
        (((8.0,), (8.0, "z", 1.1)), False),
        (((8.0,), (8.0, "y", 0.9)), True),
        (((8.0,), (8.0, "y", 1.2)), False),
        (((8.0,), (8.0, "z", 0.0, 0.2)), False),
        (((8.0,), (8.0, "z", 1.1), (8.0, "z", 180.5), (8.0, "z", 1.6)), True),
    ],
)
def test_pairs_match_in_width_and_boundary(told, paired):
    """Stones told by their width, the axis and degrees of a turn, and a shift."""
    stones = tuple(stone(*one) for one in told)
    one = plan(Wanted("a", pair_mm=0.1, alike=TIGHT), stones=stones)
    if paired:
        list_is_met(one)
    else:
        refused(one, f'the pairs of "a": {len(told)} stones? that don\'t all match in twos')


def test_left_and_right_hand_make_a_pair_only_where_they_may():
    """The boundary's normal is (1, 0.1, 0.05) in the stone frame: 5.7° off the length."""
    azimuth = np.degrees(np.arctan2(0.1, 1.0))
    two = stone(8.0), stone(8.0, "z", 2.0 * azimuth)
    refused(plan(Wanted("a", pair_mm=0.1, alike=TIGHT), stones=two), "match in twos")
    list_is_met(plan(Wanted("a", pair_mm=0.1, alike=replace(TIGHT, mirrored=True)), stones=two))


def test_two_of_other_angles_are_no_pair():
    one, other = stone(), stone()
    other = replace(other, parameters={**other.parameters, "crown": 0.21})
    refused(plan(Wanted("a", pair_mm=0.1), stones=(one, other)), "match in twos")


def test_a_boundary_that_crosses_neither_leaves_the_colour():
    """It lies 0.4 mm off the middle: 6 mm away it is clear of a small stone."""
    clear = stone(4.0, shift=-6.0), stone(4.0, "z", 30.0, shift=-6.0)
    list_is_met(plan(Wanted("a", pair_mm=0.1, alike=TIGHT), stones=clear))
    other = stone(4.0, shift=6.0)
    refused(plan(Wanted("a", pair_mm=0.1, alike=TIGHT), stones=(clear[0], other)), "match in twos")
