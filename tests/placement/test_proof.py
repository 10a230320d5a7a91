"""The proof: never below what fits, closing on what is best, sound for every demand it uses."""

import numpy as np
import pytest
import shapes
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog
from scipy.spatial import ConvexHull
from solids import body_of

from optimizer.design import build_body, load_design
from optimizer.mesh import Plane
from optimizer.order import ZoneDemand
from optimizer.placement.cell_demands import CellDemands
from optimizer.placement.cells import all_rotations
from optimizer.placement.containers import Planes, hull_planes
from optimizer.placement.demands import zone_demands
from optimizer.placement.growing import growing_by_width
from optimizer.placement.kernels.cells import cell_bounds
from optimizer.placement.kernels.linear import proven_value
from optimizer.placement.proof import ProofTask, prove, tell_bound
from optimizer.placement.situation import Situation
from optimizer.placement.task import Watch

ALONE = np.eye(3)[None]


def room_of(seed, corners=24):
    return hull_planes(ConvexHull(shapes.random_polytope(seed, corners).vertices))


def best_at(room, corners, rotation):
    """The largest size at a fixed rotation, by a general LP solver."""
    support = (room.normals @ rotation @ corners.T).max(axis=1)
    answer = linprog([0, 0, 0, -1], A_ub=np.column_stack([room.normals, support]),
                     b_ub=room.offsets, bounds=[(None, None)] * 3 + [(0, None)])  # fmt: skip
    return -answer.fun


@given(st.integers(0, 10_000), st.integers(0, 3))
@settings(max_examples=15)
def test_no_rotation_in_a_cell_beats_the_cell_s_bound(seed, depth):
    rng = np.random.default_rng(seed)
    cells = all_rotations()
    for _ in range(depth + 1):
        cells = cells.take(rng.choice(len(cells), 1)).split()
    cells = cells.take(rng.choice(len(cells), 1))
    room, corners = room_of(seed), shapes.random_polytope(seed + 1, 10, 1.0).vertices
    bounds, _, _ = cell_bounds(
        room.normals, room.offsets, corners, np.linalg.norm(corners, axis=1), cells.rotations(),
        cells.radii(), cells.sides(), np.full(7, 100.0), np.zeros((1, 0, 5)),
    )  # fmt: skip
    from scipy.spatial.transform import Rotation

    from optimizer.placement.cells import quaternions

    for unit in rng.uniform(-1.0, 1.0, (12, 3)):
        place = cells.middle + cells.half[:, None] * unit
        rotation = Rotation.from_quat(quaternions(cells.chart, place)).as_matrix()[0]
        assert best_at(room, corners, rotation) <= bounds[0] * (1.0 + 1e-9)


@given(st.integers(0, 10_000))
@settings(max_examples=10)
def test_multipliers_of_any_kind_prove_a_true_bound(seed):
    """Even wrong multipliers give a value that the program's own value does not pass."""
    rng = np.random.default_rng(seed)
    A, b, c = rng.normal(size=(20, 5)), rng.uniform(0.1, 1.0, 20), rng.normal(size=5)
    reach = np.full(5, 3.0)
    answer = linprog(-c, A_ub=A, b_ub=b, bounds=[(-3, 3)] * 5)
    for _ in range(10):
        y = np.maximum(rng.normal(size=20), 0.0)
        assert proven_value(A, b, c, y, reach) >= -answer.fun - 1e-12
    best = -answer.ineqlin.marginals
    assert proven_value(A, b, c, best, reach) == pytest.approx(-answer.fun, abs=1e-9)


def test_closes_on_the_best_of_a_body_in_itself():
    """The largest copy of a body in its own hull is the body."""
    mesh = shapes.random_polytope(4)
    body = body_of(mesh)
    room = hull_planes(ConvexHull(mesh.vertices))
    proof = prove(body.vertices, ALONE, room, ProofTask(1.0, 3.0, 1e-6, 200_000))
    assert proof.closed
    assert 1.0 <= proof.bound <= 1.0 + 2e-6


