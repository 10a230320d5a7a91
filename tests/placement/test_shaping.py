"""Free parameters in the search: how contacts and demands move with them, and what is found."""

from dataclasses import replace

import numpy as np
import pytest
import shapes
from design_places import SAMPLE
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.spatial import ConvexHull

from optimizer.design import library, load_design
from optimizer.design.family import Family, Free, step_of
from optimizer.mesh import Plane
from optimizer.placement.containers import Surface, hull_planes
from optimizer.placement.demands import Offset
from optimizer.placement.direction import OffCleavage
from optimizer.placement.growing import growing_by_width, growing_in_shape
from optimizer.placement.rotations import random_rotation
from optimizer.placement.situation import Situation

NUDGE = np.array([1e-3, 1e-3])
LEVER = 5.0


def family_of(name, half_deg=1.0, **fixed):
    design = load_design(name)
    free = tuple(
        Free(p.name, p.default - half_deg, p.default + half_deg, p.default, 0.1)
        for p in (design.parameters["crown"], design.parameters["pavilion"])
    )
    return Family(design, fixed, free, 0.3, 0.02)


OVAL, HEXAGON = family_of("oval"), family_of("long-hexagon")


def growing_at(family, values, skin, narrowest=0.0):
    cell = family.cell(values)
    nudged = [
        (cell.body(values + step), cell.body(values - step), 2.0 * step.max())
        for step in np.diag(NUDGE)
    ]
    return growing_in_shape(cell.body(values), nudged, skin, narrowest)


@pytest.mark.parametrize("name", SAMPLE)
def test_a_familys_bodies_are_those_cut_anew(name):
    family = family_of(name)
    rng = np.random.default_rng(3)
    for _ in range(3):
        values = rng.uniform(family.low, family.high)
        exact, quick = family.exact(values), family.body(values)
        assert exact.facet_names == quick.facet_names
        np.testing.assert_allclose(quick.normals, exact.normals, atol=2e-6)
        np.testing.assert_allclose(quick.offsets, exact.offsets, atol=2e-6)
        np.testing.assert_allclose(quick.vertices, exact.vertices, atol=2e-5)  # in one order
        reach = [(exact.normals @ body.vertices.T).max(axis=1) for body in (exact, quick)]
        np.testing.assert_allclose(*reach, atol=4e-6)
        assert quick.unit_volume == pytest.approx(exact.unit_volume, rel=1e-5)


@pytest.mark.parametrize("name", library())
def test_a_family_over_the_whole_of_every_range_has_its_bodies(name):
    """A few parameters over all of their ranges, the others anywhere in theirs."""
    design, rng = load_design(name), np.random.default_rng([4, *name.encode()])
    count = 3 if name in SAMPLE else 2
    known = [p for p in rng.permutation(list(design.parameters.values())) if p.low < p.high]
    free = tuple(
        Free(p.name, p.low, p.high, p.default, step_of(design, p.name)) for p in known[:count]
    )
    family = Family(
        design, {p.name: rng.uniform(p.low, p.high) for p in known[count:]}, free, 0.0, 0.0
    )
    random = rng.uniform(family.low, family.high)
    for values in (family.low, random) if name in (*SAMPLE, "cushion") else (random,):
        exact, quick = family.exact(values), family.body(values)
        assert quick is not None
        reach = [(exact.normals @ body.vertices.T).max(axis=1) for body in (exact, quick)]
        np.testing.assert_allclose(*reach, atol=1e-3)  # a cushion's keel is a point when square


