"""Cuts turned square or parallel to flats, against closed forms."""

import numpy as np
import pytest
import shapes
from divisions import assert_feasible, instance_of, offer_of, row, shaken, stone_at
from solids import body_of

from optimizer.mesh import Plane
from optimizer.placement.search import QUIET
from optimizer.several.cut_tree import cuts_of
from optimizer.several.refine import refine
from optimizer.several.simplified import simplified

TILTED = np.array([np.cos(0.4), np.sin(0.4), 0.0])


def two_in(mesh, seed=2):
    body = body_of(shapes.random_polytope(seed, 14, radius=0.5))
    offer = offer_of(body)
    stones = [stone_at(offer, 4.0, x * TILTED) for x in (-4.0, 4.0)]
    division = row(stones, [Plane(TILTED, 0.0)])
    instance = instance_of(mesh, offer)
    return instance, refine(instance, division, effort="normal", watch=QUIET)


def test_a_cut_is_turned_square_to_a_flat():
    mesh = shapes.box((20.0, 11.0, 9.0))
    instance, free = two_in(mesh)
    flat = np.array([0.0, 0.0, 1.0])
    square = simplified(instance, free, [flat], effort="normal", watch=QUIET)
    (cut,) = cuts_of(square.cut_tree)
    assert cut.normal @ flat == pytest.approx(0.0, abs=1e-12)
    assert_feasible(instance, mesh, square)


def test_cuts_that_are_simple_already_lose_nothing():
    """Cubes in a bar: the best cuts are square to it, so shaken ones set square lose nothing."""
    cube = body_of(shapes.box((1.0, 1.0, 1.0)))
    mesh, offer = shapes.box((5 * 3 + 2.0 + 0.5, 5.5, 5.5)), offer_of(cube)
    instance = instance_of(mesh, offer)
    x = np.array([1.0, 0.0, 0.0])
    stones = [stone_at(offer, 4.0, (at, 0, 0)) for at in (-6.0, 0.0, 6.0)]
    division = shaken(row(stones, [Plane(x, -3.0), Plane(x, 3.0)]), 0, 0.2, 0.05)
    best = refine(instance, division, effort="thorough", watch=QUIET)
    for flats in ([x], [np.array([0.0, 1.0, 0.0]), np.array([0.0, 0.0, 1.0]), x]):
        square = simplified(instance, division, flats, effort="thorough", watch=QUIET)
        for cut in cuts_of(square.cut_tree):
            assert abs(cut.normal @ x) == pytest.approx(1.0, abs=1e-12)
        assert instance.division_worth(square) == pytest.approx(
            instance.division_worth(best), rel=1e-6
        )


def test_without_flats_the_later_cuts_follow_the_first():
    cube = body_of(shapes.box((1.0, 1.0, 1.0)))
    mesh, offer = shapes.box((20.0, 6.0, 6.0)), offer_of(cube)
    instance = instance_of(mesh, offer)
    first, second = np.array([1.0, 0.0, 0.0]), np.array([0.99, 0.1, 0.0])
    stones = [stone_at(offer, 3.0, (at, 0, 0)) for at in (-6.0, 0.0, 6.0)]
    division = row(stones, [Plane(first, -3.0), Plane.through(3.0 * first, second)])
    square = simplified(instance, division, [], effort="normal", watch=QUIET)
    one, other = cuts_of(square.cut_tree)
    assert one.normal == pytest.approx(first, abs=1e-12)
    assert other.normal == pytest.approx(first, abs=1e-12)
    assert_feasible(instance, mesh, square)
