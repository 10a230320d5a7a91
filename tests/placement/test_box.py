"""Boxes of parameters: the common core lies in every body, and no stone passes the bound."""

from itertools import product

import numpy as np
import pytest
import shapes
from design_places import SAMPLE
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import ConvexHull

from optimizer.design import load_design
from optimizer.design.enclosures.taylor import Taylor
from optimizer.design.family import Family, Free
from optimizer.placement import box as box_module
from optimizer.placement.box import APART, Box
from optimizer.placement.containers import hull_planes
from optimizer.placement.growing import growing_by_width
from optimizer.placement.proof import ProofTask, prove
from optimizer.placement.rotations import random_rotation
from optimizer.placement.situation import Situation


def family_of(name, **ranges):
    design = load_design(name)
    free = tuple(Free(k, low, high, (low + high) / 2.0, 0.1) for k, (low, high) in ranges.items())
    return Family(design, {}, free, 0.2, 0.02)


def boxes(name):
    p = load_design(name).parameters
    mains = {k: (p[k].default - 1.0, p[k].default + 1.0) for k in ("crown", "pavilion")}
    yield Box.whole(family_of(name, **mains))
    long = p["length_to_width"]
    if long.low < long.high:
        mains = {k: (p[k].default, p[k].default + 1.0) for k in mains}
        wide = {**mains, "length_to_width": (long.default, min(long.default + 0.02, long.high))}
        yield Box.whole(family_of(name, **wide))


BOXES = [box for name in (*SAMPLE, "round-brilliant") for box in boxes(name)]


@given(st.integers(0, len(BOXES) - 1), st.integers(0, 10_000), st.integers(0, 2))
@settings(max_examples=12)
def test_the_core_lies_in_every_body_of_the_box_and_reaches_as_far_as_it_says(number, seed, depth):
    rng, box = np.random.default_rng(seed), BOXES[number]
    for _ in range(depth):
        box = box.halves()[rng.integers(2)]
    values = rng.uniform(box.low, box.high)
    body = box.family.exact(values)
    scale = scale_at(box, values)
    assert (box.core.corners @ body.normals.T - scale * body.offsets).max() < 0.0
    hull = ConvexHull(box.core.corners)
    out = scale * body.vertices @ hull.equations[:, :3].T + hull.equations[:, 3]
    assert out.max() <= box.core.reach
    turned = np.linalg.norm(body.normals - box.middle.normals, axis=1)
    assert 2.0 * np.arcsin(turned.max() / 2.0) <= box.core.turn


def test_a_long_body_reaches_nearly_as_far_beyond_the_core_as_said():
    """The ends of a long stone move by nearly all of the reach, which so can't be stated less."""
    box = Box.whole(family_of("long-hexagon", length_to_width=(1.5, 1.6)))
    hull = ConvexHull(box.core.corners)
    out = max(
        (scale * body.vertices @ hull.equations[:, :3].T + hull.equations[:, 3]).max()
        for values in (box.low, box.high)
        for scale, body in [(scale_at(box, values), box.family.exact(values))]
    )
    assert 0.8 * box.core.reach < out <= box.core.reach


def scale_at(box, values):
    """λ by the box's models, in the middle of what they allow."""
    unit = (2.0 * values - box.low - box.high) / (box.high - box.low)
    return float(box.models.volume.at(unit)) ** (-1.0 / 3.0)


