"""Edges, bodies and windings of a mesh against plain counts."""

from collections import Counter

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapes import icosphere

from optimizer.errors import InputError
from optimizer.mesh import Mesh
from optimizer.rough.repair.bodies import face_outwards
from optimizer.rough.repair.edges import components, edges_of, faces_across
from optimizer.rough.repair.holes import find_holes
from optimizer.rough.repair.orient import make_agree
from optimizer.rough.repair.words import place


def edge_counts(mesh: Mesh) -> Counter[frozenset[int]]:
    return Counter(
        frozenset((int(face[i]), int(face[(i + 1) % 3]))) for face in mesh.faces for i in range(3)
    )


@given(kept=st.sets(st.integers(0, 79), min_size=1))
def test_rims_agree_with_a_plain_count(kept: set[int]) -> None:
    """Every lonely edge lies on one rim; each rim is a closed loop with no corner twice."""
    ball = icosphere(subdivisions=1)
    mesh = Mesh(ball.vertices, ball.faces[sorted(kept)])
    lonely = {edge for edge, faces in edge_counts(mesh).items() if faces == 1}
    holes = find_holes(mesh, edges_of(mesh))
    sides = [
        frozenset((int(a), int(b)))
        for hole in holes
        for a, b in zip(hole.rim, np.roll(hole.rim, -1), strict=True)
    ]
    assert len(sides) == len(lonely)
    assert set(sides) == lonely
    assert all(len(set(hole.rim.tolist())) == len(hole.rim) for hole in holes)
    total = sum(np.linalg.norm(np.subtract(*mesh.vertices[list(edge)])) for edge in lonely)
    assert sum(hole.around_mm for hole in holes) == pytest.approx(total)


def test_twins_are_the_faces_at_each_edge() -> None:
    mesh = icosphere(subdivisions=2)
    edges = edges_of(mesh)
    twins = edges.twins() // 3
    assert len(twins) == 3 * len(mesh.faces) // 2  # Euler: two faces an edge, three edges a face
    for a, b in twins:
        assert len(set(mesh.faces[a]) & set(mesh.faces[b])) == 2
    across = faces_across(edges)
    for face, beyond in enumerate(across):
        for side, other in enumerate(beyond):
            ends = {mesh.faces[face][side], mesh.faces[face][(side + 1) % 3]}
            assert ends <= set(mesh.faces[other])


@given(turned=st.sets(st.integers(0, 79), max_size=39))
def test_the_fewer_faces_are_turned(turned: set[int]) -> None:
    ball = icosphere(subdivisions=1)
    faces = ball.faces.copy()
    faces[list(turned)] = faces[list(turned)][:, ::-1]
    mesh = Mesh(ball.vertices, faces)
    agreed = make_agree(mesh, edges_of(mesh), "s").mesh
    np.testing.assert_array_equal(agreed.faces, ball.faces)


def test_bodies_that_touch_in_a_corner_are_two() -> None:
    one = np.array([[0, 0, 0], [9, 0, 0], [0, 9, 0], [0, 0, 9]], float)
    faces = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]])
    other = np.where(faces > 0, faces + 3, 0)[:, ::-1]
    mesh = Mesh(np.vstack([one, -one[1:]]), np.vstack([faces, other]))
    assert components(edges_of(mesh).joined() // 3, 8).tolist() == [0, 0, 0, 0, 1, 1, 1, 1]
    with pytest.raises(InputError, match=r"2 bodies, the greatest 9\.00 mm long; one of 9\.00 mm"):
        face_outwards(mesh, edges_of(mesh), "s")


def test_a_place_is_told_to_a_hundredth_without_minus_zero() -> None:
    assert place(np.array([1.23456, -0.001, 1e3])) == "(1.23, 0, 1000) mm"
