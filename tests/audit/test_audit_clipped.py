"""The audit's volumes beside planes and section widths: closed forms, and the kernel's own."""

import numpy as np
import pytest
import shapes
from hypothesis import given
from hypothesis import strategies as st

from optimizer.audit.clipped import least_width, section_points, volumes_above
from optimizer.mesh import Mesh, Plane, volume
from optimizer.solid import as_solid

ROUGH = shapes.all_rough(5)
UP = np.array([0.0, 0.0, 1.0])


def volume_above(mesh: Mesh, plane: Plane) -> float:
    return volumes_above(mesh, plane.normal, (plane.offset,))[0]


def test_a_cube_from_its_corner():
    # the corner cap x + y + z >= 3a − e of a cube of edge 2a about the origin is a right
    # tetrahedron with three legs of e: e³/6; past the next corners inclusion and exclusion hold
    cube, diagonal = shapes.box((2.0, 2.0, 2.0)), np.ones(3) / np.sqrt(3.0)
    for e in (0.3, 1.0, 2.0, 2.5, 3.0, 3.9):
        closed_form = (e**3 - 3.0 * max(0.0, e - 2.0) ** 3) / 6.0
        plane = Plane(diagonal, (3.0 - e) / np.sqrt(3.0))
        assert volume_above(cube, plane) == pytest.approx(closed_form, rel=1e-13)


@pytest.mark.parametrize("offset", [-1.0, 0.0, 1.0])
def test_faces_that_lie_in_the_plane(offset):
    assert volume_above(shapes.box((2.0, 2.0, 2.0)), Plane(UP, offset)) == pytest.approx(
        4.0 * (1.0 - offset), abs=1e-15
    )


def test_a_corner_or_an_edge_in_the_plane():
    corners = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1], [0, 0, -1]], float)
    two = shapes.hull(corners)  # a tetrahedron of 1/6 above z = 0 and one below
    assert volume_above(two, Plane(UP, 0.0)) == pytest.approx(1.0 / 6.0, rel=1e-15)
    turned = Plane(np.array([1.0, 0.0, 0.0]), 0.0)
    assert volume_above(two, turned) == pytest.approx(1.0 / 3.0, rel=1e-15)
    assert volume_above(two, turned.flipped()) == pytest.approx(0.0, abs=1e-16)


@given(st.sampled_from(sorted(ROUGH)), st.integers(0, 10**6), st.floats(-0.6, 0.6))
def test_agrees_with_the_kernel_and_both_sides_make_the_whole(kind, seed, place):
    mesh = ROUGH[kind]
    n = shapes.random_rotation(np.random.default_rng(seed))[0]
    heights = mesh.vertices @ n
    plane = Plane(n, float(np.mean([heights.min(), heights.max()]) + place * np.ptp(heights)))
    above, whole = volume_above(mesh, plane), volume(mesh)
    cut = as_solid(mesh).trim_by_plane(tuple(n), plane.offset).volume()
    assert above == pytest.approx(cut, abs=1e-11 * whole)
    assert above + volume_above(mesh, plane.flipped()) == pytest.approx(whole, rel=1e-12)


def test_sections_and_their_least_width():
    # a ball cut at a distance d shows a circle of radius √(r² − d²); a box its sides
    ball = shapes.icosphere(10.0, 5)
    n = shapes.random_rotation(np.random.default_rng(1))[1]
    disc = least_width(section_points(ball, Plane(n, 6.0)))
    assert 16.0 - 0.02 < disc <= 16.0
    bar = shapes.box((30.0, 8.0, 5.0))
    assert least_width(section_points(bar, Plane(UP, 1.0))) == pytest.approx(8.0, abs=1e-12)
    assert least_width(section_points(bar, Plane(np.array([1.0, 0, 0]), 3.0))) == pytest.approx(5.0)
    assert least_width(section_points(bar, Plane(UP, 4.0))) == 0.0


def test_least_width_of_a_triangle_is_its_least_height():
    assert least_width(np.array([[0.0, 0.0], [3.0, 0.0], [0.0, 4.0]])) == pytest.approx(2.4)


def test_least_width_by_brute_turning():
    rng = np.random.default_rng(0)
    points = rng.standard_normal((40, 2)) * [3.0, 1.0]
    turns = np.linspace(0.0, np.pi, 200001)
    brute = np.ptp(np.column_stack([np.cos(turns), np.sin(turns)]) @ points.T, axis=1).min()
    assert least_width(points) == pytest.approx(brute, abs=1e-4)
    assert least_width(points) <= brute


def test_a_mesh_far_from_the_origin_keeps_its_digits():
    far = Mesh(shapes.icosphere(5.0, 3).vertices + 1e4, shapes.icosphere(5.0, 3).faces)
    plane = Plane(UP, 1e4 + 1.0)
    near = volume_above(shapes.icosphere(5.0, 3), Plane(UP, 1.0))
    assert volume_above(far, plane) == pytest.approx(near, rel=1e-9)
