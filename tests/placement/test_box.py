"""Boxes of parameters: the common core lies in every body, and no stone passes the bound."""

import numpy as np
import shapes
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import ConvexHull

from optimizer.design import library, load_design
from optimizer.design.family import Family, Free
from optimizer.placement.box import Box
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
        wide = {**mains, "length_to_width": (long.default, min(long.default + 0.15, long.high))}
        yield Box.whole(family_of(name, **wide))


BOXES = [box for name in library() for box in boxes(name)]


@given(st.integers(0, len(BOXES) - 1), st.integers(0, 10_000), st.integers(0, 2))
@settings(max_examples=20)
def test_the_core_lies_in_every_body_of_the_box_and_reaches_as_far_as_it_says(number, seed, depth):
    rng, box = np.random.default_rng(seed), BOXES[number]
    for _ in range(depth):
        box = box.halves()[rng.integers(2)]
    values = rng.uniform(box.low, box.high)
    body = box.family.exact(values)
    normals, offsets = body.normals, body.offsets / body.cube_edge
    assert (box.core.corners @ normals.T - offsets).max() < 0.0
    hull = ConvexHull(box.core.corners)
    out = body.vertices / body.cube_edge @ hull.equations[:, :3].T + hull.equations[:, 3]
    assert out.max() <= box.core.reach
    turned = np.linalg.norm(normals - box.corners[0].normals, axis=1)
    assert 2.0 * np.arcsin(turned.max() / 2.0) <= box.core.turn
    assert box.least(lambda b: b.unit_volume) <= body.unit_volume
    assert body.unit_volume <= box.most(lambda b: b.unit_volume)


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
        body = box.family.exact(rng.uniform(box.low, box.high))
        growing = growing_by_width(body, 0.0, 1e9)  # the girdle's share alone
        for turn in range(40):
            rotation = random_rotation(40 * number + turn)
            width = room.gauge(Situation(growing, rotation, rng.normal(size=3)), -np.inf)
            best = max(best, width * body.cube_edge)
    assert 0.5 * bound < best <= bound
