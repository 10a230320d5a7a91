"""Which corners lie over a large triangle, by coordinates in the triangle."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.placement.containers import LARGE_MM, LARGE_SHARE, Surface
from optimizer.placement.kernels.flat_rows import lies_over

SEEDS = st.integers(0, 2**32 - 1)


@given(SEEDS)
def test_points_lie_over_a_triangle_where_their_shares_of_its_corners_are_none_below_nothing(seed):
    rng = np.random.default_rng(seed)
    triangles = rng.normal(size=(4, 3, 3)) + rng.normal(scale=50.0, size=3)
    normals = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    low, high = -0.1, 0.3
    for f in range(4):
        shares = rng.uniform(-0.6, 1.2, (30, 2))
        shares = np.column_stack([shares, 1.0 - shares.sum(axis=1)])
        depths = rng.uniform(-0.3, 0.6, 30)
        points = shares @ triangles[f] - depths[:, None] * normals[f]
        wanted = (shares >= 0.0).all(axis=1) & (depths >= low) & (depths < high)
        assert (lies_over(triangles, normals, points, low, high)[f] == wanted).all()


@pytest.mark.parametrize("longest", [LARGE_MM, LARGE_SHARE * 4.0])
def test_large_triangles_come_with_their_unit_normals_and_slivers_do_not(longest):
    """Large in mm, or in a small piece for its size."""
    corner = np.zeros(3)
    flat = [corner, [2.0 * longest, 0.0, 0.0], [0.0, 0.5 * longest, 0.0]]
    small = [corner, [0.9 * longest, 0.0, 0.0], [0.0, 0.3 * longest, 0.0]]
    sliver = [corner, [longest, 0.0, 0.0], [longest / LARGE_SHARE, 0.0, 0.0]]
    surface = Surface.over(np.array([flat, small, sliver]))
    triangles, normals = surface.large
    assert np.array_equal(triangles, [flat])
    assert np.array_equal(normals, [[0.0, 0.0, 1.0]])
