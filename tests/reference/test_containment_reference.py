"""Is the stone in the rough? Judged by the robust boolean kernel, and the kernel judged in turn.

The kernel is manifold3d (its booleans: guaranteed manifold output; its ``min_gap``: the least
distance between two solids). Whether ``min_gap`` is exact is not taken on trust: it is measured
here against brute force over every pair of edges, corners and triangles, with the textbook
distances of Ericson, Real-Time Collision Detection (2005), sections 5.1.5 and 5.1.9.
"""

import manifold3d
import numpy as np
import pytest
import shapes

from optimizer.audit.common import RoughSolid
from optimizer.audit.containment import gap_to_outside
from optimizer.design import build_body, load_design
from optimizer.mesh import Floats, Mesh
from optimizer.placement.containers import Surface
from optimizer.placement.distance import distance_to_surface
from optimizer.placement.model import Placement, Pose
from optimizer.solid import as_solid

# --- the kernel's verdict, as plain helpers -----------------------------------------------


def outside_of(rough: Mesh, margin: float = 1000.0):
    """All that is not rough, in a box ``margin`` mm larger all round, as a solid of the kernel."""
    low, high = rough.vertices.min(axis=0) - margin, rough.vertices.max(axis=0) + margin
    box = manifold3d.Manifold.cube(tuple(high - low)).translate(tuple(low))
    return box - as_solid(rough)


def gap_by_kernel(stone: Mesh, rough: Mesh, search_mm: float = 100.0) -> float:
    """Distance in mm from the stone to all that is not rough; 0 where they meet or overlap."""
    return float(as_solid(stone).min_gap(outside_of(rough), search_mm))


def inside_by_kernel(stone: Mesh, rough: Mesh, skin: float) -> bool:
    """Whether every point within ``skin`` mm of the stone lies in the rough."""
    if (as_solid(stone) - as_solid(rough)).volume() > 0.0:
        return False
    return gap_by_kernel(stone, rough, skin + 1.0) >= skin


def random_stone(seed: int, size: float = 3.0, corners: int = 16) -> Mesh:
    """A random convex stone about the origin."""
    return shapes.random_polytope(seed, corners, size)


# --- brute force over all pairs -----------------------------------------------------------


def gap_by_brute_force(one: Mesh, other: Mesh) -> float:
    """Least distance between two surfaces: edge to edge and corner to triangle, every pair.

    Zero where an edge of one pierces a triangle of the other.
    """
    if _pierces(one, other) or _pierces(other, one):
        return 0.0
    edges = _edges_to_edges(*_edge_ends(one), *_edge_ends(other))
    return min(edges, _corners_to_triangles(one, other), _corners_to_triangles(other, one))


