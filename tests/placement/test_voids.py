"""Voids: balls that no point of the rough, less the clearance, lies in; and what they keep off."""

import numpy as np
import pytest
import shapes
from scipy.spatial import cKDTree

from optimizer.placement.ground import Ground
from optimizer.placement.kernels.voids import _plane_beyond
from optimizer.placement.voids import voids_about
from optimizer.rough.repair.distance import distances

PIECES = {
    "dented": lambda: shapes.dented(1, subdivisions=2),
    "notched": shapes.notched,
    "bent": lambda: shapes.bent(rings=12),
}


@pytest.mark.parametrize(("piece", "skin"), [("dented", 0.0), ("notched", 0.5), ("bent", 0.2)])
def test_no_place_inside_by_the_clearance_lies_in_a_void(piece, skin):
    ground = Ground.of(PIECES[piece]())
    voids = voids_about(ground, skin)
    there = voids.radii > 0.0
    assert there.sum() > 1000
    middles, radii = voids.middles[there], voids.radii[there]
    depths = distances(ground.places, ground.surface.triangles)
    inside = cKDTree(ground.places[depths > skin])
    assert np.all(inside.query(middles)[0] >= radii)


def test_a_void_rests_on_the_surface():
    """Each reaches the clearance deep into the rough beside its foot, the smallest at least."""
    ground = Ground.of(PIECES["bent"]())
    voids = voids_about(ground, 0.2)
    first = voids.radii[:, 0] > 0.0
    reach = distances(voids.middles[first, 0], ground.surface.triangles)
    assert np.allclose(voids.radii[first, 0], reach + 0.2)


def test_what_a_void_leaves_lies_beyond_its_plane():
    """Random places within the spread and outside the void."""
    rng = np.random.default_rng(0)
    tight = []
    for _ in range(300):
        middle, m = rng.normal(size=(2, 3))
        radius, spread = np.linalg.norm(m - middle) * rng.uniform(0.3, 1.5), rng.uniform(0.01, 1.5)
        n = np.empty(3)
        level, _ = _plane_beyond(middle, radius, m, spread, n)
        ways = rng.normal(size=(400, 3))
        ways *= (spread * rng.random((400, 1)) ** 0.2) / np.linalg.norm(ways, axis=1, keepdims=True)
        outside = m + ways[np.linalg.norm(m + ways - middle, axis=1) >= radius]
        if len(outside):
            above = (outside - middle) @ n - level
            assert above.min() >= -1e-9
            tight.append(above.min() / spread)
    assert min(tight) < 0.05
