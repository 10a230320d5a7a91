"""Shares of volume beyond a plane, against closed forms and the robust kernel."""

import numpy as np
import pytest
import shapes
from hypothesis import given
from hypothesis import strategies as st

from optimizer.mesh import Floats, Ints, Mesh, Plane, volume
from optimizer.placement.slicing import beyond
from optimizer.solid import as_solid


def share_beyond(corners: Floats, faces: Ints, normal: Floats, offset: float) -> float:
    """Share (0 to 1) of a closed body's volume with normal·z >= offset."""
    return beyond(corners, faces, normal, offset)[0] / volume(Mesh(corners, faces))


@given(st.floats(-1.2, 1.2))
def test_a_cube_cut_square_and_across_a_corner(level):
    cube = shapes.box((2.0, 2.0, 2.0))
    square = share_beyond(cube.vertices, cube.faces, np.array([0.0, 0.0, 1.0]), level)
    assert square == pytest.approx(np.clip((1.0 - level) / 2.0, 0.0, 1.0), abs=1e-12)
    # x + y + z >= 3 − t cuts a corner tetrahedron of volume t³/6 for t <= 2.
    t = abs(level) + 0.5
    corner = share_beyond(cube.vertices, cube.faces, np.full(3, 3**-0.5), (3.0 - t) * 3**-0.5)
    assert corner == pytest.approx(t**3 / 6.0 / 8.0, abs=1e-12)


@given(st.integers(0, 10_000))
def test_any_polytope_against_the_robust_kernel(seed):
    rng = np.random.default_rng(seed)
    mesh = shapes.random_polytope(seed)
    plane = Plane(shapes.random_rotation(rng)[:, 0], rng.uniform(-8.0, 8.0))
    solid = as_solid(mesh)
    cut_off = solid.trim_by_plane(tuple(plane.normal), plane.offset).volume() / solid.volume()
    share = share_beyond(mesh.vertices, mesh.faces, plane.normal, plane.offset)
    assert share == pytest.approx(cut_off, abs=1e-9)
    below = share_beyond(mesh.vertices, mesh.faces, -plane.normal, -plane.offset)
    assert share + below == pytest.approx(1.0, abs=1e-12)
