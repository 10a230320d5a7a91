"""Angles that return more light, on the terminal, the page and in plan.json."""

import json
from dataclasses import replace
from importlib.resources import files

import jsonschema
import pytest

from optimizer.brighter import MARKED, with_angle_advice
from optimizer.design import build_body
from optimizer.materials import load_material
from optimizer.optics.angle_advice import AngleAdvice, Setting
from optimizer.report import summary
from optimizer.report.document import plan_document
from optimizer.report.page import page_html
from optimizer.report.scene import scene_of

ADVICE = AngleAdvice(Setting(36.0, 42.0, 0.70, 0.2, 0.5), Setting(30.0, 41.0, 0.78, 0.1, 0.45))


def with_one(plan, advice):
    first, *others = plan.stones
    return replace(plan, stones=(replace(first, brighter=advice), *others))


def test_it_is_offered_with_its_price(plan):
    told = with_one(plan, ADVICE)
    carat = plan.stones[0].carat
    (line,) = [one for one in summary(told) if one.startswith("Other angles return more light")]
    assert "crown 30° and pavilion 41° 78 % instead of 70 %" in line
    assert f"that costs {0.1 * carat:.2f} ct" in line
    assert line in page_html(scene_of(told)).replace("&#x27;", "'")
    document = plan_document(told)
    schema = files("optimizer.report").joinpath("schema.json").read_text(encoding="utf-8")
    jsonschema.validate(document, json.loads(schema))
    best = document["stones"][0]["brighter"]["best"]
    assert best["carat"] == pytest.approx(0.9 * carat)
    deeper = replace(ADVICE, best=replace(ADVICE.best, volume=0.55))
    lines = "\n".join(summary(with_one(plan, deeper)))
    assert f"that adds {0.1 * carat:.2f} ct where there is room" in lines


def test_nothing_is_offered_where_nothing_was_found(plan):
    assert plan_document(plan)["stones"][0]["brighter"] is None
    assert not any("Other angles" in line for line in summary(plan))


def test_the_advice_starts_from_the_stones_own_angles(plan):
    stone = plan.stones[0]
    low = stone.design.parameters["pavilion"].low
    dull = replace(stone, parameters={**stone.parameters, "pavilion": low})
    advice = with_angle_advice(replace(plan, stones=(dull,))).stones[0].brighter
    assert advice is not None
    assert (advice.usual.crown, advice.usual.pavilion) == (stone.parameters["crown"], low)
    assert advice.best.light_return >= advice.usual.light_return + MARKED
    best = {**stone.parameters, "crown": advice.best.crown, "pavilion": advice.best.pavilion}
    best.pop("girdle")
    share = stone.placement.body.girdle_share
    made = build_body(stone.design, best, least_girdle_mm=0.0, least_girdle_share=share)
    assert advice.best.volume == pytest.approx(made.unit_volume, rel=0.05)
    unknown = replace(plan.rough, material=replace(load_material("quartz"), ri=None))
    assert with_angle_advice(replace(plan, rough=unknown)).stones[0].brighter is None
