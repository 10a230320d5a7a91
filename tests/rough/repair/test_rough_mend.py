"""What is put right: counted, reported, and never more than that."""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapes import icosphere

from optimizer.errors import InputError
from optimizer.mesh import Mesh, volume
from optimizer.rough.formats.scan import Scan
from optimizer.rough.model import Repair
from optimizer.rough.repair.mend import drop_needless_faces, merge_corners
from optimizer.rough.repair.solidify import make_solid


def said(repairs: tuple[Repair, ...]) -> tuple[str, ...]:
    return tuple(repair.sentence for repair in repairs)


def soup(mesh: Mesh) -> Scan:
    """Every triangle with three corners of its own, as in STL."""
    corners = mesh.triangles.reshape(-1, 3)
    return Scan(corners, np.arange(len(corners)).reshape(-1, 3))


def test_a_soup_of_triangles_is_merged_back(box: Mesh) -> None:
    scan = soup(box)
    merged = merge_corners(Mesh(scan.vertices, scan.faces))
    assert said(merged.repairs) == ()  # a habit of the format, nothing wrong with the scan
    np.testing.assert_array_equal(merged.mesh.triangles, box.triangles)
    assert len(np.unique(merged.mesh.vertices, axis=0)) == len(merged.mesh.vertices) == 8


def test_vertices_keep_their_order_in_the_file(box: Mesh) -> None:
    merged = merge_corners(box)
    assert said(merged.repairs) == ()
    assert merged.mesh.vertices.tobytes() == box.vertices.tobytes()
    np.testing.assert_array_equal(merged.mesh.faces, box.faces)


def test_zero_and_minus_zero_are_one_place() -> None:
    points = np.array([[0.0, 0, 0], [-0.0, 0, 0], [1, 0, 0], [0, 1, 0]])
    merged = merge_corners(Mesh(points, np.array([[0, 2, 3], [1, 3, 2]])))
    assert merged.mesh.faces.tolist() == [[0, 1, 2], [0, 2, 1]]


def test_loose_points_are_left_out_and_counted(box: Mesh) -> None:
    more = np.vstack([[[1e9, 0, 0]], box.vertices])
    merged = merge_corners(Mesh(more, box.faces + 1))
    assert said(merged.repairs) == ("1 point that no triangle uses left out",)
    np.testing.assert_array_equal(merged.mesh.triangles, box.triangles)


