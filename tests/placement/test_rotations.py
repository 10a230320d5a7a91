"""Rotations: proper, evenly spread, aimed where they should be."""

import numpy as np
import pytest
import shapes
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from optimizer.placement.rotations import (
    aimed_rotations,
    even_rotations,
    from_quaternions,
    one_of_each_orbit,
    orthonormal,
    random_rotation,
    turn,
    turning_z_to,
)

vectors = st.lists(st.floats(-3.0, 3.0), min_size=3, max_size=3).map(np.array)


def is_proper(rotations):
    eye = np.einsum("nij,nkj->nik", rotations, rotations)
    return np.abs(eye - np.eye(3)).max() < 1e-12 and np.all(np.linalg.det(rotations) > 0.0)


@given(vectors, st.sampled_from([1.0, 1e-7, 1e-9, 0.0]))
def test_turn_is_the_rotation_vector_s_rotation(vector, scale):
    """Against scipy's Rotation.from_rotvec."""
    expected = Rotation.from_rotvec(vector * scale).as_matrix()
    assert np.abs(turn(vector * scale) - expected).max() < 1e-14


def test_quaternions_against_scipy():
    q = np.random.default_rng(0).normal(size=(20, 4))
    q /= np.linalg.norm(q, axis=1, keepdims=True)
    assert np.abs(from_quaternions(q) - Rotation.from_quat(q).as_matrix()).max() < 1e-14


@pytest.mark.parametrize(("count", "gap_deg"), [(576, 28.0), (4608, 13.0)])
def test_even_rotations_leave_no_larger_gap_than_published(count, gap_deg):
    """The largest gap of super-Fibonacci sets of these sizes, 28 and 13 degrees (derived by
    calculation from Alexa, CVPR 2022); random sets leave 40 and 21."""
    rotations = even_rotations(count)
    assert is_proper(rotations)
    probes = Rotation.random(2000, random_state=1).as_matrix()
    traces = np.einsum("nij,pij->pn", rotations, probes)
    gaps = np.degrees(np.arccos(np.clip((traces.max(axis=1) - 1.0) / 2.0, -1.0, 1.0)))
    assert gaps.max() < gap_deg + 0.5


def test_one_of_each_orbit_reaches_every_rotation_once():
    group = Rotation.from_rotvec(np.outer(np.arange(8) * np.pi / 4.0, [0.0, 0.0, 1.0])).as_matrix()
    every = even_rotations(8000)
    kept = one_of_each_orbit(every, group)
    assert len(kept) == pytest.approx(1000, rel=0.1)
    # Each rotation, turned by some member of the group, turns no less than the one kept.
    traces = np.einsum("nij,qji->nq", kept, group)
    assert np.all(traces[:, 0] >= traces.max(axis=1) - 1e-12)


@given(st.integers(0, 1000))
def test_aimed_rotations_meet_the_ranges_and_fill_them(seed):
    rng = np.random.default_rng(seed)
    normal = shapes.random_rotation(rng)[:, 0]
    tilt, azimuth = np.sort(rng.uniform(-1.5, 1.5, 2)), np.sort(rng.uniform(-3.0, 3.0, 2))
    rotations = aimed_rotations(normal, tuple(tilt), tuple(azimuth), 400, seed)
    assert is_proper(rotations)
    seen = np.einsum("nji,j->ni", rotations, normal)
    tilts, azimuths = np.arcsin(np.clip(seen[:, 2], -1, 1)), np.arctan2(seen[:, 1], seen[:, 0])
    for values, (low, high) in ((tilts, tilt), (azimuths, azimuth)):
        assert values.min() >= low - 1e-9
        assert values.max() <= high + 1e-9
        assert np.ptp(values) > 0.9 * (high - low)


def test_orthonormal_mends_and_keeps():
    rotation = random_rotation(3)
    assert np.abs(orthonormal(rotation) - rotation).max() < 1e-15
    assert np.abs(orthonormal(rotation * 1.001) - rotation).max() < 1e-12
    assert np.linalg.det(orthonormal(np.diag([1.0, 1.0, -1.0]))) > 0.0


@given(vectors.filter(lambda v: np.linalg.norm(v) > 1e-3))
def test_turning_z_to(vector):
    direction = vector / np.linalg.norm(vector)
    rotation = turning_z_to(direction)
    assert is_proper(rotation[None])
    assert np.abs(rotation[:, 2] - direction).max() < 1e-15
