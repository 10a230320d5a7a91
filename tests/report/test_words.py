"""The lines on the terminal, and the small pieces that sentences are made of."""

from dataclasses import replace

import numpy as np
import pytest

from optimizer.offers.bound import Bound
from optimizer.report import summary
from optimizer.report.bound_words import bound_lines
from optimizer.report.figures import yield_percent
from optimizer.report.html import counted, number, table
from optimizer.report.scene import scene_of
from optimizer.report.sections.answer import answer
from optimizer.rough.scale.weight_words import weight_doubt
from optimizer.sawing.model import SawPlan


def test_the_answer_comes_first_and_cautions_last(plan):
    lines = summary(plan)
    assert lines[0] == "Roof <cut>, 1.26 ct"
    assert lines[1].startswith("Stone 1: Roof <cut>, 9.00 × 6.00 × 3.36 mm, 1.26 ct")
    assert "1.46 mm" not in lines[1]  # 1.4567…: rounded down, never up
    assert "at least 1.45 mm below the surface" in lines[1]
    assert lines[-1] == "Caution: Eye protection."
    assert not any("\n" in line for line in lines)


def test_what_calls_the_plan_in_question_is_said_right_after_the_answer(plan):
    rough = replace(plan.rough, weighed_ct=plan.rough.carat / 1.08)
    doubtful = replace(plan, rough=rough, warnings=(*plan.warnings, *weight_doubt(rough)))
    lines = summary(doubtful)
    assert lines[1].startswith("Warning: THE WEIGHT DOES NOT FIT: the solid weighs 23.850 ct")
    assert sum("THE WEIGHT" in line for line in lines) == 1
    page = answer(scene_of(doubtful))
    assert page.index("Roof") < page.index("THE WEIGHT") < page.index("Finished weight")


def test_the_yield_is_of_the_weighed_weight_where_there_is_one(plan):
    """Closed form: 1.26 ct out of twice the volume's weight are half the percent."""
    rough = replace(plan.rough, weighed_ct=2.0 * plan.rough.carat)
    unweighed = replace(plan, rough=replace(rough, weighed_ct=None))
    weighed = replace(plan, rough=rough)
    assert yield_percent(weighed) == pytest.approx(0.5 * yield_percent(unweighed))
    assert "47.70 ct of rough as weighed" in answer(scene_of(weighed))
    assert "box · quartz · 23.85 ct of rough by volume" in answer(scene_of(unweighed))
    assert "box, 23.85 ct of rough by volume: a yield" in "\n".join(summary(unweighed))


def test_an_old_terminal_can_show_every_line(plan, plan_without_stone):
    for each in (plan, plan_without_stone):
        told = "\n".join(summary(each))
        assert told.encode("cp1252").decode("cp1252") == told


def test_the_summary_holds_each_part(plan):
    text = "\n".join(summary(plan))
    for words in (
        "finished out of box, 23.80 ct of rough as weighed: a yield of 5.3 %",
        "Cut 1: Saw the rough into piece 1 (stone 1) and piece 2 (offcut, 9.30 ct)",
        "Dopping flat: Grind a face parallel to the table",
        "rough 23.85 ct -> sawn 14.00 ct -> finished 1.26 ct",
        "can weigh more than 1.58 ct",
        "Warning: The weighing",
        "Crystal in the stone: optic axis 0.0° to the table",
        "nearest to a cleavage plane, table, lies 7.3° off it",
        "Mended in the model: 3 corners lay twice",
    ):
        assert words in text, words


def test_without_a_stone_the_summary_says_what_fits(plan_without_stone):
    lines = summary(plan_without_stone)
    assert lines[0] == "No stone was found for this order"
    assert any("width 30 to 30 mm" in line and "1.26 ct" in line for line in lines)
    assert any("eye protection" in line for line in lines)


def test_impossible_is_said_only_where_it_is_proved(plan_without_stone):
    proved = summary(replace(plan_without_stone, status="impossible"))
    assert "It is proved that no stone" in "\n".join(proved)
    assert "proved" not in "\n".join(summary(plan_without_stone))


def test_a_plan_to_be_ground_only_says_so(plan):
    whole = SawPlan(plan.sawing.pieces[:1], (), (), (0,))
    lines = summary(replace(plan, sawing=whole))
    assert any("Nothing is worth sawing off" in line for line in lines)
    assert "in the rough as it is" in lines[1]


def test_an_early_stop_is_said(plan):
    assert "stopped early" in summary(replace(plan, interrupted=True))[1]


def test_the_room_left_is_bound_less_weight(plan):
    bound = Bound(plan.stones[0].carat + 0.5, {}, ("the size window",), ())
    text = " ".join(bound_lines(replace(plan, bound=bound)))
    assert "at most 0.50 ct" in text
    assert "the size window" in text
    assert "leaves out" not in text
    without = list(bound_lines(replace(plan, bound=None)))
    assert without == ["Nothing is proved about heavier stones."]


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [(-0.001, 2, "0.00"), (-1.25, 1, "−1.2"), (3.0, 0, "3"), (np.float64(2.5), 2, "2.50")],
)
def test_numbers(value, digits, text):
    assert number(value, digits) == text


def test_counts_and_tables():
    assert [counted(n, "cut") for n in (0, 1, 2)] == ["0 cuts", "1 cut", "2 cuts"]
    made = table(("a & b", "n"), [("<x>", "1")], numbers=(1,))
    assert "a &amp; b" in made
    assert "<td>&lt;x&gt;</td>" in made
    assert '<td class="number">1</td>' in made


def test_the_saws_error_is_weighed_beside_the_gap(plan):
    """The girdle is a share of the width at both widths here, so weight goes with its cube."""
    carat = plan.stones[0].carat
    lost = carat * (1.0 - (5.7 / 6.0) ** 3)
    assert f"weighs {lost:.2f} ct less" in " ".join(bound_lines(plan))


def test_a_bound_on_given_proportions_says_so(plan):
    covers = {"designs": ["roof"], "parameters": {"roof": {"table": 0.6}}}
    text = " ".join(bound_lines(replace(plan, bound=Bound(2.0, covers, (), ()))))
    assert "Designs covered: roof, at the angles and proportions listed in plan.json." in text