@given(st.integers(0, 10_000), st.sampled_from([0.0, 0.4]), st.floats(3.0, 30.0))
@settings(max_examples=25)
def test_a_contacts_slope_is_that_of_the_exact_gauge_of_the_body_cut_anew(seed, skin, far):
    """One triangle anywhere about the stone: held by a facet, an edge or a corner."""
    rng = np.random.default_rng(seed)
    rotation, place = random_rotation(seed), rng.normal(size=3)
    towards = rng.normal(size=3)
    middle = place + far * towards / np.linalg.norm(towards)
    surface = Surface.over((middle + rng.normal(size=(3, 3)) * rng.uniform(0.1, 4.0))[None])
    values = HEXAGON.usual + rng.uniform(-0.5, 0.5, 2)
    growing = growing_at(HEXAGON, values, skin)

    def gauge(at):
        growing = growing_by_width(HEXAGON.exact(at), skin, 0.0)
        return surface.gauge(Situation(growing, rotation, place), -np.inf)

    sigma = surface.gauge(Situation(growing, rotation, place), -np.inf)
    assume(sigma > 0.5)
    at = Situation(growing, rotation, place, sigma, LEVER)
    assume(len(at.near(1e-4)) == 1)  # not where the girdle changes law
    rows, limits = surface.rows(at, 1e-4)
    row = rows[int(np.argmin(limits))]
    for j, step in enumerate(np.diag([1e-3, 1e-3])):
        up, down = gauge(values + step), gauge(values - step)
        onwards, back = (up - sigma) / 1e-3, (sigma - down) / 1e-3
        assume(abs(onwards - back) < 1e-3 * sigma)  # no kink: the same feature holds on both sides
        assert -row[7 + j] / row[0] == pytest.approx((up - down) / 2e-3, abs=3e-4 * sigma)


def test_a_planes_slope_is_that_of_its_gauge():
    planes = hull_planes(ConvexHull(shapes.random_polytope(4, 30).vertices))
    rotation, place = random_rotation(5), np.array([0.3, -0.2, 0.1])
    growing = growing_at(OVAL, OVAL.usual, 0.2, 5.0)
    sigma = planes.gauge(Situation(growing, rotation, place), -np.inf)
    rows, limits = planes.rows(Situation(growing, rotation, place, sigma, LEVER), 1e-9)
    row = rows[int(np.argmin(limits))]
    for j, step in enumerate(np.diag([1e-4, 1e-4])):
        up, down = (
            planes.gauge(Situation(by_width, rotation, place), -np.inf)
            for by_width in (
                growing_by_width(OVAL.exact(OVAL.usual + s), 0.2, 5.0) for s in (step, -step)
            )
        )
        assert -row[7 + j] / row[0] == pytest.approx((up - down) / 2e-4, abs=1e-4)


@pytest.mark.parametrize(
    "demand",
    [
        Offset("", Plane(np.array([0.48, 0.6, 0.64]), 0.3), 0.05, 0.9),
        OffCleavage(np.array([[0.48, 0.6, 0.64]]), np.radians(30.0)),
    ],
)
def test_a_demands_slopes_foretell_its_clearance(demand):
    values = OVAL.usual
    growing = growing_at(OVAL, values, 0.0, 8.0)
    at = Situation(growing, random_rotation(2), np.zeros(3), 8.0, LEVER)
    rows, limits = demand.rows(at)
    step = np.array([0.3, -0.4])
    moved = replace(at, growing=growing_by_width(OVAL.exact(values + step), 0.0, 8.0))
    change = demand.clearance(moved) - demand.clearance(at)
    foretold = (limits - rows[:, 7:] @ step).min() - limits.min()
    assert abs(change) > 1e-3
    assert foretold == pytest.approx(change, rel=0.1)


def test_settings_are_whole_steps_or_an_end_of_the_range():
    design = load_design("oval")
    free = (
        Free("crown", 35.0, 37.0, 36.0, step_of(design, "crown")),
        Free("length_to_width", 1.203, 1.4, 1.3, step_of(design, "length_to_width")),
    )
    family = Family(design, {}, free, 0.2, 0.02)
    about = [tuple(v) for v in family.rounded(np.array([36.04, 1.2041]), 8)]
    assert about[0] == (36.0, 1.203)
    assert set(about) == {(36.0, 1.203), (36.1, 1.203), (36.0, 1.21), (36.1, 1.21)}
    assert [tuple(v) for v in family.rounded(np.array([37.0, 1.4]), 8)] == [(37.0, 1.4)]
