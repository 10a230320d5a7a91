"""The self-crossing test against exact arithmetic, and against surfaces made to cross."""

from collections.abc import Callable
from fractions import Fraction
from itertools import combinations

import numpy as np
import pytest
import trimesh
from shapes import random_rotation

from optimizer.errors import InputError
from optimizer.mesh import Mesh
from optimizer.rough.repair.budget import BudgetSpentError
from optimizer.rough.repair.crossing import crossing_pairs, refuse_crossing, resolution


def crossings(mesh: Mesh) -> np.ndarray:
    """Pairs that cross by more than the mesh's own numbers resolve."""
    return crossing_pairs(mesh, resolution(mesh.vertices))


Exact = tuple[Fraction, ...]


def _side(a: Exact, b: Exact, c: Exact, d: Exact) -> int:
    """Sign of the volume of the tetrahedron abcd, exactly."""
    u, v, w = ([p[k] - d[k] for k in range(3)] for p in (a, b, c))
    det = (
        u[0] * (v[1] * w[2] - v[2] * w[1])
        - u[1] * (v[0] * w[2] - v[2] * w[0])
        + u[2] * (v[0] * w[1] - v[1] * w[0])
    )
    return (det > 0) - (det < 0)


def _pierces(p: Exact, q: Exact, t: list[Exact]) -> bool:
    if _side(*t, p) * _side(*t, q) >= 0:
        return False
    turns = {_side(p, q, t[i], t[(i + 1) % 3]) for i in range(3)}
    return turns in ({1}, {-1})


def crossing_pairs_exactly(mesh: Mesh) -> set[tuple[int, int]]:
    """Brute force in rational numbers: an edge of one strictly through the inside of the other."""
    points = [tuple(Fraction(float(x)) for x in v) for v in mesh.vertices]
    triangles = [[points[i] for i in face] for face in mesh.faces]
    low, high = mesh.triangles.min(axis=1), mesh.triangles.max(axis=1)
    found = set()
    for i, j in combinations(range(len(triangles)), 2):
        if (low[i] > high[j]).any() or (low[j] > high[i]).any():
            continue
        if len(set(mesh.faces[i]) & set(mesh.faces[j])) == 2:
            continue
        for a, b in ((triangles[i], triangles[j]), (triangles[j], triangles[i])):
            if any(_pierces(a[k], a[(k + 1) % 3], b) for k in range(3)):
                found.add((i, j))
    return found


@pytest.mark.parametrize("seed", range(4))
def test_agrees_with_exact_arithmetic_on_crumpled_spheres(
    seed: int, sphere: Callable[..., Mesh]
) -> None:
    round_one = sphere(2)
    shaken = np.random.default_rng(seed).normal(0.0, 1.0, round_one.vertices.shape)
    mesh = Mesh(round_one.vertices + shaken, round_one.faces)
    exactly = crossing_pairs_exactly(mesh)
    assert exactly, "the oracle must have something to find"
    assert {tuple(pair) for pair in crossing_pairs(mesh, 1e-13).tolist()} == exactly


@pytest.mark.parametrize("shape", ["box", "capsule", "torus", "annulus", "gear"])
def test_sound_surfaces_are_never_flagged(shape: str) -> None:
    """Regular meshes are full of coplanar neighbours and shared corners."""
    made = {
        "box": lambda: trimesh.creation.box((1.0, 2.0, 3.0)).subdivide().subdivide(),
        "capsule": lambda: trimesh.creation.capsule(4.0, 1.5),
        "torus": lambda: trimesh.creation.torus(5.0, 1.0),
        "annulus": lambda: trimesh.creation.annulus(2.0, 5.0, 3.0),
        "gear": lambda: trimesh.creation.uv_sphere(3.0, count=[40, 40]),
    }[shape]()
    turned = random_rotation(np.random.default_rng(2))
    for vertices in (made.vertices, made.vertices @ turned.T + [100.0, -50.0, 20.0]):
        assert len(crossings(Mesh(np.array(vertices), np.array(made.faces)))) == 0


