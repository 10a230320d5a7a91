"""The rough made ready: its own frame, points standing in for the surface, places inside."""

import numpy as np
import pytest
import shapes
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import cKDTree
from solids import winding_number

from optimizer.mesh import volume
from optimizer.placement.ground import Ground, own_frame, spread, stand_in

ROUGH = shapes.all_rough()
NAMES = sorted(ROUGH)


@pytest.mark.parametrize("name", NAMES)
def test_centre_and_axes_by_another_library(name):
    """Against trimesh's centre of mass and principal axes."""
    import trimesh

    mesh = ROUGH[name]
    other = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    centre, axes, _ = own_frame(mesh)
    assert centre == pytest.approx(other.center_mass, abs=1e-8)
    spread_along = np.einsum("ik,ij,jk->k", axes, other.moment_inertia, axes)
    assert spread_along == pytest.approx(np.sort(other.principal_inertia_components), rel=1e-6)
    assert np.abs(axes.T @ axes - np.eye(3)).max() < 1e-12
    assert np.linalg.det(axes) > 0.0


@given(st.integers(0, 1000))
@settings(max_examples=20)
def test_the_frame_turns_with_the_piece(seed):
    mesh = shapes.pebble(1, subdivisions=3)
    rotation, translation = shapes.random_motion(np.random.default_rng(seed))
    centre, axes, _ = own_frame(mesh)
    moved_centre, moved_axes, _ = own_frame(shapes.moved(mesh, rotation, translation))
    assert moved_centre == pytest.approx(rotation @ centre + translation, abs=1e-9)
    assert np.abs(moved_axes - rotation @ axes).max() < 1e-7


@pytest.mark.parametrize("name", NAMES)
def test_places_are_inside_and_depths_about_right(name):
    mesh = ROUGH[name]
    ground = Ground.of(mesh)
    chosen = np.random.default_rng(0).choice(len(ground.places), 30)
    for place in ground.places[chosen]:
        assert winding_number(ground.surface.triangles, place) == pytest.approx(1.0, abs=1e-6)
    step = np.ptp(ground.surface.triangles.reshape(-1, 3), axis=0).max() / 40
    assert len(ground.places) * step**3 == pytest.approx(volume(mesh), rel=0.15)


@pytest.mark.parametrize("name", NAMES)
def test_stand_in_points_lie_on_the_surface_and_cover_it(name):
    mesh = ROUGH[name]
    points = stand_in(mesh.triangles, 1000)
    import trimesh

    other = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    samples = other.sample(300, seed=1)
    assert 200 < len(points) < 3000
    for point in points[::50]:
        nearest = trimesh.triangles.closest_point(
            mesh.triangles, np.tile(point, (len(mesh.faces), 1))
        )
        assert np.linalg.norm(nearest - point, axis=1).min() < 1e-9
    spacing = np.sqrt(other.area / 1000)
    assert cKDTree(points).query(samples)[0].max() < 2.5 * spacing


def lattice(triangle, spacing):
    """Points on a triangle, its sides split until each part is half a spacing at most."""
    sides = np.linalg.norm(triangle - np.roll(triangle, 1, axis=0), axis=1)
    n = max(1, int(np.ceil(2.0 * sides.max() / spacing)))
    return np.array(
        [
            [1.0 - i / n - j / n, i / n, j / n] for i in range(n + 1) for j in range(n + 1 - i)
        ]
    ) @ triangle  # fmt: skip


@pytest.mark.parametrize("name", ["pebble", "bent", "notched", "crystal"])
def test_stand_in_points_are_the_innermost_of_their_cells(name):
    """By plain sums over a lattice on every triangle; one point for each cell that holds any."""
    mesh = ROUGH[name]
    crosses = np.cross(*(mesh.triangles[:, k] - mesh.triangles[:, 0] for k in (1, 2)))
    spacing = np.sqrt(np.linalg.norm(crosses, axis=1).sum() / 2.0 / 500)
    every = [lattice(t, spacing) for t in mesh.triangles]
    normals = np.concatenate(
        [np.tile(c / len(e), (len(e), 1)) for c, e in zip(crosses, every, strict=True)]
    )
    every = np.concatenate(every)
    cells, cell = np.unique(np.floor(every / spacing + 1e-9), axis=0, return_inverse=True)
    points = stand_in(mesh.triangles, 500)
    whose = cKDTree(cells).query(np.floor(points / spacing + 1e-9))
    assert whose[0].max() == 0.0
    assert len(set(whose[1])) == len(points)
    assert abs(len(points) - len(cells)) <= 0.02 * len(cells)  # points on a cell's very border
    better = 0
    for point, k in zip(points, whose[1], strict=True):
        out = normals[cell == k].sum(axis=0)
        better += (every[cell == k] @ out).min() < point @ out - 1e-9 * np.linalg.norm(out)
    assert better <= 0.02 * len(points)


def test_convexity_is_told():
    convex = {name: Ground.of(mesh).convex for name, mesh in shapes.all_rough().items()}
    assert convex["box"]
    assert convex["ball"]
    assert not convex["notched"]
    assert not convex["bent"]


def test_spread_is_deep_apart_and_sorted():
    rng = np.random.default_rng(0)
    places = rng.uniform(-1, 1, (500, 3))
    depths = 1.0 - np.abs(places).max(axis=1)
    chosen = spread(places, depths, 20)
    assert len(chosen) == 20
    assert np.all(np.diff(1.0 - np.abs(chosen).max(axis=1)) <= 0.0)
    assert np.linalg.norm(chosen[:, None] - chosen[None], axis=2)[np.triu_indices(20, 1)].min() > 0
