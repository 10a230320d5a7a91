"""The proof in rough with hollows: no stone is lost, and hollows make the bound tighter."""

from functools import cache

import numpy as np
import pytest
import shapes
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation
from solids import body_of

from optimizer.design import build_body, load_design
from optimizer.placement import hollow
from optimizer.placement.bound import widest
from optimizer.placement.cells import all_rotations, quaternions
from optimizer.placement.containers import Planes
from optimizer.placement.copy import convex_body, largest_copy
from optimizer.placement.ground import Ground, outside_places, spread
from optimizer.placement.growing import growing_by_width
from optimizer.placement.hollow import NOTES, prove_hollow
from optimizer.placement.hollows import Hollows
from optimizer.placement.kernels.balls import Room
from optimizer.placement.kernels.nodes import CHILDREN, Batch, bound_nodes
from optimizer.placement.node_stone import INWARD, stone_of
from optimizer.placement.proof import ProofTask, extent
from optimizer.placement.rotations import from_quaternions
from optimizer.placement.search import EFFORTS, QUIET, Effort, Task, Watch, even_starts, search
from optimizer.placement.situation import Situation
from optimizer.placement.voids import no_voids
from optimizer.rough.model import Flaw
from optimizer.running.workers import workers

ALONE = np.eye(3)[None]
FAR_BALL = np.array([[1e6, 0.0, 0.0, 0.0]])  # which no stone swallows
FEW = Effort(rotations=60, centres=6, coarse=10, fine=4, rounds=1, final=2, cells=0)
PIECES = {
    "dented": lambda: shapes.dented(1, subdivisions=2),
    "notched": shapes.notched,
    "bent": lambda: shapes.bent(rings=12),
}


@cache
def grounds(piece):
    return Ground.of(PIECES[piece]())


@cache
def room_in(piece, skin):
    return room_of(grounds(piece), skin)


def room_of(ground, skin, flaws=()):
    which = ground.hull.far_apart(96)
    hull = Planes(ground.hull.normals[which], ground.hull.offsets[which] - skin)
    return hull, Hollows.of(ground, hull, skin, flaws)


def proving_in(piece, body, skin):
    """A proof at its beginning, which takes no stone for clear of the surface."""
    hull, hollows = room_in(piece, skin)
    stone, middle = stone_of(body)
    room = Room(hull.normals, hull.offsets, hollows.balls, hollows.radii, hollows.flaws,
                hollows.voids)  # fmt: skip
    return hollow._Proving(
        stone, middle, ALONE, room, extent(hull),
        lambda pose: FAR_BALL, None, 1.0, 10**9, QUIET,
    )  # fmt: skip


def random_cell(rng):
    cell = all_rotations()
    for _ in range(rng.integers(2, 9)):
        cell = cell.take(rng.choice(len(cell), 1))
        cell = cell.split() if rng.random() < 0.5 else cell.halved()
    return cell.take(rng.choice(len(cell), 1))


def facts(rng, stone, room, size, rotation, where):
    """Notes of up to 8 balls beside a stone: a point of each, as a stone turned a little would have
    it nearest, and the facet that keeps it off by least."""
    marks, points = np.full((1, NOTES, 3), -1), np.zeros((1, NOTES, 3))
    seen = (room.balls - where) @ rotation
    apart = (seen @ stone.facets.T - size * stone.offsets).max(axis=1)
    j = 0
    for ball in np.argsort(apart)[: rng.integers(1, 30)]:
        way = rng.integers(len(stone.ways))
        turned = shapes.random_rotation(rng) @ stone.ways[way]
        out = rotation @ stone.ways[way] + rng.uniform(0.0, 0.5) * turned
        point = room.balls[ball] - room.radii[ball] * out / np.linalg.norm(out)
        off = stone.facets @ (rotation.T @ (point - where)) - size * stone.offsets
        if off.max() < 0.3 * size and j < 8:
            marks[0, j] = ball, way, np.argmin(np.where(off >= 0.0, off, np.inf))
            points[0, j] = point
            j += 1
    return marks, points


