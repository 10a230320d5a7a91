"""The step of the joint refinement: nothing moves without a gain, and upright stones stay so."""

from dataclasses import replace

import numpy as np
import pytest
import shapes
from divisions import BESIDE, SKIN, instance_of, offer_of, row, stone_at
from solids import body_of

from optimizer.mesh import Plane
from optimizer.placement.rotations import turn
from optimizer.several.ascent import EvenGoal
from optimizer.several.joint import layout_at
from optimizer.several.joint_problem import joint_problem
from optimizer.several.joint_rows import best_step

EDGE, RADIUS = 4.0, 0.2


def step_of_two_cubes(rotation, upright=None):
    """Shifts and turns (2, 3), scan frame, and the predicted gain of the step that shares the room
    of a bar, along x, between two cubes for which it is too short and more than wide enough."""
    offer = offer_of(body_of(shapes.box((1.0, 1.0, 1.0))))
    mesh = shapes.box((2.0 * EDGE + 2.0 * SKIN, 3.0 * EDGE, 3.0 * EDGE))
    stones = [stone_at(offer, EDGE, (side * EDGE / 2.0, 0, 0), rotation) for side in (-1.0, 1.0)]
    instance = instance_of(mesh, offer)
    joint, given = joint_problem(instance, row(stones, [Plane(np.array([1.0, 0.0, 0.0]), 0.3)]))
    at = layout_at(joint, [(s.rotation, s.translation) for s in given.stones], given.planes, map)
    assert (at.widths < EDGE - BESIDE / 2.0).all()
    turned = instance.ground.ground2scan
    joint = replace(joint, upright=None if upright is None else upright @ turned)
    goal = EvenGoal(np.full(2, EDGE)).step_objective(at)
    step = best_step(joint, at, RADIUS, goal, map)
    return step.stones[:, 1:4] @ turned.T, step.stones[:, 4:7] @ turned.T, step.predicted_gain


def test_what_brings_no_gain_does_not_move():
    shifts, turns, gain = step_of_two_cubes(np.eye(3))
    assert gain > 0.01
    assert shifts[:, 1:] == pytest.approx(0.0, abs=1e-9)
    assert turns[:, 0] == pytest.approx(0.0, abs=1e-9)


def test_upright_stones_turn_about_that_axis_alone():
    """Cubes that lean across the row can be made larger by a turn back, about y."""
    leaning, upright = turn(np.array([0.0, 0.1, 0.0])), np.array([0.0, 0.0, 1.0])
    _, turns, gain = step_of_two_cubes(leaning)
    assert np.abs(turns[:, 1]).max() > 0.01
    _, held, less = step_of_two_cubes(leaning, upright)
    assert held[:, :2] == pytest.approx(0.0, abs=1e-9)
    assert 0.0 < less < gain