def test_facets_moved_in_by_the_margin_hold_no_point_that_a_facet_of_the_box_cuts_away():
    """Random facets a·z <= b, quadratic and more in two parameters: where a point lies within all
    four at the box's corners, moved in, it lies within every facet of the box."""
    rng = np.random.default_rng(0)
    unit = rng.uniform(-1.0, 1.0, (300, 2))
    tight = np.inf
    for _ in range(40):
        normals, offsets = Taylor.constant(rng.normal(size=(1, 3)), 2), Taylor.constant([1.0], 2)
        scale = np.array([0.0, 0.05, 0.05, 5e-4, 5e-4, 5e-4])[normals.monomials.degrees]
        normals.terms[:] += scale[:, None, None] * rng.normal(size=normals.terms.shape)
        points = rng.normal(size=(6, 3))
        inwards = box_module._inwards(normals, offsets, points)[0]
        ends = np.array(list(product((-1.0, 1.0), repeat=2)))
        allowed = np.max([normals.quadratic.at(end) @ points.T for end in ends], axis=(0, 1))
        reached = np.max([normals.at(d) @ points.T for d in np.vstack([unit, ends])], axis=(0, 1))
        assert np.all(reached <= allowed + inwards)
        tight = min(tight, float(((allowed + inwards - reached) / inwards).min()))
    assert tight < 0.5  # half the margin would not do


def test_no_body_reaches_further_than_said_in_any_direction():
    rng, box = np.random.default_rng(0), BOXES[0]
    directions = rng.normal(size=(40, 3))
    directions /= np.linalg.norm(directions, axis=1)[:, None]
    bodies = {}
    for unit in (-1.0, -0.3, 1.0):
        values = 0.5 * (box.low + box.high) + 0.5 * unit * (box.high - box.low)
        bodies[unit] = scale_at(box, values) * box.family.exact(values).vertices
    for direction in directions:
        most = box_module._fill(box, direction[None], np.ones(1))
        reached = max(float((corners @ direction).max()) for corners in bodies.values())
        assert 0.95 * most < reached <= most


@pytest.mark.parametrize("number", [0, 3, len(BOXES) - 1])
def test_no_stone_of_a_box_has_more_volume_than_its_size_or_width_allows(number):
    rng, box = np.random.default_rng(number), BOXES[number].halves()[0]
    for _ in range(4):
        values = rng.uniform(box.low, box.high)
        body, scale = box.family.exact(values), scale_at(box, values)
        for width in (1.0, 4.0, 7.0, 15.0):  # thin stones have the least girdle, large ones not
            volume = body.volume_at(width)
            assert 0.9 * box.volume_at_width(width) < volume <= box.volume_at_width(width)
            assert 0.94 * box.volume_at(width / scale) < volume <= box.volume_at(width / scale)
            assert scale <= box.widest
            size = box.size_for_volume(volume)
            assert 0.99 * size < width / scale
            assert box.volume_at(size) <= volume


def test_the_core_has_the_rotations_that_it_is_said_to_have():
    for box in (BOXES[0], BOXES[4], BOXES[-1]):
        hull = ConvexHull(box.core.corners)
        for turn in box.group:
            out = box.core.corners @ turn.T @ hull.equations[:, :3].T + hull.equations[:, 3]
            assert out.max() < 2.0 * APART  # of corners that lie close, one is left out
    assert max(len(box.group) for box in BOXES) == 8


def test_halves_lose_less_than_the_whole():
    box = BOXES[0]
    lost = [1.0 - ConvexHull(b.core.corners).volume for b in (box, *box.halves())]
    assert max(lost[1:]) < lost[0]
    quarter = [b for half in box.halves() for b in half.halves()]
    assert max(1.0 - ConvexHull(b.core.corners).volume for b in quarter) < 0.7 * lost[0]


def test_no_stone_of_any_parameters_and_pose_passes_the_cores_bound():
    box = next(b for b in BOXES if b.family.design.name == "oval")
    room = hull_planes(ConvexHull(shapes.random_polytope(7, 20).vertices))
    bound = prove(box.core.corners, box.group, room, ProofTask(0.0, 20.0, 0.02, 4000)).bound
    rng, best = np.random.default_rng(0), 0.0
    for number in range(20):
        values = rng.uniform(box.low, box.high)
        body, scale = box.family.exact(values), scale_at(box, values)
        growing = growing_by_width(body, 0.0, 1e9)  # the girdle's share alone
        for turn in range(40):
            rotation = random_rotation(40 * number + turn)
            width = room.gauge(Situation(growing, rotation, rng.normal(size=3)), -np.inf)
            best = max(best, width / scale)
    assert 0.5 * bound < best <= bound
