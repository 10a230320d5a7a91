"""The tiling of all rotations: no holes, true radii, flat sides, one of each orbit."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from optimizer.placement.cells import Cells, all_rotations, in_fundamental_zone, quaternions


def split(levels):
    cells = all_rotations()
    for _ in range(levels):
        cells = cells.split()
    return cells


def angles(cells, rotations):
    """Angle between every cell's middle and every rotation, (r, n)."""
    dots = np.abs(rotations.as_quat() @ quaternions(cells.chart, cells.middle).T)
    return 2.0 * np.arccos(np.minimum(dots, 1.0))


def chart_places(rotations):
    """By hand: the chart of the greatest part, and the other parts over it."""
    q = rotations.as_quat()
    chart = np.abs(q).argmax(axis=1)
    scaled = q / np.take_along_axis(q, chart[:, None], axis=1)
    return chart, np.array([np.delete(row, c) for row, c in zip(scaled, chart, strict=True)])


def test_random_rotations_lie_in_a_cell_and_within_its_radius():
    cells = split(4)
    radii = cells.radii()
    assert len(cells) == 4 * 8**4
    lookup = np.full((4, 16, 16, 16), -1)
    lookup[cells.chart, *np.floor((cells.middle + 1.0) / (2.0 * cells.half)).astype(int).T] = (
        np.arange(len(cells))
    )
    assert lookup.min() >= 0
    rotations = Rotation.random(50_000, random_state=0)
    chart, place = chart_places(rotations)
    grid = np.minimum(np.floor((place + 1.0) / (2.0 * cells.half[0])).astype(int), 15)
    cell = lookup[chart, grid[:, 0], grid[:, 1], grid[:, 2]]
    q = quaternions(cells.chart, cells.middle)[cell]
    turned = 2.0 * np.arccos(np.minimum(np.abs((q * rotations.as_quat()).sum(axis=1)), 1.0))
    assert np.all(turned <= radii[cell] + 1e-9)


@given(st.integers(0, 4 * 8**3 - 1), st.integers(0, 1000))
def test_sides_hold_the_cell_and_no_more(number, seed):
    """Random rotations of the cell meet its six sides; its corners touch three each."""
    cells = split(3).take(np.array([number]))
    rng = np.random.default_rng(seed)
    unit = np.vstack([rng.uniform(-1.0, 1.0, (30, 3)), [[1, 1, 1], [-1, -1, -1], [1, -1, 1]]])
    places = cells.middle + cells.half[:, None] * unit
    inside = Rotation.from_quat(quaternions(np.repeat(cells.chart, len(unit)), places))
    turned = (Rotation.from_matrix(cells.rotations()[0]).inv() * inside).as_rotvec()
    size = np.linalg.norm(turned, axis=1)
    g = turned / size[:, None] * np.tan(size / 2.0)[:, None]
    (sides,) = cells.sides()
    room = sides[:, 3] - g @ sides[:, :3].T
    assert room.min() >= -1e-12
    assert np.all((np.abs(room[-3:]) < 1e-9).sum(axis=1) == 3)
    assert size.max() <= cells.radii()[0]
    assert np.linalg.matrix_rank(sides[:3, :3]) == 3


def test_splitting_halves_and_covers_the_parent():
    parent = split(2).take(np.array([37]))
    children = parent.split()
    assert len(children) == 8
    assert children.half == pytest.approx(np.tile(parent.half / 2.0, (8, 1)))
    assert np.abs(children.middle - parent.middle).max() == pytest.approx(parent.half[0] / 2.0)
    assert len(np.unique(children.middle, axis=0)) == 8
    assert children.radii().max() < 0.62 * parent.radii()[0]


@given(st.integers(0, 10_000))
@settings(max_examples=30)
def test_every_orbit_keeps_a_rotation(seed):
    """Of any rotation's orbit, the one that turns least lies in a cell that is kept."""
    group = Rotation.from_rotvec(np.outer(np.arange(8) * np.pi / 4.0, [0.0, 0.0, 1.0]))
    cells = split(3)
    kept = in_fundamental_zone(cells.rotations(), cells.radii(), group.as_matrix())
    assert kept.mean() < 0.6
    orbit = Rotation.random(random_state=seed) * group
    least = Rotation.from_quat(orbit.as_quat()[np.argmin(orbit.magnitude())][None])
    (reach,) = angles(cells, least)
    near = reach <= cells.radii()
    assert np.all(kept[near & (reach < 0.3 * cells.radii())])
    assert np.any(kept & near)


@given(st.integers(0, 10_000))
def test_halves_of_any_box_cover_it_and_share_its_longest_side(seed):
    rng = np.random.default_rng(seed)
    parent = Cells(np.array([1]), rng.uniform(-0.5, 0.5, (1, 3)), rng.uniform(0.1, 0.5, (1, 3)))
    children = parent.halved()
    assert len(children) == 2
    assert np.prod(children.half, axis=1).sum() == pytest.approx(np.prod(parent.half))
    low, high = children.middle - children.half, children.middle + children.half
    assert low.min(axis=0) == pytest.approx((parent.middle - parent.half)[0])
    assert high.max(axis=0) == pytest.approx((parent.middle + parent.half)[0])
    assert np.argmax(np.abs(np.diff(children.middle, axis=0))) == np.argmax(parent.half)
    assert children.radii().max() <= parent.radii()[0]