def _edge_ends(mesh: Mesh) -> tuple[Floats, Floats]:
    sides = np.sort(mesh.faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
    pairs = np.unique(sides, axis=0)
    return mesh.vertices[pairs[:, 0]], mesh.vertices[pairs[:, 1]]


def _edges_to_edges(p: Floats, q: Floats, u: Floats, v: Floats) -> float:
    """Ericson 5.1.9, segments p-q against segments u-v, each pair."""
    d1, d2 = (q - p)[:, None], (v - u)[None]
    r = p[:, None] - u[None]
    a, e = (d1 * d1).sum(-1), (d2 * d2).sum(-1)
    b, c, f = (d1 * d2).sum(-1), (d1 * r).sum(-1), (d2 * r).sum(-1)
    denominator = a * e - b * b
    with np.errstate(divide="ignore", invalid="ignore"):
        s = np.where(denominator > 1e-30, (b * f - c * e) / denominator, 0.0).clip(0.0, 1.0)
    t = (b * s + f) / e
    s = np.where(t < 0.0, -c / a, np.where(t > 1.0, (b - c) / a, s)).clip(0.0, 1.0)
    t = t.clip(0.0, 1.0)
    return float(np.linalg.norm(r + s[..., None] * d1 - t[..., None] * d2, axis=-1).min())


def _corners_to_triangles(corners_of: Mesh, triangles_of: Mesh) -> float:
    """Ericson 5.1.5 where the foot is inside the triangle; edges cover the other places."""
    a, b, c = np.moveaxis(triangles_of.triangles, 1, 0)
    n = np.cross(b - a, c - a)
    n /= np.linalg.norm(n, axis=1)[:, None]
    x = corners_of.vertices[:, None]
    inside = np.ones(x.shape[:1] + a.shape[:1], bool)
    for start, end in ((a, b), (b, c), (c, a)):
        inside &= np.einsum("pij,ij->pi", x - start, np.cross(n, end - start)) >= 0.0
    heights = np.abs(np.einsum("pij,ij->pi", x - a, n))
    return float(np.where(inside, heights, np.inf).min())


def _pierces(edges_of: Mesh, triangles_of: Mesh) -> bool:
    """Signs of the three tetrahedra on an edge and a triangle's sides, all alike."""
    p, q = _edge_ends(edges_of)
    a, b, c = np.moveaxis(triangles_of.triangles, 1, 0)
    n = np.cross(b - a, c - a)
    over = np.einsum("pij,ij->pi", p[:, None] - a, n) * np.einsum("pij,ij->pi", q[:, None] - a, n)
    d, from_p = (q - p)[:, None], [corner[None] - p[:, None] for corner in (a, b, c)]
    turns = [
        np.einsum("pij,pij->pi", np.cross(from_p[i], from_p[(i + 1) % 3]), d + 0.0 * from_p[i])
        for i in range(3)
    ]
    alike = np.all([t >= 0 for t in turns], axis=0) | np.all([t <= 0 for t in turns], axis=0)
    return bool(np.any(alike & (over < 0.0)))


def test_brute_force_in_closed_form():
    low, high = shapes.box((2.0, 2.0, 2.0)), shapes.box((2.0, 2.0, 2.0))
    for shift, gap in (
        ((3.0, 0.5, 0.2), 1.0),  # face to face
        ((3.0, 3.0, 0.2), np.sqrt(2.0)),  # edge to edge
        ((3.0, 3.0, 3.0), np.sqrt(3.0)),  # corner to corner
        ((1.0, 0.3, 0.1), 0.0),  # overlapping
    ):
        laid = shapes.moved(high, np.eye(3), np.array(shift))
        assert gap_by_brute_force(low, laid) == pytest.approx(gap, abs=1e-14)
    turned = shapes.moved(high, _turn(45.0), np.array([0.0, 0.0, 4.0]))
    assert gap_by_brute_force(low, turned) == pytest.approx(2.0, abs=1e-14)
    # two bars crossed at right angles, edge over edge: diagonals of 2·√2 face each other
    one = shapes.moved(low, _turn(45.0, axis=0), np.zeros(3))
    two = shapes.moved(high, _turn(45.0, axis=1), np.array([0.0, 0.0, 4.0]))
    assert gap_by_brute_force(one, two) == pytest.approx(4.0 - 2.0 * np.sqrt(2.0), abs=1e-14)


def _turn(degrees: float, axis: int = 2) -> Floats:
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return np.roll(np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]]), axis - 2, axis=(0, 1))


# --- is the kernel's distance exact? ------------------------------------------------------


@pytest.mark.parametrize("kind", shapes.all_rough())
def test_kernel_gap_is_the_brute_force_gap(kind):
    rough = shapes.all_rough(2)[kind]
    rng = np.random.default_rng(11)
    places = {"bent": np.array([0.0, 15.0, 0.0]), "notched": np.array([0.0, 0.0, -3.0])}
    seen = []
    for seed in range(6):
        stone = random_stone(seed, 1.5, 10)
        at = places.get(kind, np.zeros(3)) + rng.uniform(-1.0, 1.0, 3)
        laid = shapes.moved(stone, shapes.random_rotation(rng), at)
        brute = gap_by_brute_force(laid, rough)
        assert gap_by_kernel(laid, rough) == pytest.approx(brute, abs=1e-9)
        assert gap_to_outside(laid, RoughSolid.of(rough), 100.0) == pytest.approx(brute, abs=1e-9)
        seen.append(brute)
    assert max(seen) > 0.1


@pytest.mark.parametrize("share", [1e-1, 1e-3, 1e-6, 1e-9])
def test_kernel_gap_to_a_needle_that_stops_short(share):
    """A needle's triangles are a million times longer than wide: the distance must still hold."""
    ball = shapes.icosphere(10.0, 3)
    for seed in range(8):
        rng = np.random.default_rng(seed)
        stone = shapes.moved(random_stone(seed, 3.0), shapes.random_rotation(rng), np.zeros(3))
        face = int(rng.integers(len(ball.faces)))
        tip = ball.triangles[face].mean(axis=0) * rng.uniform(0.45, 0.9)
        rough = shapes.with_needle(ball, face, tip + rng.uniform(-0.3, 0.3, 3), share)
        brute = gap_by_brute_force(stone, rough)
        assert 0.0 < brute < 7.0
        assert gap_by_kernel(stone, rough) == pytest.approx(brute, abs=1e-9)


# --- needles that enter --------------------------------------------------------------------


def needle_into(rough: Mesh, face: int, share: float, reach: float) -> Mesh:
    """A needle from a face of the rough straight through the origin's neighbourhood."""
    foot = rough.triangles[face].mean(axis=0)
    return shapes.with_needle(rough, face, foot * (1.0 - reach), share)


