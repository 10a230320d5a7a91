"""What the page and the terminal say of the nearest order."""

from dataclasses import replace

import pytest

from optimizer.plan_model import NearestOrder, OrderChange
from optimizer.report.nearest_words import nearest_order_lines
from optimizer.report.scene import scene_of
from optimizer.report.sections.answer import answer
from optimizer.report.summary import summary


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("size", "width_mm", (9.0, 9.0), (8.4, 8.4)), "width_mm = 8.4 in [size] instead of 9;"),
        (("zone", "tilt_deg", (-5.0, 5.0), (-5.0, 12.1)),
         "tilt_deg = [-5, 12.1] in [zone] instead of [-5, 5];"),
        (("girdle", "least_mm", 0.5, 0.25), "least_mm = 0.25 in [girdle] instead of 0.5;"),
        (("", "design", "oval or pear", "cushion"), "design = cushion instead of oval or pear;"),
        (("zone", "keep_clear_mm", 0.5, None), "without keep_clear_mm in [zone];"),
        (("parameters", "", None, None), "without [parameters];"),
        (("", "count", (6.0, 6.0), (4.0, 4.0), "ring"),
         'count = 4 for the wanted "ring" instead of 6;'),
        (("size", "width_mm", (6.0, 6.0), (5.0, 5.0), "ring"),
         'width_mm = 5 in [size] for the wanted "ring" instead of 6;'),
        (("", "", None, None, "ring"), 'without the wanted "ring";'),
    ],
)  # fmt: skip
def test_each_change_is_told_as_the_order_file_has_it(plan_without_stone, change, words):
    near = NearestOrder((OrderChange(*change),), plan_without_stone.nearest_orders[0].stones)
    (line,) = nearest_order_lines(replace(plan_without_stone, nearest_orders=(near,)))
    assert line.startswith(f"The nearest order that a search found to work: {words} all else as")


def test_the_nearest_is_told_with_its_stone_on_the_page_and_the_terminal(plan_without_stone):
    told = "in [size] instead of 30; all else as ordered. It gives "
    assert told in " ".join(summary(plan_without_stone))
    assert told in answer(scene_of(plan_without_stone))


def test_the_next_nearest_follow_and_several_stones_are_counted(plan_without_stone):
    near = plan_without_stone.nearest_orders[0]
    three = NearestOrder(near.changes, near.stones * 3)
    lines = list(nearest_order_lines(replace(plan_without_stone, nearest_orders=(near, three) * 4)))
    assert len(lines) == 3
    assert lines[1].startswith("Another: width_mm = 12.5")
    assert "It gives 3 stones, " in lines[1]
