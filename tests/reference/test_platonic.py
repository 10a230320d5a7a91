"""The largest copy of one Platonic solid in another, all 20 pairs.

Values: H. T. Croft, On maximum inscribed polyhedra (Proceedings of the London Mathematical Society
(3) 41, 1980, 279-296) for 14 pairs; M. Firsching, Computing maximal copies of polytopes contained
in a polytope (arXiv 1407.0683) for the six marked "computed", who also gives two of Croft's printed
values (tetrahedron and octahedron in the dodecahedron) as misprints. Edge of the inner solid for a
container of edge 1.
"""

import itertools

import numpy as np
import pytest
import trimesh

from optimizer import largest_copy

PHI = (1.0 + 5**0.5) / 2.0
R2, R3, R5, R10 = 2**0.5, 3**0.5, 5**0.5, 10**0.5


def cyclic(points):
    """Each point's coordinates in all three cyclic orders."""
    return np.array([np.roll(p, k) for p in points for k in range(3)])


SIGNS = list(itertools.product([-1.0, 1.0], repeat=2))
CUBE = np.array(list(itertools.product([-0.5, 0.5], repeat=3)))
SOLIDS = {
    "tetrahedron": np.array([[1, 1, 1], [1, -1, -1], [-1, 1, -1], [-1, -1, 1]]) / 8**0.5,
    "cube": CUBE,
    "octahedron": np.vstack([np.eye(3), -np.eye(3)]) / R2,
    "dodecahedron": np.vstack([2 * CUBE, cyclic([(0, a / PHI, b * PHI) for a, b in SIGNS])])
    * PHI
    / 2.0,
    "icosahedron": cyclic([(0, a, b * PHI) for a, b in SIGNS]) / 2.0,
}

EDGES = {
    ("cube", "tetrahedron"): 1.0 / (1.0 + 2.0 * R3 / 3.0 + 6**0.5 / 2.0),
    ("octahedron", "tetrahedron"): 0.5,
    ("dodecahedron", "tetrahedron"): 0.1626315802186129,  # computed, degree 16
    ("icosahedron", "tetrahedron"): (3.0 * R2 - R10) / 4.0,
    ("tetrahedron", "cube"): R2,
    ("octahedron", "cube"): 3.0 * R2 / 4.0,
    ("dodecahedron", "cube"): (3.0 * R2 - 7.0 + (55.0 - 30.0 * R2) ** 0.5) / 2.0,
    ("icosahedron", "cube"): 1.0 / PHI,
    ("tetrahedron", "octahedron"): 1.0,
    ("cube", "octahedron"): 2.0 - R2,
    ("icosahedron", "octahedron"): (3.0 * R2 - R10) / 2.0,
    ("dodecahedron", "octahedron"): (25.0 * R2 - 9.0 * R10) / 22.0,  # computed
    ("tetrahedron", "dodecahedron"): PHI * R2,
    ("cube", "dodecahedron"): PHI,
    ("octahedron", "dodecahedron"): PHI**2 / R2,
    ("icosahedron", "dodecahedron"): PHI**2 / 2.0,  # computed
    ("tetrahedron", "icosahedron"): 1.3474428503311956,  # computed, degree 32
    ("cube", "icosahedron"): (5.0 + 7.0 * R5) / 22.0,  # computed
    ("octahedron", "icosahedron"): (1.0 + 1.0 / R2 + (7.5 - 5.0 * R2) ** 0.5) / 2.0,
    ("dodecahedron", "icosahedron"): (15.0 - R5) / 22.0,  # computed
}


def edge(points):
    """The least distance between two corners."""
    gaps = np.linalg.norm(points[:, None] - points[None], axis=2)
    return gaps[np.triu_indices(len(points), 1)].min()


@pytest.mark.parametrize("name", sorted(SOLIDS))
def test_the_solids_have_edge_one(name):
    assert edge(SOLIDS[name]) == pytest.approx(1.0, abs=1e-15)
    faces = {"tetrahedron": 4, "cube": 6, "octahedron": 8, "dodecahedron": 12, "icosahedron": 20}
    hull = trimesh.convex.convex_hull(SOLIDS[name])
    assert len(np.unique(hull.face_normals.round(9), axis=0)) == faces[name]


@pytest.mark.parametrize(("inner", "outer"), sorted(EDGES))
def test_largest_copy_has_the_published_edge_and_proves_it(inner, outer):
    container = trimesh.convex.convex_hull(SOLIDS[outer])
    fit = largest_copy(SOLIDS[inner], container, prove=True, gap=1e-6)
    assert fit.scale == pytest.approx(EDGES[inner, outer], rel=1e-12)
    assert 1.0 <= fit.bound / EDGES[inner, outer] <= 1.0 + 1.1e-6
    placed = fit.translation + fit.scale * SOLIDS[inner] @ fit.rotation.T
    beyond = container.face_normals @ placed.T - np.einsum(
        "ij,ij->i", container.face_normals, container.triangles[:, 0]
    )[:, None]  # fmt: skip
    assert beyond.max() < 1e-12
    assert np.abs(fit.rotation @ fit.rotation.T - np.eye(3)).max() < 1e-12
    assert np.linalg.det(fit.rotation) > 0.0
