"""What must hold in any rough, convex or hollow: judged by the robust kernel and brute force."""

import json
from functools import cache

import manifold3d
import numpy as np
import pytest
import shapes
import trimesh
from handmade_plans import rough_of as rough_of_mesh
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize
from scipy.spatial.transform import Rotation
from solids import body_of

from optimizer import largest_copy, make_plan
from optimizer.design import load_design
from optimizer.mesh import Mesh
from optimizer.offers.offer import Offer
from optimizer.offers.width_bound import width_bound
from optimizer.order import Order, Workshop
from optimizer.placement import search
from optimizer.placement.containers import Surface
from optimizer.placement.ground import Ground, spread
from optimizer.placement.growing import growing_by_width
from optimizer.placement.place import Want
from optimizer.placement.search import Effort, Task, Watch, even_starts
from optimizer.placement.situation import Situation
from optimizer.report.document import plan_file
from optimizer.solid import as_mesh, as_solid

SMALL = Effort(rotations=120, centres=12, coarse=20, fine=8, rounds=1, final=3, cells=500)
LARGER = 1.03  # K' is K so much larger about the origin, from which all of K is seen
KINDS = ("polytope", "pebble", "dented", "chipped")
ANY = {"kind": st.sampled_from(KINDS), "seed": st.integers(0, 10_000)}


def rough_of(kind, seed):
    """A few hundred triangles at most, star-shaped about the origin."""
    match kind:
        case "polytope":
            return shapes.random_polytope(seed)
        case "pebble":
            return shapes.pebble(seed, subdivisions=2)
        case "dented":
            return shapes.dented(seed, subdivisions=2)
    ball = as_solid(shapes.ellipsoid(subdivisions=2))
    corner = as_solid(shapes.box((9.0, 9.0, 9.0))).translate((8.0, 7.0, 6.0))
    turn = shapes.random_rotation(np.random.default_rng(seed))
    return shapes.moved(as_mesh(ball - corner), turn, np.zeros(3))


@cache
def inner(seed):
    """A small body with no symmetry."""
    return body_of(shapes.random_polytope(seed + 1, 12, 1.0))


@cache
def found(kind, seed, skin):
    """The piece made ready, the body, and the best of a small search: turn, place and size."""
    ground, body = Ground.of(rough_of(kind, seed)), inner(seed)
    task = Task(
        growing_by_width(body, skin, 0.0), (), (), even_starts(SMALL.rotations, body.rotations, 0),
        spread(ground.places, ground.depths, SMALL.centres), np.inf,
    )  # fmt: skip
    best = search.search(ground, task, SMALL, Watch())[0]
    rotation = ground.ground2scan @ best.rotation
    return ground, body, rotation, ground.origin + ground.ground2scan @ best.translation, best.sigma


def outside_of(mesh):
    """All that is not rough, in a box."""
    low, high = mesh.vertices.min(axis=0) - 5.0, mesh.vertices.max(axis=0) + 5.0
    return manifold3d.Manifold.cube(tuple(high - low)).translate(tuple(low)) - as_solid(mesh)


def spare(outside, body, rotation, translation, size, skin):
    """The kernel's least gap from the stone to all that is not rough, less the skin, in mm."""
    solid = body.mesh_at(size)
    stone = as_solid(Mesh(solid.vertices @ rotation.T + translation, solid.faces))
    return stone.min_gap(outside, 2.0 * skin + 1.0) - skin


SKIN = st.sampled_from((0.0, 0.3))


@given(**ANY, skin=SKIN)
@settings(max_examples=5)
def test_the_stone_is_contained_and_no_small_move_lets_it_grow(kind, seed, skin):
    """The kernel finds the skin kept; a millionth larger, neither there nor at any place near."""
    _, body, rotation, translation, size = found(kind, seed, skin)
    outside = outside_of(rough_of(kind, seed))
    assert spare(outside, body, rotation, translation, size * (1.0 - 1e-9), skin) >= -1e-9
    larger = size * (1.0 + 1e-6)
    rng = np.random.default_rng(seed)
    assert spare(outside, body, rotation, translation, larger, skin) < 1e-7
    for reach in np.repeat([1e-6, 1e-4, 1e-2], 8):
        turned = Rotation.from_rotvec(reach * rng.normal(size=3)).as_matrix() @ rotation
        moved = translation + reach * size * rng.normal(size=3)
        assert spare(outside, body, turned, moved, larger, skin) <= 0.0


