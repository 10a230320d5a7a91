"""Colour shares held against the order: figures made by hand, so that each case is plain."""

from dataclasses import replace
from types import SimpleNamespace

import pytest

from optimizer.optics.figures import ZoneFigures
from optimizer.order import LookDemand, Order, ZoneDemand
from optimizer.plan_model import Plan
from optimizer.planning.look_doubts import saw_look_doubts, with_look_doubts
from optimizer.report.boundary_words import look_line
from optimizer.report.words import grave_warnings

BY_VOLUME = ZoneDemand("split", "violet", share_percent=(45.0, 55.0))
BY_FACE = LookDemand("split", "violet", face_percent=(45.0, 55.0))


def told(plan: Plan, zone, look, volume: float, face: float) -> tuple[str, ...]:
    """The warnings of a plan whose one stone has these percents of violet."""
    (stone,) = plan.stones
    view = replace(stone.guidance.zone, share_percent=volume)
    looked = SimpleNamespace(
        upright=SimpleNamespace(zone=SimpleNamespace(distinct=True, share=face / 100.0)),
        colouring=SimpleNamespace(first=SimpleNamespace(name="violet")),
    )
    stone = replace(stone, guidance=replace(stone.guidance, zone=view), look=looked)
    order = replace(plan.order, zone=zone, look=look)
    made = replace(plan, stones=(stone,), order=order, warnings=())
    return with_look_doubts(made).warnings


@pytest.mark.parametrize(
    ("zone", "look", "volume", "face", "said"),
    [
        (BY_VOLUME, None, 48.0, 58.0, "45 to 55 % violet is of the stone's volume, of which 48 %"),
        (BY_VOLUME, None, 48.0, 54.0, None),
        (BY_VOLUME, BY_FACE, 48.0, 58.0, None),
        (None, BY_FACE, 60.0, 50.0, "45 to 55 % violet is of the face, which shows 50 %"),
        (None, BY_FACE, 50.0, 50.0, None),
        (None, None, 10.0, 90.0, None),
    ],
)
def test_volume_and_face_on_either_side_of_the_order_are_flagged(
    plan, zone, look, volume, face, said
):
    warnings = told(plan, zone, look, volume, face)
    assert len(warnings) == (said is not None)
    assert said is None or said in warnings[0]


def carried(plan: Plan, look: LookDemand | None, **ranges: tuple[float, float]) -> Plan:
    spans = {"share": (0.46, 0.54), "halves": (0.9, 1.0), "ends": (0.9, 1.0)}
    spans |= {"ends_apart": (0.0, 0.1), **ranges}
    about = SimpleNamespace(zone="split", colour="violet", off_mm=0.3, off_deg=2.8, **spans)
    order = replace(plan.order, look=look)
    stones = tuple(replace(stone, look_about=about) for stone in plan.stones)
    return replace(plan, order=order, stones=stones)


def test_a_saw_error_that_carries_the_look_out_is_said_before_all_other_warnings(plan):
    made = carried(plan, BY_FACE, share=(0.43, 0.54))
    made = with_look_doubts(made)
    first = made.warnings[0]
    assert first.startswith("The saw's error may carry the look out of the order")
    assert "up to 0.3 mm and 2.8° off 43 to 54 % of the face shows violet" in first
    assert grave_warnings(made) == (first,)


def test_each_of_several_stones_is_warned_of_by_its_own_order(plan):
    (stone,) = carried(plan, None, share=(0.43, 0.54)).stones
    orders = (Order(look=BY_FACE), Order(), Order(look=LookDemand("split", "violet", (40, 60))))
    stones = tuple(replace(stone, order=order) for order in orders)
    (said,) = saw_look_doubts(replace(plan, stones=stones))
    assert said.startswith("Stone 1: The saw's error may carry the look out of the order")


def test_an_error_that_stays_inside_the_order_is_no_warning(plan):
    assert saw_look_doubts(carried(plan, BY_FACE)) == ()
    assert saw_look_doubts(carried(plan, None, share=(0.1, 0.9))) == ()


def test_each_balance_is_judged_by_itself(plan):
    ends = LookDemand("split", "violet", balance_of_ends=0.8)
    assert saw_look_doubts(carried(plan, ends, halves=(0.1, 1.0))) == ()
    (said,) = saw_look_doubts(carried(plan, ends, ends=(0.7, 1.0)))
    assert "the balance of the ends is 0.70 to 1.00" in said
    differ = LookDemand("split", "violet", difference_of_ends=0.5)
    assert saw_look_doubts(carried(plan, differ, ends_apart=(0.5, 0.9))) == ()
    (said,) = saw_look_doubts(carried(plan, differ, ends_apart=(0.4, 0.9)))
    assert "the difference of the ends is 0.40 to 0.90" in said
    assert "asks for a difference of the ends of 0.5 or more" in said


def test_a_balance_between_two_traces_is_not_told():
    about = SimpleNamespace(shift_mm=3.9, tilt_deg=0.0, azimuth_deg=0.0, share=(0.0, 0.01),
                            colour="violet", off_mm=0.3, off_deg=2.9)  # fmt: skip
    about.figures = ZoneFigures(0.001, (0.001, 0.001), (0.003, 0.001))
    assert "0 % of the right end and 0 % of the left end. If" in look_line(about)
    about.figures = ZoneFigures(0.1, (0.1, 0.1), (0.15, 0.05))
    assert "15 % of the right end and 5 % of the left end (balance 0.33). If" in look_line(about)