@pytest.mark.parametrize("share", [1e-2, 1e-4, 1e-6, 1e-9])
@pytest.mark.parametrize("reach", [0.9, 1.0, 1.5])
def test_a_needle_that_enters_between_the_corners_is_seen(share, reach):
    ball = shapes.icosphere(10.0, 3)
    for seed in range(6):
        rng = np.random.default_rng(seed)
        stone = shapes.moved(random_stone(seed, 3.0), shapes.random_rotation(rng), np.zeros(3))
        assert inside_by_kernel(stone, ball, 1.0)
        rough = needle_into(ball, int(rng.integers(len(ball.faces))), share, reach)
        assert gap_by_kernel(stone, rough) == 0.0
        assert not inside_by_kernel(stone, rough, 0.01)
        assert gap_to_outside(stone, RoughSolid.of(rough), 1.0) < 0.0


def test_the_needle_has_no_volume_to_be_seen_by():
    ball, stone = shapes.icosphere(10.0, 3), random_stone(0, 3.0)
    rough = needle_into(ball, 5, 1e-6, 1.0)
    taken = (as_solid(stone) - as_solid(rough)).volume()
    assert abs(taken) < 1e-9 * as_solid(stone).volume()


def test_no_corner_of_the_stone_is_outside_and_yet_it_is():
    """A blade of rough's surface across a facet: corners and samples of either see nothing."""
    groove = shapes.notched((20.0, 14.0, 12.0), 6.2)  # its sharp line at z = −0.2
    stone = shapes.box((4.0, 4.0, 4.0))
    laid = shapes.moved(stone, np.eye(3), np.array([0.0, 0.0, -2.1]))  # its top at z = −0.1
    inside = np.abs(laid.vertices[:, 0]) > 0.1  # the groove is 0.1 mm wide there
    assert inside.all()
    assert not inside_by_kernel(laid, groove, 0.0)
    assert inside_by_kernel(shapes.moved(laid, np.eye(3), np.array([0, 0, -0.2])), groove, 0.09)


def test_stone_outside_in_a_hollow_or_around_the_rough():
    ball, stone = shapes.icosphere(10.0, 3), random_stone(1, 3.0)
    away = shapes.moved(stone, np.eye(3), np.array([300.0, 0.0, 0.0]))
    assert not inside_by_kernel(away, ball, 0.0)
    holed = shapes.hollow(ball, shapes.icosphere(6.0, 2))
    assert not inside_by_kernel(stone, holed, 0.0)
    assert not inside_by_kernel(shapes.scaled(stone, 10.0), ball, 0.0)


# --- the placement's own exact test against the kernel --------------------------------------


@pytest.mark.parametrize("kind", shapes.all_rough())
def test_placement_and_kernel_agree_on_what_fits_and_by_how_much(kind):
    rough = shapes.all_rough(2)[kind]
    surface, outside = Surface.of(rough), outside_of(rough)
    low, high = rough.vertices.min(axis=0), rough.vertices.max(axis=0)
    body = build_body(load_design("oval"), {}, least_girdle_mm=0.2)
    verdicts = []
    for seed in range(14):
        rng = np.random.default_rng(seed)
        at = low + (high - low) * rng.uniform(0.05, 0.95, 3)
        laid = Placement(body, Pose(rng.uniform(2.0, 5.0), shapes.random_rotation(rng), at), 0.0)
        own = distance_to_surface(body, laid.pose, surface)
        kernel = float(as_solid(laid.mesh()).min_gap(outside, 50.0))
        inside = own > 0.0 and surface.holds(at)
        assert inside == (kernel > 0.0)
        assert inside == inside_by_kernel(laid.mesh(), rough, 1e-9)
        if inside:
            assert own == pytest.approx(kernel, abs=1e-9)
        verdicts.append(inside)
    assert 0 < sum(verdicts) < len(verdicts)


@pytest.mark.parametrize("share", [1e-2, 1e-6, 1e-9])
def test_placement_sees_the_needle_too(share):
    ball = shapes.icosphere(10.0, 3)
    body = build_body(load_design("oval"), {}, least_girdle_mm=0.2)
    for seed in range(6):
        rng = np.random.default_rng(seed)
        pose = Pose(12.0, shapes.random_rotation(rng), np.zeros(3))
        assert distance_to_surface(body, pose, Surface.of(ball)) > 0.1
        pricked = needle_into(ball, int(rng.integers(len(ball.faces))), share, 1.0)
        assert distance_to_surface(body, pose, Surface.of(pricked)) < 0.0