@pytest.mark.parametrize(("piece", "design", "skin"), [
    ("dented", "oval", 0.3), ("notched", "round-brilliant", 0.3), ("bent", "long-hexagon", 0.0),
])  # fmt: skip
@given(seed=st.integers(0, 100_000))
@settings(max_examples=12)
def test_a_node_never_loses_a_stone_that_fits(piece, design, skin, seed):
    """A pose whose exact size is known, in a random cell and box about it."""
    rng = np.random.default_rng(seed)
    ground, body = grounds(piece), build_body(load_design(design))
    stone, middle = stone_of(body)
    hull, hollows = room_in(piece, skin)
    room = Room(hull.normals, hull.offsets, hollows.balls, hollows.radii, 0, hollows.voids)
    cell = random_cell(rng)
    place = cell.middle + cell.half * rng.uniform(-1.0, 1.0, (1, 3))
    rotation = np.ascontiguousarray(from_quaternions(quaternions(cell.chart, place))[0])
    origin = ground.places[rng.integers(len(ground.places))]
    growing = growing_by_width(body, skin, 0.0)
    size = ground.surface.gauge(Situation(growing, rotation, origin), -np.inf)
    if size < 0.5:
        return
    where = origin + size * rotation @ middle
    halves = size * rng.uniform(0.0, 1.0, (1, 3)) * 2.0 ** -rng.integers(1, 8)
    middles = where + halves * rng.uniform(-1.0, 1.0, (1, 3))
    low, high = size * (1.0 - 10.0 ** -rng.uniform(2, 7)), size * (1.0 + 10.0 ** -rng.uniform(1, 6))
    choices = np.full((1, 1 + CHILDREN), -1)
    marks, points = facts(rng, stone, room, size, rotation, where)
    batch = Batch(
        cell.rotations(), cell.radii(), cell.sides(), middles, halves, np.array([high]),
        np.zeros((1, 0, 5)), marks, points, np.zeros((1, 1), np.int64),
    )  # fmt: skip
    bound = bound_nodes(stone, room, batch, low, choices, np.zeros((1, 13)))[0]
    assert bound >= size * (1.0 - 1e-10)
    assert np.all(np.abs(where - middles[0]) <= halves[0] + 1e-9 * size)
    if choices[0, 0] >= 0:  # one of the facets to branch on keeps the ball's point off
        seen = rotation.T @ (points[0, choices[0, 0]] - origin)
        apart = body.normals @ seen - size * body.offsets
        assert max(apart[f] for f in choices[0, 1:] if f >= 0) >= -1e-9


