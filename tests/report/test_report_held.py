"""What holds the stone, in plan.json, on the terminal, on the page and in the scene."""

from dataclasses import replace

import numpy as np
import pytest

from optimizer.placement.model import (
    BOUNDARY,
    DEMAND,
    FLAW,
    SIZE,
    SURFACE,
    ActiveConstraint,
    ActiveConstraints,
    Contact,
)
from optimizer.placement.shown import BALANCE, FACE
from optimizer.report.constraint_words import constraint_lines, gain, step, what, worth
from optimizer.report.document import plan_file
from optimizer.report.page import page_html
from optimizer.report.scene import scene_of
from optimizer.report.summary import summary

CORNER = Contact(np.array([1.0, -2.0, 3.0]), np.array([1.0, -2.0, 2.75]), (0, 1, 2, 3), 0.7)
EDGE = Contact(np.array([4.0, 5.0, 6.0]), np.array([4.0, 5.0, 5.75]), (0, 1), 0.4)
HOLDS = (
    ActiveConstraint(SURFACE, "", (CORNER,), 0.7, "mm", 0.3, 0.206),
    ActiveConstraint(DEMAND, 'boundary "a": tilt 0 to 8°', (), 0.06, "°", 1.0, 0.05),
    ActiveConstraint(DEMAND, "share", (), 0.02, "%", 1.0, 0.02),
    ActiveConstraint(DEMAND, "offset", (), 0.9, "", 0.05, 0.04),
    ActiveConstraint(FLAW, "needle <b>", (EDGE,), 0.4, "mm", 0.3, 0.001),
    ActiveConstraint(BOUNDARY, "a", (EDGE,), 0.4, "mm", 0.3, None),
)
HELD = ActiveConstraints(False, 1.5, 1e-11, HOLDS)


def with_held(plan, held):
    return replace(plan, stones=(replace(plan.stones[0], held=held), *plan.stones[1:]))


@pytest.fixture(scope="module")
def held(plan):
    return with_held(plan, HELD)


def test_the_terminal_says_what_holds_and_where_most_is_to_be_had(held):
    first, second = constraint_lines(held)
    assert first.startswith("The stone is held by 1 place on the rough's surface; boundary")
    assert 'the flaw "needle <b>"' in first
    assert "the surface at (1.00, −2.00, 3.00), against the corner of " in second.replace(
        "\xa0", " "
    )
    assert second.endswith("0.30 mm off is worth +0.21 ct.")
    assert first in summary(held)


def test_where_no_one_alone_brings_anything_that_is_said(plan):
    tied = tuple(replace(hold, gain=0.0) for hold in HOLDS)
    lines = list(constraint_lines(with_held(plan, replace(HELD, constraints=tied))))
    assert lines[1:] == [
        "If only one of these gives way, nothing is gained: the others still hold."
    ]
    untold = tuple(replace(hold, gain=None) for hold in HOLDS)
    assert len(list(constraint_lines(with_held(plan, replace(HELD, constraints=untold))))) == 1
    assert list(constraint_lines(with_held(plan, None))) == []
    assert "What holds the stone" not in page_html(scene_of(with_held(plan, None)))


def test_worths_that_are_rough_are_called_so(plan):
    lines = list(constraint_lines(with_held(plan, replace(HELD, left_over=0.05))))
    assert "is approximate" in lines[-1]


def test_of_a_fixed_size_the_gain_is_clearance_and_the_size_is_told_in_carats(plan):
    size = ActiveConstraint(SIZE, "the greatest width ordered", (), 0.5, "mm", 0.3, 0.9)
    fixed = replace(HELD, by_clearance=True, constraints=(HOLDS[0], size))
    first, second = constraint_lines(with_held(plan, fixed))
    assert first == (
        "The clearance is held by 1 place on the rough's surface; the greatest width ordered."
    )
    assert second.endswith("0.30 mm off is worth +0.206 mm of clearance.")
    assert (step(size), gain(fixed, size), worth(fixed, size)) == (
        "0.30 mm wider", "+0.90 ct", "0.50 ct a mm",
    )  # fmt: skip
    document = plan_file(with_held(plan, fixed)).values()["stones"][0]["held_by"]["holds"]
    assert [hold["worth"]["unit"] for hold in document] == ["mm/mm", "ct/mm"]


def test_the_page_lists_each_and_the_scene_marks_its_place(held):
    page = page_html(scene_of(held))
    assert "What holds the stone" in page
    assert "needle &lt;b&gt;" in page
    for text in (
        "1° more either way",
        "1 % of the volume more",
        "0.05 of offset more",
        "nothing alone",
        "not tried",
    ):
        assert text in page
    (layer,) = [layer for layer in scene_of(held).layers if layer.key == "contacts"]
    assert [label.text for label in layer.labels] == [
        "1: +0.21 ct",
        "5: nothing alone",
        "6: not tried",
    ]
    assert np.array_equal(layer.labels[0].point, CORNER.point)
    assert not layer.visible


def test_a_named_face_is_told(held):
    face = held.rough.reference_faces[0]
    on = replace(CORNER, point=face.plane.normal * (face.plane.offset + 0.1))
    hold = replace(HOLDS[0], contacts=(on,))
    assert what(held.rough, held.stones[0], hold).startswith(f"face {face.name} at (")


def test_plan_json_tells_worths_and_gains(held):
    told = plan_file(held).values()["stones"][0]["held_by"]
    assert told["holds"][0]["gain"] == {"value": 0.206, "unit": "ct"}
    assert told["holds"][0]["contacts"][0]["point_mm"] == [1.0, -2.0, 3.0]
    assert [hold["worth"]["unit"] for hold in told["holds"][:4]] == [
        "ct/mm", "ct/deg", "ct/percent", "ct/offset",
    ]  # fmt: skip
    assert told["holds"][5]["gain"] is None


def test_a_look_that_holds_is_told_by_face_and_balance(plan):
    most = ActiveConstraint(
        DEMAND, "the look: at most 60 % of the face violet", (), 0.2, FACE, 1.0, 0.19
    )
    even = ActiveConstraint(DEMAND, "the look: a balance", (), 3.1, BALANCE, 0.05, 0.15)
    looked = replace(HELD, constraints=(HOLDS[0], most, even))
    plan = with_held(plan, looked)
    first, second = constraint_lines(with_held(plan, replace(looked, constraints=(most, even))))
    assert first == (
        "The stone is held by the look: at most 60 % of the face violet; the look: a balance."
    )
    assert second.endswith("violet: 1 % of the face beyond it is worth +0.19 ct.")
    assert (step(even), worth(looked, even)) == (
        "0.05 of balance beyond it", "3.10 ct for a balance of 1",
    )  # fmt: skip
    assert worth(looked, most) == "0.20 ct a percent of the face"
    told = plan_file(plan).values()["stones"][0]["held_by"]["holds"][1:]
    assert [hold["worth"]["unit"] for hold in told] == ["ct/face_percent", "ct/balance"]
    assert [hold["step"]["unit"] for hold in told] == ["face_percent", "balance"]
