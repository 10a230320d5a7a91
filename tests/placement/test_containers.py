"""Solids by their planes: thinned to far fewer, they only grow."""

import numpy as np
import pytest
import shapes
from scipy.spatial import ConvexHull
from solids import body_of

from optimizer.placement.containers import Planes, hull_planes
from optimizer.placement.growing import growing_by_width
from optimizer.placement.situation import Situation


def thinned(planes, count):
    which = planes.far_apart(count)
    return Planes(planes.normals[which], planes.offsets[which])


def test_fewer_planes_hold_no_less_and_hardly_more():
    """A ball of 5,120 faces by 300 of them: larger by the sag between directions, and no more."""
    ball = hull_planes(ConvexHull(shapes.icosphere(10.0, 4).vertices))
    few = thinned(ball, 300)
    assert len(few.offsets) == 300
    growing = growing_by_width(body_of(shapes.random_polytope(3, 14, 1.0)), 0.1, 0.0)
    rng = np.random.default_rng(0)
    for _ in range(40):
        pose = shapes.random_rotation(rng), rng.uniform(-3.0, 3.0, 3)
        whole, larger = (p.gauge(Situation(growing, *pose), -np.inf) for p in (ball, few))
        assert whole <= larger <= 1.02 * whole


def test_few_planes_are_all_kept():
    box = hull_planes(ConvexHull(shapes.box().vertices))
    assert list(box.far_apart(100)) == list(range(6))


def test_coplanar_facets_are_one_plane():
    box = hull_planes(ConvexHull(shapes.box((4.0, 6.0, 8.0)).vertices))
    assert len(box.offsets) == 6
    assert sorted(box.offsets) == pytest.approx([2, 2, 3, 3, 4, 4])