def test_places_outside_are_outside():
    """By the solid angle of all triangles (Van Oosterom and Strackee 1983)."""
    ground = grounds("bent")
    places = outside_places(ground)
    assert len(places) > 1000
    for place in places[:: len(places) // 200]:
        a, b, c = (ground.surface.triangles[:, k] - place for k in range(3))
        la, lb, lc = (np.linalg.norm(v, axis=1) for v in (a, b, c))
        top = np.einsum("ij,ij->i", a, np.cross(b, c))
        dots = [np.einsum("ij,ij->i", p, q) for p, q in ((a, b), (b, c), (c, a))]
        bottom = la * lb * lc + dots[0] * lc + dots[1] * la + dots[2] * lb
        assert abs(np.arctan2(top, bottom).sum()) < 1e-6


def test_an_unknown_larger_stone_ends_the_proof():
    """Told of a stone far too small, the proof meets a larger one, and does not spend its work."""
    ground = grounds("dented")
    body = build_body(load_design("oval"))
    hull, hollows = room_in("dented", 0.3)
    proof = prove_hollow(
        body, body.rotations, hull, hollows, ProofTask(5.0, widest(body, hull), 0.01, 20_000)
    )  # fmt: skip
    assert not proof.closed
    assert proof.nodes < 20_000
    sizes = [size for size, *_ in stones_in(ground, body, 0.3, 20)]
    assert proof.bound >= max(sizes) > 5.0


def test_flaws_count_in_the_bound():
    """A cube in a bar twice as long as it is thick, a grain in the bar's middle: clear of the grain
    by 2 there is room for an upright one of 8; clear by nothing, for one of 10."""
    ground = Ground.of(shapes.box((20.0, 10.0, 10.0)))
    body = body_of(shapes.box((1.0, 1.0, 1.0)))
    grain = Flaw("grain", np.zeros((1, 3)), None, 0.0, 2.0, 0.0)
    hull, hollows = room_of(ground, 0.0, (grain,))
    proof = prove_hollow(
        body, body.rotations, hull, hollows, ProofTask(8.0, widest(body, hull), 0.19, 30_000)
    )  # fmt: skip
    assert 8.0 <= proof.bound <= 9.6


def test_the_proof_is_the_same_for_any_number_of_workers(monkeypatch):
    body = build_body(load_design("long-hexagon"))
    hull, hollows = room_in("notched", 0.3)
    results = []
    for number in (1, 2):
        monkeypatch.setenv("KERFWISE_WORKERS", str(number))
        proof = prove_hollow(
            body, body.rotations, hull, hollows, ProofTask(9.0, widest(body, hull), 0.3, 2000)
        )  # fmt: skip
        results.append(proof)
    assert results[0] == results[1]


def test_a_hollow_container_s_bound_is_near_the_copy_found(monkeypatch):
    """Through the public door, on a piece with a step: the bound holds and is below the hull's."""
    import trimesh

    monkeypatch.setitem(EFFORTS, "normal", FEW)
    step = shapes.notched()
    cube = shapes.box((1.0, 1.0, 1.0)).vertices
    fit = largest_copy(cube, trimesh.Trimesh(step.vertices, step.faces), prove=True, gap=0.25)
    assert fit.scale <= fit.bound <= 1.25 * fit.scale * (1.0 + 1e-6)
    assert fit.bound < 12.0  # which the whole height of the box would hold, but for the notch


@pytest.mark.parametrize("skin", [0.3, 1.5])
def test_no_level_below_a_stone_that_fits_is_proved(monkeypatch, skin):
    """The whole tree against a stone found in it: with nothing ever called clear, every node that
    holds the stone has to stay open to the end."""
    ground, body = grounds("dented"), build_body(load_design("long-hexagon"))
    growing = growing_by_width(body, skin, 0.0)
    q = np.random.default_rng(3).normal(size=(400, 4))
    turns = from_quaternions(q / np.linalg.norm(q, axis=1, keepdims=True))
    sizes = [ground.surface.gauge(Situation(growing, np.ascontiguousarray(t), np.zeros(3)), -np.inf)
             for t in turns]  # fmt: skip
    best = max(sizes)
    hull, hollows = room_in("dented", skin)
    monkeypatch.setattr(Hollows, "swallowed", lambda self, body: lambda pose: FAR_BALL)
    proof = prove_hollow(
        body, body.rotations, hull, hollows, ProofTask(0.9 * best, widest(body, hull), 0.11, 1000)
    )  # fmt: skip
    assert proof.bound >= best


def stones_in(ground, body, skin, turns):
    """Local optima: (size, place in the charts, rotation, translation) of each, ground frame."""
    task = Task(
        growing_by_width(body, skin, 0.0), (), (), even_starts(turns, ALONE, 0),
        spread(ground.places, ground.depths, 20), np.inf,
    )  # fmt: skip
    for stone in search(ground, task, FEW, Watch()):
        q = Rotation.from_matrix(stone.rotation).as_quat()
        chart = int(np.argmax(np.abs(q)))
        yield stone.sigma, chart, np.delete(q / q[chart], chart), stone.rotation, stone.translation


@pytest.mark.parametrize(("piece", "design", "skin", "with_voids"), [
    ("dented", "oval", 1.5, False), ("notched", "round-brilliant", 0.6, True),
    ("bent", "long-hexagon", 1.0, True),
])  # fmt: skip
def test_what_a_node_knows_stays_true_of_its_parts(piece, design, skin, with_voids):
    """Down the tree towards stones that fit: some node of each generation holds the stone, each
    known facet keeps its noted point off it, and each noted point lies in its ball. In the dented
    piece voids would hold the corners so well that few balls are left to know anything of."""
    ground, body = grounds(piece), build_body(load_design(design))
    proving, known_facts = proving_in(piece, body, skin), 0
    if not with_voids:
        proving.room = proving.room._replace(voids=no_voids())
    for size, chart, place, rotation, translation in stones_in(ground, body, skin, 20):
        middle = translation + size * rotation @ proving.middle
        waiting = [proving._everywhere(1.02 * size)]
        for _ in range(60):
            nodes = hollow._taken(waiting)
            cells = nodes.cells
            turned = np.all(np.abs(place - cells.middle) <= cells.half + 1e-12, axis=1)
            moved = np.all(np.abs(middle - nodes.middles) <= nodes.halves + 1e-9 * size, axis=1)
            nodes = nodes.take((cells.chart == chart) & turned & moved)
            balls, known = nodes.marks[:, :, 0], nodes.marks[:, :, 2]
            apart = np.linalg.norm(nodes.points - proving.room.balls[balls], axis=2)
            assert np.all(apart[balls >= 0] <= proving.room.radii[balls[balls >= 0]] + 1e-12)
            seen = (nodes.points - middle) @ rotation
            off = np.einsum("nji,nji->nj", proving.stone.facets[known], seen)
            true = off >= size * (proving.stone.offsets[known] - 1e-9)
            nodes = nodes.take(np.all(true | (known < 0), axis=1))
            assert len(nodes)
            known_facts += int((nodes.marks[:, :, 2] >= 0).sum())
            with workers() as pool:
                waiting = proving._children(nodes.take(slice(0, 4)), size * (1.0 - 1e-7), pool)
    assert known_facts > 100


@pytest.mark.parametrize("corners", [
    [[0, 0, 0], [1, 0, 0], [0, 1, 0], [0.3, 0.3, 0.05]],
    [[0, 0, 0], [1, 0, 0], [0, 1, 0], [1, 1, 1e-3]],
    [[0, 0, 0], [10, 0, 0], [0, 0.1, 0], [0, 0, 0.1]],
])  # fmt: skip
def test_the_middle_of_a_flat_body_lies_inside(corners):
    """The ball around each has its middle on the body's rim."""
    body, _ = convex_body(np.array(corners, float))
    stone, middle = stone_of(body)
    assert stone.offsets.min() >= 0.99 * INWARD * stone.heart_radius > 0.0
    assert np.all(stone.facets @ stone.heart + stone.heart_radius <= stone.offsets)
    assert np.allclose(stone.corners + middle, body.vertices, rtol=0, atol=1e-15)
    assert np.all(stone.facets @ stone.corners.T <= stone.offsets[:, None] + 1e-12)


def test_a_flat_container_s_own_copy_is_below_its_bound(monkeypatch):
    """A flat tetrahedron in a step of which it is a corner cut off: it fits at scale 1."""
    import trimesh

    step = shapes.notched()
    corner = step.vertices[np.argmax(step.vertices @ [-1.0, -1.1, -1.2])]
    flat = corner + np.array([[0, 0, 0], [3, 0, 0], [0, 3, 0], [1, 1, 0.2]])
    container = trimesh.Trimesh(step.vertices, step.faces)
    monkeypatch.setitem(EFFORTS, "normal", FEW)
    fit = largest_copy(flat, container, prove=True, gap=0.2)
    assert fit.scale >= 1.0 - 1e-9
    assert fit.bound >= fit.scale
