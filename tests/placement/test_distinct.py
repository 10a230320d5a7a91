"""Telling distinct places apart: the quick way against the plain one."""

import numpy as np
from shapes import random_rotation

from optimizer.placement.climb import State
from optimizer.placement.search import SAME, distinct

GROUP = np.array([np.eye(3), np.diag([-1.0, -1.0, 1.0])])
LEVER = 5.0


def same_place(a: State, b: State) -> bool:
    """Near in shift, and in the least turn over the body's own rotations."""
    turns = [np.trace(b.rotation.T @ a.rotation @ q.T) for q in GROUP]
    angle = np.arccos(np.clip((max(turns) - 1.0) / 2.0, -1.0, 1.0))
    return np.linalg.norm(a.translation - b.translation) <= SAME * LEVER and angle < SAME


def plainly(states: list[State], count: int) -> list[State]:
    kept: list[State] = []
    for state in sorted(states, key=lambda s: -s.merit):
        if len(kept) < count and not any(same_place(state, other) for other in kept):
            kept.append(state)
    return kept


def crowd(seed: int) -> list[State]:
    """Some places, each many times: nudged a little, turned by the body's own rotations."""
    rng = np.random.default_rng(seed)
    homes = [(random_rotation(rng), rng.uniform(-1, 1, 3)) for _ in range(12)]
    states = []
    for _ in range(150):
        rotation, place = homes[rng.integers(12)]
        nudge = rng.choice([0.0, 0.3, 3.0]) * SAME
        near = np.array([[1, -nudge, 0], [nudge, 1, 0], [0, 0, 1.0]]) / np.hypot(1, nudge)
        near[2, 2] = 1.0
        turned = rotation @ GROUP[rng.integers(2)] @ near
        shift = rng.choice([0.0, 0.5, 2.0]) * SAME * LEVER * np.array([1.0, 0.0, 0.0])
        states.append(State(float(rng.integers(5)), turned, place + shift, 0.0))
    return states


def test_the_same_states_are_kept_as_by_comparing_every_pair():
    for seed in range(5):
        states = crowd(seed)
        for count in (1, 7, 1000):
            kept, plain = distinct(states, GROUP, LEVER, count), plainly(states, count)
            assert [id(s) for s in kept] == [id(s) for s in plain]
        assert 12 < len(distinct(states, GROUP, LEVER, 1000)) < len(states)


def test_none_of_none():
    assert distinct([], GROUP, LEVER, 5) == []