@given(st.lists(st.tuples(*[st.sampled_from([0.0, -0.0, 0.1, 1e-300, 5e-324])] * 3), min_size=3))
def test_merging_agrees_with_python_sets(rows: list[tuple[float, ...]]) -> None:
    faces = np.arange(len(rows) // 3 * 3).reshape(-1, 3)
    points = np.array(rows)
    merged = merge_corners(Mesh(points, faces)).mesh
    np.testing.assert_array_equal(merged.triangles, points[faces])
    assert len(merged.vertices) == len(set(rows[: faces.size]))


def test_needless_faces_are_dropped_and_counted(box: Mesh) -> None:
    more = np.vstack(
        [box.faces, [[0, 0, 1], [3, 2, 3]], box.faces[:1, [1, 2, 0]], box.faces[5:6, ::-1]]
    )
    kept = drop_needless_faces(Mesh(box.vertices, more))
    np.testing.assert_array_equal(kept.mesh.faces, box.faces)
    assert said(kept.repairs) == (
        "2 triangles with two corners at one point left out",
        "2 duplicate triangles left out",
    )


@pytest.mark.parametrize("way", [1, -1])
@given(twice=st.sets(st.integers(0, 79)), times=st.integers(1, 3))
def test_triangles_that_were_saved_several_times_stay_once(
    way: int, twice: set[int], times: int
) -> None:
    """Patches of any shape, up to the whole surface, as it was wound or double-sided."""
    ball = icosphere(subdivisions=1)
    again = np.repeat(ball.faces[sorted(twice)], times, axis=0)[:, ::way]
    kept = drop_needless_faces(Mesh(ball.vertices, np.vstack([ball.faces, again])))
    np.testing.assert_array_equal(kept.mesh.faces, ball.faces)
    assert len(kept.repairs) == (len(twice) > 0)


@given(turned=st.sets(st.integers(0, 79), max_size=80))
def test_flipped_windings_are_mended_with_their_count(
    turned: set[int],
) -> None:
    """Any subset of 80 triangles turned: the solid comes back, and the report adds up."""
    mesh = icosphere(subdivisions=1)
    faces = mesh.faces.copy()
    faces[list(turned)] = faces[list(turned)][:, ::-1]
    solid = make_solid(Scan(mesh.vertices, faces), 1.0, "s.ply")
    assert volume(solid.mesh) == pytest.approx(volume(mesh), rel=1e-12)
    fewer = min(len(turned), 80 - len(turned))
    against = [r for r in said(solid.repairs) if "against their neighbours" in r]
    assert len(against) == (fewer > 0)
    assert all(r.startswith(f"{fewer} triangle") for r in against)
    if len(turned) != 40:
        assert any("inside out" in r for r in said(solid.repairs)) == (len(turned) > 40)
    assert solid.watertight_as_read == (not turned)


def test_a_surface_inside_out_is_turned(box: Mesh) -> None:
    solid = make_solid(Scan(box.vertices, box.faces[:, ::-1]), 1.0, "s.ply")
    assert said(solid.repairs) == ("the surface was inside out: every triangle turned",)
    assert volume(solid.mesh) == pytest.approx(480.0, rel=1e-12)


def test_open_edges_are_refused_with_count_length_and_place(box: Mesh) -> None:
    # without the two triangles of the +x side, the rim is its four edges: 2·(8 + 6) mm
    side = (box.triangles[:, :, 0] == 25.0).all(axis=1)
    with pytest.raises(InputError) as error:
        make_solid(Scan(box.vertices, box.faces[~side]), 1.0, "s.ply")
    message = str(error.value)
    assert "4 open edges in 1 hole, 28.00 mm of rim" in message
    assert "(25, -3, 7) mm" in message


def test_several_holes_are_counted_apart(sphere: Callable[..., Mesh]) -> None:
    mesh = sphere(3)
    up = np.argsort(mesh.triangles.mean(axis=1)[:, 2])
    scan = Scan(mesh.vertices, mesh.faces[up[24:-24]])
    with pytest.raises(InputError, match="24 open edges in 2 holes"):
        make_solid(scan, 1.0, "s.ply")


def test_two_bodies_of_some_size_are_refused_with_their_sizes(box: Mesh) -> None:
    points = np.vstack([box.vertices, box.vertices * 0.5 + [20.0, 0.0, 0.0]])
    faces = np.vstack([box.faces, box.faces + 8])
    said = r"2 bodies, the greatest 10\.00 mm long; one of 5\.00 mm about .* has 12 % of its volume"
    with pytest.raises(InputError, match=said):
        make_solid(Scan(points, faces), 1.0, "s.ply")


def test_a_wall_of_some_size_on_an_edge_is_refused(box: Mesh) -> None:
    """Three walls meet in an edge: which of them belong to the piece isn't certain."""
    points = np.vstack([box.vertices, [[40.0, 0.0, 0.0]]])
    fin = [[*box.faces[0][:2], 8]]
    with pytest.raises(InputError, match="1 edge with more than two triangles"):
        make_solid(Scan(points, np.vstack([box.faces, fin])), 1.0, "s.ply")


def test_a_one_sided_surface_is_refused() -> None:
    """The projective plane in six points: closed, and with one side only."""
    faces = [(0, 1, 2), (0, 2, 3), (0, 3, 4), (0, 4, 5), (0, 5, 1),
             (1, 2, 4), (2, 3, 5), (3, 4, 1), (4, 5, 2), (5, 1, 3)]  # fmt: skip
    points = np.random.default_rng(1).normal(0.0, 5.0, (6, 3))
    with pytest.raises(InputError, match="only one side"):
        make_solid(Scan(points, np.array(faces, np.int64)), 1.0, "s.ply")


def test_a_flat_surface_is_refused(box: Mesh) -> None:
    flat = box.vertices * [1.0, 1.0, 0.0]
    with pytest.raises(InputError, match=r"encloses no volume \(10 × 8 × 0 mm\)"):
        make_solid(Scan(flat, box.faces), 1.0, "s.ply")


def test_coordinates_beyond_reason_are_refused(box: Mesh) -> None:
    with pytest.raises(InputError, match="beyond 1e12 mm"):
        make_solid(Scan(box.vertices * 1e306, box.faces), 1000.0, "s.ply")