@given(**ANY, skin=SKIN)
@settings(max_examples=3)
def test_what_is_found_in_a_piece_fits_a_larger_one_and_is_below_both_bounds(kind, seed, skin):
    """K inside K': found(K) <= bound(K) and bound(K'), and the pose is good in K' as it stands.

    The bounds are told of a size half as large only, so that what they say is their own.
    """
    ground, body, rotation, translation, size = found(kind, seed, skin)
    larger = shapes.scaled(rough_of(kind, seed), LARGER)
    assert (as_solid(rough_of(kind, seed)) - as_solid(larger)).volume() == 0.0  # K is inside K'
    outer = Ground.of(larger)
    offer = Offer(load_design("oval"), {}, Want(body, (0.1, np.inf), skin))  # only what is wanted
    for place in (ground, outer):
        bound = width_bound(
            place,
            offer,
            found=size / 2.0,
            cells=SMALL.cells,
            gap=0.01,
            hollows=True,
            watch=Watch(),
        )
        assert size <= bound
    growing = growing_by_width(body, skin, 0.0)
    surface = Surface.of(larger)
    assert (
        surface.gauge(Situation(growing, np.ascontiguousarray(rotation), translation), -np.inf)
        >= size
    )
    assert surface.holds(translation)
    assert spare(outside_of(larger), body, rotation, translation, size, skin) >= 0.0


# --- brute force in a step ---------------------------------------------------------------------

STEP = (10.0, 8.0, 5.0)  # a block ...
GONE = np.array([4.0, 3.0])  # ... less all of it with x and y above these: an L-shaped prism


def step():
    """The L-shaped prism, one corner at the origin."""
    block = as_solid(shapes.box(STEP)).translate(tuple(np.array(STEP) / 2.0))
    cut = as_solid(shapes.box((20.0, 20.0, 20.0))).translate((GONE[0] + 10.0, GONE[1] + 10.0, 2.0))
    return as_mesh(block - cut)


def sizes_in_step(corners, places):
    """The largest size at each place (n, 3) of a convex body already turned, (k, 3), about 0.

    Each corner keeps within the block's six walls. Seen along z, the stone's shadow is apart
    from the quarter that is gone along a wall of that or an edge of its own, if at all.
    """
    fits = [places / -corners.min(axis=0), (np.array(STEP) - places) / corners.max(axis=0)]
    edges = (corners[:, None] - corners[None]).reshape(-1, 3)
    across = np.vstack([np.eye(2), edges[:, [1, 0]] * [1.0, -1.0]])
    across = across[np.all(across >= 0.0, axis=1) & (across.sum(axis=1) > 1e-9)]
    beside = (GONE @ across.T - places[:, :2] @ across.T) / (corners[:, :2] @ across.T).max(axis=0)
    return np.minimum(np.min(fits, axis=(0, 2)), beside.max(axis=1))


def turned(body, vector):
    return body.vertices @ Rotation.from_rotvec(vector).as_matrix().T


@pytest.mark.parametrize("name", ["plank", "odd"])
def test_no_pose_of_a_dense_grid_beats_the_search_in_a_step(name, monkeypatch):
    """150 turns at 2,000 places each, the best of them made better by a general method."""
    plank = shapes.box((1.6, 1.0, 0.5))
    body = body_of(plank if name == "plank" else shapes.random_polytope(3, 9, 1.0))
    mesh = step()
    monkeypatch.setitem(search.EFFORTS, "normal", search.EFFORTS["quick"])
    copy = largest_copy(body.vertices, trimesh.Trimesh(mesh.vertices, mesh.faces, process=False))
    own = sizes_in_step(body.vertices @ copy.rotation.T, copy.translation[None])[0]
    assert own == pytest.approx(copy.scale, rel=1e-9)
    turns = Rotation.random(150, random_state=1).as_rotvec()
    sides = [
        np.linspace(0.0, length, n + 2)[1:-1] for length, n in zip(STEP, (20, 16, 6), strict=True)
    ]
    places = np.stack(np.meshgrid(*sides, indexing="ij"), axis=-1).reshape(-1, 3)
    sizes = np.array([sizes_in_step(turned(body, vector), places) for vector in turns])
    best = sizes.max(axis=1).argsort()[::-1][:6]
    starts = [np.r_[turns[i], places[sizes[i].argmax()]] for i in best]

    def loss(x):
        return -sizes_in_step(turned(body, x[:3]), x[None, 3:])[0]

    refined = -min(minimize(loss, start, method="Nelder-Mead").fun for start in starts)
    assert sizes.max() <= refined <= copy.scale * (1.0 + 1e-9)
    assert refined >= 0.97 * copy.scale


# --- workers -----------------------------------------------------------------------------------


@pytest.mark.usefixtures("small_search")
def test_a_plan_is_the_same_bit_for_bit_with_one_worker_and_with_three(monkeypatch):
    """Stone, bound and cuts."""

    def document(workers):
        monkeypatch.setenv("KERFWISE_WORKERS", workers)
        rough = rough_of_mesh(rough_of("chipped", 4))
        order = Order(("oval",), {"crown": 36.0, "pavilion": 42.0}, workshop=Workshop(most_cuts=1))
        plan = make_plan(rough, order, effort="quick")
        return json.dumps({**plan_file(plan).values(), "timing_s": None})

    three = document("3")
    assert '"status": "found"' in three
    assert document("1") == three
