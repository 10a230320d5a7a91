"""The first bound: its measures in closed form, and never below a stone that fits."""

import itertools

import numpy as np
import pytest
import shapes
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import ConvexHull
from solids import body_of

from optimizer.placement.bound import _measures, widest
from optimizer.placement.containers import Planes, hull_planes
from optimizer.placement.ground import Ground
from optimizer.placement.growing import growing_by_width
from optimizer.placement.situation import Situation


@given(st.tuples(*[st.floats(0.5, 20.0)] * 3))
def test_measures_of_a_box(size):
    """Volume abc, surface 2(ab+bc+ca), mean width (a+b+c)/2, diagonal, half the least edge."""
    a, b, c = size
    box = shapes.box(size)
    expected = [
        a * b * c,
        2 * (a * b + b * c + c * a),
        (a + b + c) / 2,
        np.hypot(a, np.hypot(b, c)),
    ]
    measures = _measures(box.vertices, box.faces)
    assert measures[:4] == pytest.approx(expected, rel=1e-12)
    assert measures[4] == pytest.approx(min(size) / 2.0, rel=1e-12)


def test_measures_of_a_fine_ball():
    """A ball of radius r: 4πr³/3, 4πr², mean width 2r, 2r, r."""
    ball = shapes.icosphere(3.0, 5)
    expected = [36.0 * np.pi, 36.0 * np.pi, 6.0, 6.0, 3.0]
    assert _measures(ball.vertices, ball.faces) == pytest.approx(expected, rel=2e-3)


def planes_of(mesh):
    return hull_planes(ConvexHull(mesh.vertices))


@given(st.integers(0, 10_000), st.floats(0.0, 1.0))
@settings(max_examples=30)
def test_no_stone_that_fits_passes_the_bound(seed, skin):
    rng = np.random.default_rng(seed)
    hull = planes_of(shapes.random_polytope(seed))
    body = body_of(shapes.random_polytope(seed + 1, 12, 1.0))
    bound = widest(body, Planes(hull.normals, hull.offsets - skin))
    growing = growing_by_width(body, skin, 0.0)
    for _ in range(50):
        place = rng.uniform(-3.0, 3.0, 3)
        assert hull.gauge(Situation(growing, shapes.random_rotation(rng), place), -np.inf) <= bound


def test_a_body_in_itself_is_bounded_tightly():
    mesh = shapes.random_polytope(4)
    body = body_of(mesh)
    assert widest(body, planes_of(mesh)) == pytest.approx(1.0, rel=1e-6)


def cut(hull, *planes):
    """The hull cut by further (normal, offset) planes."""
    return Planes(
        np.vstack([hull.normals, *(n for n, _ in planes)]),
        np.concatenate([hull.offsets, [c for _, c in planes]]),
    )


def test_less_room_bounds_less():
    hull = planes_of(shapes.box((10.0, 10.0, 10.0)))
    cube = body_of(shapes.box((1.0, 1.0, 1.0)))
    assert widest(cube, hull) == pytest.approx(10.0, rel=1e-6)
    assert widest(cube, Planes(hull.normals, hull.offsets - 1.0)) == pytest.approx(8.0, rel=1e-6)
    assert widest(cube, cut(hull, ([0.0, 0.0, 1.0], 0.0))) == pytest.approx(5.0, rel=1e-6)
    assert widest(cube, cut(hull, ([0.0, 0.0, 1.0], -6.0))) == 0.0


@pytest.mark.parametrize("name", ["ball", "bent", "dented", "notched", "polytope"])
def test_found_stones_stay_below_it(name):
    from optimizer.placement.ground import spread
    from optimizer.placement.search import Effort, Task, Watch, even_starts, search

    ground = Ground.of(shapes.all_rough()[name])
    corners = np.array(list(itertools.product([-0.5, 0.5], repeat=3))) * [1.0, 1.5, 2.0]
    body = body_of(shapes.hull(corners))
    effort = Effort(rotations=100, centres=12, coarse=30, fine=10, rounds=0, final=3, cells=0)
    task = Task(
        growing_by_width(body, 0.1, 0.0), (), (),
        even_starts(effort.rotations, body.rotations, 0),
        spread(ground.places, ground.depths, effort.centres), np.inf,
    )  # fmt: skip
    best = search(ground, task, effort, Watch())[0].sigma
    room = Planes(ground.hull.normals, ground.hull.offsets - 0.1)
    assert 0.0 < best <= widest(body, room)