def test_slivers_rounded_to_single_precision_are_not_flagged() -> None:
    """A flat grid with needle-thin triangles, tilted and rounded as an STL file rounds it, folds
    over itself by less than its numbers resolve."""
    grid = np.linspace(0.0, 20.0, 41)
    rows = np.array([0.0, 1e-7, 1.0, 1.0 + 1e-7, 2.0])
    points = np.array([(x, y, 0.0) for y in rows for x in grid])
    n = len(grid)
    faces = [
        tri
        for r in range(len(rows) - 1)
        for c in range(n - 1)
        for tri in (
            (r * n + c, r * n + c + 1, r * n + n + c),
            (r * n + c + 1, r * n + n + c + 1, r * n + n + c),
        )
    ]
    turned = random_rotation(np.random.default_rng(3))
    tilted = (points @ turned.T + [37.0, 11.0, -5.0]).astype(np.float32).astype(float)
    assert len(crossings(Mesh(tilted, np.array(faces, np.int64)))) == 0


def figure_of_eight(depth: float) -> Mesh:
    """A prism over the outline (0,0) (2,2) (2,0) (0,2), whose two long walls cross in an X."""
    outline = [(0.0, 0.0), (2.0, 2.0), (2.0, 0.0), (0.0, 2.0)]
    points = np.array([(x, y, z) for z in (0.0, depth) for x, y in outline])
    walls = [
        t
        for i in range(4)
        for t in ((i, (i + 1) % 4, 4 + i), ((i + 1) % 4, 4 + (i + 1) % 4, 4 + i))
    ]
    caps = [(0, 2, 1), (0, 3, 2), (4, 5, 6), (4, 6, 7)]
    return Mesh(points, np.array(walls + caps, np.int64))


@pytest.mark.parametrize("depth", [1.0, 2.0, 3.3])
def test_walls_that_cross_exactly_in_their_diagonals_are_seen(depth: float) -> None:
    """Every meeting lies on an edge or the middle of two diagonals: no edge pierces an inside."""
    pairs = {tuple(p) for p in crossings(figure_of_eight(depth)).tolist()}
    assert any(i in (0, 1) and j in (4, 5) for i, j in pairs)


def test_two_spheres_joined_by_a_neck_cross_where_they_overlap(sphere: Callable[..., Mesh]) -> None:
    one = sphere(3)
    both = Mesh(
        np.vstack([one.vertices, one.vertices * 0.7 + [9.0, 0.4, 0.3]]),
        np.vstack([one.faces, one.faces + len(one.vertices)]),
    )
    pairs = crossings(both)
    assert (pairs[:, 0] < len(one.faces)).all()
    assert (pairs[:, 1] >= len(one.faces)).all()
    # the circle of intersection: radial distance from both centres
    middle = both.triangles[pairs].reshape(-1, 3).mean(axis=0)
    assert np.linalg.norm(middle - [8.2, 0.35, 0.25]) < 1.5


def test_the_answer_does_not_depend_on_where_the_scan_lies(sphere: Callable[..., Mesh]) -> None:
    round_one = sphere(2)
    shaken = round_one.vertices + np.random.default_rng(9).normal(
        0.0, 0.8, round_one.vertices.shape
    )
    here = crossing_pairs(Mesh(shaken, round_one.faces), 1e-6)
    away = np.array([500.0, -900.0, 300.0])
    there = crossing_pairs(Mesh(shaken + away, round_one.faces), 1e-6)
    assert {tuple(p) for p in here.tolist()} == {tuple(p) for p in there.tolist()}


def test_the_refusal_says_how_much_and_where() -> None:
    mesh = figure_of_eight(1.0)
    with pytest.raises(InputError, match=r"eight\.stl: .*passes through itself: \d+ pairs? .* mm;"):
        refuse_crossing(mesh, "eight.stl", 1e-6)


def test_a_fine_sphere_crosses_itself_nowhere(sphere: Callable[..., Mesh]) -> None:
    assert len(crossings(sphere(7))) == 0  # 327,680 triangles


def test_resolution_of_single_and_double_numbers() -> None:
    near = np.array([[0.0, 0.0, 0.0], [20.0, 3.0, 1.0]])
    assert resolution(near + 0.1) == pytest.approx(20e-6)
    far = near + 1000.0  # whole numbers: single precision holds them
    assert resolution(far) == 1020.0 * 2.0**-21
    assert resolution(far + 0.1) == pytest.approx(20e-6)


def test_where_everything_crosses_the_search_ends() -> None:
    """A thousand triangles through one another have half a million pairs."""
    corners = np.random.default_rng(0).normal(size=(3000, 3))
    with pytest.raises(
        BudgetSpentError, match="passes through itself would take too long: over 100,000"
    ):
        crossing_pairs(Mesh(corners, np.arange(3000).reshape(-1, 3)), 1e-9)
