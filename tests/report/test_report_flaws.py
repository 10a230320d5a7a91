"""Flaws in the plan's folder: drawn where they lie, listed on the page, told in plan.json."""

import json
from dataclasses import replace
from html import escape

import numpy as np
import pytest
import shapes
from handmade_plans import with_guidance
from pydantic import ValidationError

from optimizer.documents.plan import PlanFile
from optimizer.guidance.model import FlawView
from optimizer.mesh import volume
from optimizer.report.document import plan_file
from optimizer.report.page import page_html
from optimizer.report.position_words import flaw_line
from optimizer.report.scene import scene_of
from optimizer.report.summary import summary
from optimizer.rough.model import Flaw
from optimizer.solid import as_solid


@pytest.fixture(scope="module")
def middle(plan):
    return plan.stones[0].placement.pose.translation


@pytest.fixture(scope="module")
def flawed(plan, middle):
    bubble = Flaw("bubble <b>", middle[None], None, 0.0, 0.5, 0.2)
    crack = Flaw("crack", middle[None], np.array([0.6, 0.0, 0.8]), np.inf, 0.0, 0.2)
    needle = Flaw("needle", np.array([middle + 90.0, middle + 91.0]), None, 0.0, 0.1, 0.2)
    return replace(plan, rough=replace(plan.rough, flaws=(bubble, crack, needle)))


def test_flaws_are_drawn_where_they_lie(flawed, middle):
    (layer,) = [layer for layer in scene_of(flawed).layers if layer.key == "flaws"]
    assert [label.text for label in layer.labels] == ["bubble <b>", "crack", "needle"]
    ball, sheet, outside = (part.mesh for part in layer.parts)
    assert np.linalg.norm(ball.vertices - middle, axis=1) == pytest.approx(0.5, abs=1e-6)
    heights = (sheet.vertices - middle) @ np.array([0.6, 0.0, 0.8])
    assert np.abs(heights) == pytest.approx(0.02, abs=1e-6)  # half of what a thin one is drawn
    left = as_solid(sheet) - as_solid(flawed.rough.mesh)
    assert left.volume() < 1e-6  # no farther than the piece
    assert outside.vertices.min(axis=0) == pytest.approx(middle + 89.9, abs=0.02)


def test_the_page_names_them_in_its_list_and_from_three_sides(plan, flawed):
    page = page_html(scene_of(flawed))
    assert "<h3>Flaws</h3>" in page
    assert "bubble &lt;b&gt;: point at" in page
    assert "<b>" not in page
    assert page.count(">bubble &lt;b&gt;</text>") == 3
    assert "<h3>Flaws</h3>" not in page_html(scene_of(plan))


def test_plan_json_tells_them(plan, flawed, middle):
    told = plan_file(flawed).values()
    bubble, crack, needle = told["rough"]["flaws"]
    assert bubble == {
        "name": "bubble <b>",
        "points_mm": [pytest.approx(list(middle))],
        "normal": None,
        "across_mm": None,
        "radius_mm": 0.5,
        "clearance_mm": 0.2,
        "mesh": None,
        "allowed": "nowhere in the stone",
    }
    assert crack["normal"] == [0.6, 0.0, 0.8]
    assert crack["across_mm"] is None
    assert len(needle["points_mm"]) == 2
    assert plan_file(plan).values()["rough"]["flaws"] == []


@pytest.mark.parametrize(
    "wrong",
    [
        {"clearance_mm": 0.0},
        {"points_mm": []},
        {"kind": "ball"},
        {"mesh": "../01.ply"},
        {"allowed": "anywhere"},
    ],
)
def test_the_published_shape_refuses_other_flaws(wrong, flawed):
    told = plan_file(flawed).values()
    told["rough"]["flaws"][0].update(wrong)
    with pytest.raises(ValidationError):
        PlanFile.model_validate_json(json.dumps(told))


def test_a_mesh_and_a_flaw_left_in_the_stone_are_drawn_and_told(plan, middle):
    cube = shapes.moved(shapes.box((1.0, 1.0, 1.0)), np.eye(3), middle)
    cloud = Flaw("cloud", middle[None], None, 0.0, 0.0, 0.2, cube, "deep/cloud.stl", True)
    view = FlawView("cloud", False, 1.25, 2.5, -30.0, True)
    flawed = replace(with_guidance(plan, flaws=(view,)), rough=replace(plan.rough, flaws=(cloud,)))
    scene = scene_of(flawed)
    (layer,) = [layer for layer in scene.layers if layer.key == "flaws"]
    assert volume(layer.parts[0].mesh) == pytest.approx(1.0)
    page = page_html(scene)
    assert "cloud: the shape of deep/cloud.stl, 1 × 1 × 1 mm, about (" in page
    line = (
        "Flaw in the stone: cloud, 1.25 mm below the table's level at its highest, its middle "
        "2.50 mm off the axis, azimuth −30.0°; it comes to its surface, and no part of it is "
        "seen straight below the table."
    )
    assert flaw_line(view) == line
    assert escape(line) in page
    assert line.replace("−", "-") in summary(flawed)
    told = plan_file(flawed).values()
    assert told["rough"]["flaws"][0]["mesh"] == "flaws/01.ply"
    assert told["rough"]["flaws"][0]["allowed"] == "off the table"
    assert told["stones"][0]["guidance"]["flaws_within"] == [
        {
            "flaw": "cloud",
            "crack": False,
            "below_table_mm": 1.25,
            "off_axis_mm": 2.5,
            "azimuth_deg": -30.0,
            "reaches_surface": True,
        }
    ]
    assert plan_file(plan).values()["stones"][0]["guidance"]["flaws_within"] == []
