"""Where faces meet: counts and places against a slow count in plain Python."""

from collections import Counter

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapes import icosphere

from optimizer.errors import InputError
from optimizer.mesh import Mesh
from optimizer.rough.surface import faces_against, meeting_edges, place


def edge_counts(mesh: Mesh) -> Counter[frozenset[int]]:
    return Counter(
        frozenset((int(face[i]), int(face[(i + 1) % 3]))) for face in mesh.faces for i in range(3)
    )


@given(kept=st.sets(st.integers(0, 79), min_size=1))
def test_open_edges_agree_with_a_plain_count(kept: set[int]) -> None:
    ball = icosphere(subdivisions=1)
    mesh = Mesh(ball.vertices, ball.faces[sorted(kept)])
    lonely = [edge for edge, faces in edge_counts(mesh).items() if faces == 1]
    if not lonely:
        assert len(meeting_edges(mesh, "s").twin) == 120
        return
    rim = sum(np.linalg.norm(np.subtract(*mesh.vertices[list(edge)])) for edge in lonely)
    with pytest.raises(InputError) as error:
        meeting_edges(mesh, "s")
    assert f"{len(lonely)} open edges" in str(error.value)
    assert f"{rim:.2f} mm of rim in all" in str(error.value)


def test_twins_are_the_faces_at_each_edge() -> None:
    mesh = icosphere(subdivisions=2)
    edges = meeting_edges(mesh, "s")
    assert (
        len(edges.twin) == 3 * len(mesh.faces) // 2
    )  # Euler: two faces an edge, three edges a face
    for a, b in edges.twin:
        assert len(set(mesh.faces[a]) & set(mesh.faces[b])) == 2
    assert not edges.same_way.any()


@given(turned=st.sets(st.integers(0, 79), max_size=39))
def test_the_fewer_faces_are_turned(turned: set[int]) -> None:
    ball = icosphere(subdivisions=1)
    faces = ball.faces.copy()
    faces[list(turned)] = faces[list(turned)][:, ::-1]
    mesh = Mesh(ball.vertices, faces)
    against = faces_against(mesh, meeting_edges(mesh, "s"), "s")
    assert set(against.tolist()) == turned


def test_bodies_that_touch_in_a_corner_are_two() -> None:
    one = np.array([[0, 0, 0], [9, 0, 0], [0, 9, 0], [0, 0, 9]], float)
    faces = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]])
    other = np.where(faces > 0, faces + 3, 0)[:, ::-1]
    mesh = Mesh(np.vstack([one, -one[1:]]), np.vstack([faces, other]))
    with pytest.raises(InputError, match=r"2 separate bodies, longest sides 9\.00, 9\.00 mm"):
        faces_against(mesh, meeting_edges(mesh, "s"), "s")


def test_a_place_is_told_to_a_hundredth_without_minus_zero() -> None:
    assert place(np.array([1.23456, -0.001, 1e3])) == "(1.23, 0, 1000) mm"
