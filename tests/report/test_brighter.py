"""Angles that return more light, on the terminal, the page and in plan.json."""

from dataclasses import replace

import pytest

from optimizer.design import build_body, load_design
from optimizer.offers.angle_advice import AngleAdvice, AngleSetting
from optimizer.optics.angles import ROCKED, light_by_turn
from optimizer.planning.angle_advice import NOTICEABLE_GAIN, with_angle_advice
from optimizer.report import summary
from optimizer.report.document import plan_file
from optimizer.report.page import page_html
from optimizer.report.scene import scene_of

ADVICE = AngleAdvice(
    AngleSetting(36.0, 42.0, 0.70, 0.2, 0.5), AngleSetting(30.0, 41.0, 0.78, 0.1, 0.45)
)


def with_one(plan, advice):
    first, *others = plan.stones
    return replace(plan, stones=(replace(first, brighter=advice), *others))


def test_it_is_offered_with_its_price(plan):
    told = with_one(plan, ADVICE)
    carat = plan.stones[0].carat
    (line,) = [one for one in summary(told) if "would return more light" in one]
    assert line.startswith("A crown of 30° and a pavilion of 41° would return more light: 78 % ")
    assert "instead of 70 %" in line
    assert f"the stone would weigh {0.1 * carat:.2f} ct less." in line
    assert line in page_html(scene_of(told)).replace("&#x27;", "'")
    best = plan_file(told).values()["stones"][0]["brighter"]["best"]
    assert best["carat"] == pytest.approx(0.9 * carat)
    deeper = replace(ADVICE, best=replace(ADVICE.best, volume=0.55))
    lines = "\n".join(summary(with_one(plan, deeper)))
    assert f"the stone would weigh {0.1 * carat:.2f} ct more, if there is room." in lines


def test_nothing_is_offered_where_nothing_was_found(plan):
    assert plan_file(plan).values()["stones"][0]["brighter"] is None
    assert not any("would return more light" in line for line in summary(plan))


def test_the_advice_starts_from_the_stones_own_angles(plan):
    design = load_design("round-brilliant")
    low = design.parameters["pavilion"].low
    own = {"crown": 34.0, "pavilion": low, "girdle": 0.03}
    dull = replace(plan.stones[0], design=design, parameters=own)
    advice = with_angle_advice(replace(plan, stones=(dull,))).stones[0].brighter
    assert advice is not None
    assert (advice.usual.crown, advice.usual.pavilion) == (34.0, low)
    assert advice.best.light_return >= advice.usual.light_return + NOTICEABLE_GAIN
    for one in (advice.usual, advice.best):
        made = build_body(design, {"crown": one.crown, "pavilion": one.pavilion})
        seen = light_by_turn(made, 8.0, plan.rough.material, ROCKED, 8000)
        mean = sum(figures.light_return for figures in seen) / len(seen)
        assert one.light_return == pytest.approx(mean, abs=0.015)
        assert one.volume == pytest.approx(made.unit_volume, rel=0.02)
    unknown = replace(plan.rough, material=replace(plan.rough.material, ri=None))
    told = with_angle_advice(replace(plan, rough=unknown, stones=(dull,)))
    assert told.stones[0].brighter is None


def test_a_design_without_angles_is_left_alone(plan):
    assert with_angle_advice(plan).stones[0].brighter is None