def test_a_size_below_the_best_is_never_called_best():
    """With a stone 0.1 % short of the best as the find, the gap cannot close below that."""
    mesh = shapes.random_polytope(4)
    body = body_of(mesh)
    room = hull_planes(ConvexHull(mesh.vertices))
    proof = prove(body.vertices, ALONE, room, ProofTask(0.999, 3.0, 5e-4, 50_000))
    assert not proof.closed
    assert proof.bound >= 1.0


@given(st.integers(0, 10_000), st.floats(0.0, 0.5))
@settings(max_examples=4)
def test_a_larger_room_is_bounded_no_lower(seed, skin):
    """K inside K': what fits in K is below the bound of K'."""
    from optimizer.placement.ground import Ground, spread
    from optimizer.placement.search import EFFORTS, Task, Watch, even_starts, search

    mesh = shapes.random_polytope(seed)
    body = body_of(shapes.random_polytope(seed + 1, 12, 1.0))
    ground = Ground.of(mesh)
    task = Task(
        growing_by_width(body, skin, 0.0), (), (), even_starts(100, ALONE, 0),
        spread(ground.places, ground.depths, 10), np.inf,
    )  # fmt: skip
    found = search(ground, task, EFFORTS["quick"], Watch())[0].sigma
    room = Planes(ground.hull.normals, ground.hull.offsets - skin)
    wider = Planes(room.normals, room.offsets + 0.1)
    own = prove(body.vertices, ALONE, room, ProofTask(found, 100.0, 0.01, 20_000))
    outer = prove(body.vertices, ALONE, wider, ProofTask(0.0, 100.0, 0.01, 4_000))
    assert found <= own.bound
    assert own.closed
    assert own.bound <= found * 1.0101
    assert found < outer.bound


BOUNDARY = Plane(np.array([0.6, 0.0, 0.8]), 0.7)


@pytest.mark.parametrize(
    "asked",
    [
        {"tilt_deg": (-20.0, 10.0)},
        {"azimuth_deg": (100.0, 250.0)},
        {"offset": (-0.2, 0.1)},
        {"offset": (0.5, 0.6), "tilt_deg": (20.0, 40.0)},
    ],
)
def test_placements_that_meet_the_demands_meet_their_cells(asked):
    """Random poses that meet the order's demands, at the middle of small cells: the cell is kept
    and its rows hold."""
    body = build_body(load_design("pear"), least_girdle_mm=0.4)
    zone = ZoneDemand("split", "violet", **asked)
    over = CellDemands.of(zone, BOUNDARY, body.least_girdle_mm / 2.0)
    demands = zone_demands(zone, BOUNDARY)
    growing = growing_by_width(body, 0.0, 0.0)
    rng = np.random.default_rng(5)
    lengths = np.linalg.norm(body.vertices, axis=1)
    met = 0
    for _ in range(4000):
        rotation, sigma = shapes.random_rotation(rng), rng.uniform(4.0, 9.0)
        place = rng.uniform(-4.0, 4.0, 3)
        at = Situation(growing, rotation, place, sigma, 5.0)
        if min(d.clearance(at) for d in demands) < 0.0:
            continue
        met += 1
        radii = np.array([rng.uniform(0.0, 0.3)])
        turned = turned_by(rng, rotation, radii[0])
        assert over.may_hold(turned[None], radii)[0]
        (rows,) = over.rows(turned[None], radii, body.vertices, lengths, np.zeros(3))
        for row in rows:
            assert row[:3] @ place + row[3] * sigma <= row[4]
    assert met > 20


def turned_by(rng, rotation, angle):
    from optimizer.placement.rotations import turn

    axis = rng.normal(size=3)
    return turn(axis / np.linalg.norm(axis) * angle * 0.999) @ rotation


@pytest.mark.parametrize(
    ("bound", "found", "said"),
    [
        (1.1, 1.0, "proving how heavy a stone can be at most, now 33.1 % above the best so far"),
        (10.0, 1.0, "proving how heavy a stone can be at most"),
        (1.0, 0.0, "proving how heavy a stone can be at most"),
    ],
)
def test_progress_says_what_is_proved(bound, found, said):
    """Closed form: 1.1³ = 1.331."""
    told = []
    tell_bound(Watch(progress=lambda *step: told.append(step)), 5, 4000, bound, found)
    assert told == [(said, 5, 4000, 0.0)]
