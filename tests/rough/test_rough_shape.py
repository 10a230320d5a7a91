"""Shape figures against closed forms."""

import math

import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st
from shapes import box, ellipsoid, moved, notched, random_motion

from optimizer.mesh import Mesh, volume
from optimizer.rough.shape import hull_volume_mm3, largest_section_mm2, principal_axes, sizes


@given(seed=st.integers(0, 10**6))
def test_a_turned_box_is_measured_along_its_own_edges(seed: int) -> None:
    rotation, shift = random_motion(np.random.default_rng(seed))
    turned = moved(box((10.0, 8.0, 6.0)), rotation, shift)
    centre, axes = principal_axes(turned)
    np.testing.assert_allclose(centre, shift, atol=1e-9)
    np.testing.assert_allclose(axes @ axes.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(axes) == pytest.approx(1.0)
    np.testing.assert_allclose(sizes(turned, axes), [10.0, 8.0, 6.0], rtol=1e-9)
    np.testing.assert_allclose(np.abs(axes @ rotation), np.eye(3), atol=1e-6)


def test_principal_axes_agree_with_another_library() -> None:
    """The outside check: trimesh's inertia."""
    mesh = ellipsoid((9.0, 6.0, 4.0))
    theirs = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    centre, axes = principal_axes(mesh)
    np.testing.assert_allclose(centre, theirs.center_mass, atol=1e-9)
    inertia = axes @ theirs.moment_inertia @ axes.T
    np.testing.assert_allclose(inertia, np.diag(np.diag(inertia)), atol=1e-6 * inertia[2, 2])
    assert inertia[0, 0] < inertia[1, 1] < inertia[2, 2]


def test_largest_section_of_a_box_and_a_ball() -> None:
    assert largest_section_mm2(box((10.0, 8.0, 6.0))) == pytest.approx(80.0, rel=1e-9)
    ball = ellipsoid((5.0, 5.0, 5.0))
    assert largest_section_mm2(ball) == pytest.approx(25.0 * math.pi, rel=0.02)


def test_sections_do_not_bridge_a_notch_but_the_hull_does() -> None:
    """A box notched so that each way across it some section is smaller than the box's."""
    piece = notched((20.0, 14.0, 12.0), depth=6.0)
    assert hull_volume_mm3(piece) == pytest.approx(20.0 * 14.0 * 12.0, rel=1e-9)
    assert largest_section_mm2(piece) <= 20.0 * 14.0 * (1.0 + 1e-9)
    # No section can be smaller on the mean than the volume over the longest way across.
    assert largest_section_mm2(piece) >= volume(piece) / 12.5


def test_hull_of_a_mesh(box: Mesh) -> None:
    assert hull_volume_mm3(box) == pytest.approx(480.0, rel=1e-12)
