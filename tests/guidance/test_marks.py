"""Marks: where the axis leaves, and the lines around the piece."""

import numpy as np
import pytest
import shapes
from hypothesis import given
from hypothesis import strategies as st
from placed_stones import box_body, placement_of

from optimizer.guidance.marks import first_hit, stone_marks
from optimizer.solid import as_solid

SEEDS = st.integers(0, 10_000)


def marks_in_box(turn, shift):
    box = shapes.moved(shapes.box((20.0, 16.0, 12.0)), turn, shift)
    stone = placement_of(box_body(), 4.0, shift + turn @ [3.0, 2.0, 1.0], turn)
    return {m.name: m for m in stone_marks(stone.pose, box, as_solid(box))}


@given(SEEDS)
def test_the_marks_of_a_stone_laid_square_in_a_box(seed):
    turn, shift = shapes.random_motion(np.random.default_rng(seed))
    marks = marks_in_box(turn, shift)
    told = {name: (mark.point - shift) @ turn for name, mark in marks.items()}
    assert told["axis, table side"] == pytest.approx([3, 2, 6.0], abs=1e-9)
    assert told["axis, culet side"] == pytest.approx([3, 2, -6.0], abs=1e-9)
    assert told["girdle line"] == pytest.approx([10, 2, 1.0], abs=1e-9)
    assert told["length line"] == pytest.approx([3, 2, 6.0], abs=1e-9)
    assert marks["girdle line"].direction == pytest.approx(turn[:, 2])
    assert marks["length line"].direction == pytest.approx(turn[:, 0])
    assert marks["axis, culet side"].direction == pytest.approx(-turn[:, 2])


@given(SEEDS)
def test_lines_run_around_the_piece_in_their_planes(seed):
    turn, shift = shapes.random_motion(np.random.default_rng(seed))
    marks = marks_in_box(turn, shift)
    for name, axis, level, length in [("girdle line", 2, 1.0, 72.0), ("length line", 1, 2.0, 64.0)]:
        line = (marks[name].line - shift) @ turn
        assert line[:, axis] == pytest.approx(np.full(len(line), level), abs=1e-7)
        beside = np.max(np.abs(line) - [10.0, 8.0, 6.0], axis=1)
        assert beside == pytest.approx(np.zeros(len(line)), abs=1e-7)
        around = np.linalg.norm(np.roll(line, -1, axis=0) - line, axis=1).sum()
        assert around == pytest.approx(length, abs=1e-6)


def test_a_line_passes_through_its_point():
    marks = marks_in_box(np.eye(3), np.zeros(3))
    for name in ("girdle line", "length line"):
        line, point = marks[name].line, marks[name].point
        side = np.roll(line, -1, axis=0) - line
        share = np.clip(((point - line) * side).sum(1) / (side * side).sum(1), 0, 1)
        assert np.linalg.norm(line + share[:, None] * side - point, axis=1).min() < 1e-7


@given(SEEDS)
def test_the_first_hit_on_a_ball_is_one_radius_away(seed):
    direction = shapes.random_rotation(np.random.default_rng(seed))[:, 0]
    hit = first_hit(shapes.icosphere(10.0, 4), np.zeros(3), direction)
    assert np.linalg.norm(hit) == pytest.approx(10.0, abs=0.03)
    assert hit / np.linalg.norm(hit) == pytest.approx(direction, abs=1e-9)


def test_a_ray_along_edges_and_corners_hits():
    box = shapes.box((2.0, 2.0, 2.0))
    for direction in ([1, 1, 1], [1, 1, 0], [1, 0, 0], [0, 0, -1.0]):
        unit = np.array(direction, float) / np.linalg.norm(direction)
        assert np.abs(first_hit(box, np.zeros(3), unit)).max() == pytest.approx(1.0)


def test_the_nearest_of_several_hits_counts():
    piece = shapes.hollow(
        shapes.box((20, 20, 20)),
        shapes.moved(shapes.box((2, 2, 2)), np.eye(3), np.array([0, 0, 6.0])),
    )
    assert first_hit(piece, np.zeros(3), np.array([0.0, 0, 1])) == pytest.approx([0, 0, 5.0])
