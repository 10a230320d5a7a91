"""Distances to measure: do they fix the cuts, and can they be measured?"""

import numpy as np
import pytest
import shapes
from hand_plans import six_sided_body
from hypothesis import given, settings
from hypothesis import strategies as st
from laid_stones import block, laid, moved_placement, moved_rough, rough_of

from optimizer.guidance.distances import cut_distances, normals_at
from optimizer.guidance.landmarks import (
    area_on,
    edges_on,
    flats_on,
    landmark_marks,
    landmarks,
    left_of,
)
from optimizer.mesh import Plane
from optimizer.order import Workshop
from optimizer.rough.model import ReferenceFace
from optimizer.sawing import saw_plan

SEEDS = st.integers(0, 10_000)
SHOP = Workshop()
PIECES = {
    "pebble": shapes.pebble(2, radius=9.0, subdivisions=3),
    "crystal": shapes.crystal(1, length=26.0, width=13.0, subdivisions=3),
    "slab": shapes.slab(5, length=26.0, thickness=8.0, subdivisions=3),
}


def box_faces(size):
    """The three faces of a box that a person would stand it on, pointing out of it."""
    named = {"bottom": (2, -1), "front": (1, -1), "left": (0, -1)}
    return [
        ReferenceFace(name, Plane(sign * np.eye(3)[axis], size[axis] / 2))
        for name, (axis, sign) in named.items()
    ]


def distances_for(rough, stone):
    plan, _ = saw_plan(rough, stone, SHOP)
    points = landmarks(rough.mesh)
    return plan, cut_distances(rough, plan, points, stone.pose.rotation[:, 0])


def spots(told):
    """The marked points A, B, C of one cut by name."""
    return {d.end: d.end_point for d in told if d.end.startswith("point ")}


def assert_points_fix_plane(plane, points):
    a, b, c = points
    normal = np.cross(b - a, c - a)
    assert np.linalg.norm(normal) > 1.0  # a triangle of half a square millimetre at least
    normal /= np.linalg.norm(normal)
    normal *= np.sign(normal @ plane.normal)
    assert normal == pytest.approx(plane.normal, abs=1e-6)
    assert normal @ a == pytest.approx(plane.offset, abs=1e-6)


@settings(max_examples=6)
@given(SEEDS, st.sampled_from(sorted(PIECES)))
def test_every_cut_is_fixed_by_three_points_of_two_readings(seed, kind):
    rng = np.random.default_rng(seed)
    rough = rough_of(PIECES[kind])
    stone = laid(six_sided_body(), 4.0, rng.uniform(-0.3, 0.3, 3), shapes.random_rotation(rng))
    plan, told = distances_for(rough, stone)
    assert len(told) == len(plan.cuts)
    for number, (cut, distances) in enumerate(zip(plan.cuts, told, strict=True), 1):
        marked = spots(distances)
        assert list(marked) == [f"point {k} on the line of cut {number}" for k in "ABC"]
        assert_points_fix_plane(cut.plane, marked.values())
        assert len(distances) == 7
        for d in distances:
            assert np.linalg.norm(d.end_point - d.start_point) == pytest.approx(d.mm, abs=1e-9)
        check = distances[-1]
        below = plan.pieces[cut.below[0]].mesh.vertices @ cut.plane.normal
        assert check.mm == pytest.approx(np.ptp(below), abs=1e-6)


def test_readings_from_flats_start_on_them():
    size = (30.0, 7.0, 6.0)
    rough = rough_of(shapes.box(size), faces=box_faces(size))
    _, told = distances_for(rough, laid(block(), 4.0, at=(-10.0, 0.5, -1.0)))
    planes = {f"face {f.name}": f.plane for f in rough.reference_faces}
    from_flats = [d for cut in told for d in cut if d.start in planes]
    assert from_flats
    for d in from_flats:
        plane = planes[d.start]
        assert d.start_point @ plane.normal == pytest.approx(plane.offset)
        assert d.mm == pytest.approx(plane.offset - d.end_point @ plane.normal, abs=1e-6)


def test_a_square_cut_of_a_bar_reads_the_same_from_its_end_three_times():
    size = (30.0, 7.0, 4.0)
    rough = rough_of(shapes.box(size), faces=box_faces(size))
    plan, told = distances_for(rough, laid(block(), 6.0, at=(-10.0, 0.0, 0.0)))
    (cut,) = plan.cuts
    from_end = [d.mm for d in told[0] if d.start == "face left"]
    assert from_end == pytest.approx([cut.plane.offset + 15.0] * 3, abs=1e-6)
    assert told[0][-1].mm == pytest.approx(cut.plane.offset - 0.2 + 15.0, abs=1e-6)


def test_readings_from_three_square_faces_rebuild_a_slanting_plane():
    size = (30.0, 12.0, 10.0)
    faces = box_faces(size)
    rough = rough_of(shapes.box(size), faces=faces)
    turn = shapes.random_rotation(np.random.default_rng(4))
    plan, told = distances_for(rough, laid(six_sided_body(), 4.0, at=(-8.0, 0, 0), turn=turn))
    planes = {f"face {f.name}": f.plane for f in faces}
    cut, first = plan.cuts[0], told[0]
    for name, point in spots(first).items():
        readings = [d for d in first if d.end == name]
        on_box = np.abs(np.abs(point) - np.array(size) / 2) < 1e-6
        rows = [planes[d.start].normal for d in readings if d.start in planes]
        rows += [np.eye(3)[k] for k in np.flatnonzero(on_box)]  # the surface is known, too
        heights = [planes[d.start].offset - d.mm for d in readings if d.start in planes]
        heights += [point[k] for k in np.flatnonzero(on_box)]
        if np.linalg.matrix_rank(np.array(rows)) == 3:
            rebuilt = np.linalg.lstsq(np.array(rows), np.array(heights), rcond=None)[0]
            assert rebuilt @ cut.plane.normal == pytest.approx(cut.plane.offset, abs=1e-6)


@pytest.mark.parametrize("kind", sorted(PIECES))
@pytest.mark.parametrize("seed", [8, 9])
def test_readings_and_surface_leave_no_point_free_to_slide(kind, seed):
    rough = rough_of(PIECES[kind])
    stone = laid(six_sided_body(), 4.0, turn=shapes.random_rotation(np.random.default_rng(seed)))
    plan, told = distances_for(rough, stone)
    assert len(plan.cuts) >= 4
    for cut, distances in zip(plan.cuts, told, strict=True):
        for point in spots(distances).values():
            readings = [d for d in distances[:6] if np.array_equal(d.end_point, point)]
            ways = [(d.end_point - d.start_point) / d.mm for d in readings if d.mm > 0.3]
            ways += list(normals_at(plan.pieces[cut.piece].mesh, point))
            assert np.linalg.svd(np.array(ways))[1][2] > 0.05


@pytest.mark.parametrize(
    ("point", "normals"),
    [
        ((1.0, 3.5, 0.5), [[0, 1, 0]]),
        ((15.0, 3.5, 0.5), [[1, 0, 0], [0, 1, 0]]),
        ((15.0, 3.5, 2.0), [[1, 0, 0], [0, 1, 0], [0, 0, 1]]),
        ((1.0, 1.0, 0.5), []),
    ],
)
def test_surface_normals_at_a_boxs_face_edge_and_corner(point, normals):
    found = normals_at(shapes.box((30.0, 7.0, 4.0)), np.array(point))
    assert sorted(map(tuple, np.unique(np.round(found, 9), axis=0) + 0.0)) == sorted(
        map(tuple, np.array(normals, float).reshape(-1, 3))
    )


def test_a_spot_on_a_sawn_edge_is_not_measured_from_that_face():
    rough = rough_of(PIECES["slab"])
    _, told = distances_for(rough, laid(six_sided_body(), 4.0))
    for distances in told:
        for d in distances[:6]:
            if "sawn face" in d.start and " end of " not in d.start:
                assert d.mm > 0.3 or "nothing to measure" in d.how


def test_edges_of_a_box_run_where_two_flats_meet():
    size = (30.0, 7.0, 4.0)
    rough = rough_of(shapes.box(size), faces=box_faces(size))
    flats = flats_on(rough.mesh, rough.reference_faces, ())
    edges = {edge.name: edge for edge in edges_on(rough.mesh, flats)}
    lengths = {name: np.linalg.norm(edge.ends[1] - edge.ends[0]) for name, edge in edges.items()}
    assert lengths == pytest.approx(
        {
            "the edge between face bottom and face front": 30.0,
            "the edge between face bottom and face left": 7.0,
            "the edge between face front and face left": 4.0,
        }
    )
    nearer, farther = edges["the edge between face front and face left"].seen_from(np.zeros(3) + 1)
    assert nearer.point == pytest.approx([-15.0, -3.5, 2.0])
    assert farther.point == pytest.approx([-15.0, -3.5, -2.0])
    assert nearer.name == "the nearer end of the edge between face front and face left"


def test_an_edge_sawn_short_ends_at_the_cut():
    size = (30.0, 7.0, 4.0)
    rough = rough_of(shapes.box(size), faces=box_faces(size))
    plan, _ = saw_plan(rough, laid(block(), 6.0, at=(-10.0, 0.0, 0.0)), SHOP)
    piece = plan.pieces[1].mesh
    edges = edges_on(piece, flats_on(piece, rough.reference_faces, plan.cuts))
    assert len(edges) == 5  # three meet in the corner, two more at the sawn face
    assert max(edge.ends[:, 0].max() for edge in edges) < plan.cuts[0].plane.offset


def test_the_first_reading_of_a_point_runs_more_across_the_cut():
    rough = rough_of(PIECES["pebble"])
    plan, told = distances_for(rough, laid(six_sided_body(), 4.0))
    for cut, distances in zip(plan.cuts, told, strict=True):
        for across, along in zip(distances[0:6:2], distances[1:6:2], strict=True):
            assert across.end == along.end
            assert across.start != along.start
            if min(across.mm, along.mm) > 0.1:
                steep = [
                    abs(cut.plane.normal @ (d.end_point - d.start_point)) / d.mm
                    for d in (across, along)
                ]
                assert steep[0] >= steep[1] - 1e-5


@settings(max_examples=2)
@given(SEEDS)
def test_readings_stay_when_the_piece_is_turned(seed):
    rough, stone = rough_of(PIECES["pebble"]), laid(six_sided_body(), 4.0)
    turn, shift = shapes.random_motion(np.random.default_rng(seed))
    _, here = distances_for(rough, stone)
    _, there = distances_for(moved_rough(rough, turn, shift), moved_placement(stone, turn, shift))
    for one, other in zip(here, there, strict=True):
        assert [d.start for d in other] == [d.start for d in one]
        assert [d.mm for d in other] == pytest.approx([d.mm for d in one], abs=1e-5)
        for a, b in zip(one[:6], other[:6], strict=True):  # the check's point may be one of many
            assert b.end_point == pytest.approx(shift + turn @ a.end_point, abs=1e-5)


# --- places to measure from ------------------------------------------------------------------


def test_landmarks_of_a_box_are_opposite_corners():
    points = landmarks(shapes.box((12.0, 9.0, 8.0)))
    assert [p.name for p in points] == ["mark P", "mark Q", "mark R", "mark S", "mark T"]
    assert np.linalg.norm(points[0].point - points[1].point) == pytest.approx(17.0)
    assert points[0].point == pytest.approx(-points[1].point)


@given(SEEDS)
@settings(max_examples=20)
def test_no_two_points_are_farther_apart_than_p_and_q(seed):
    piece = shapes.random_polytope(seed)
    p, q, r, *_ = (place.point for place in landmarks(piece))
    away = np.linalg.norm(piece.vertices[:, None] - piece.vertices[None], axis=2)
    assert np.linalg.norm(p - q) == pytest.approx(away.max(), abs=1e-5)
    along = (q - p) / np.linalg.norm(q - p)
    aside = np.linalg.norm(np.cross(piece.vertices - p, along), axis=1)
    assert np.linalg.norm(np.cross(r - p, along)) == pytest.approx(aside.max(), abs=1e-5)


def test_the_marks_say_where_to_find_the_landmarks():
    marks = landmark_marks(landmarks(shapes.box((12.0, 9.0, 8.0))))
    assert {mark.on for mark in marks} == {"rough"}
    assert "17.0 mm" in marks[0].text


def test_a_face_sawn_away_is_no_longer_measured_from():
    size = (30.0, 7.0, 4.0)
    right = ReferenceFace("right", Plane(np.array([1.0, 0, 0]), 15.0))
    rough = rough_of(shapes.box(size), faces=[*box_faces(size), right])
    plan, _ = saw_plan(rough, laid(block(), 6.0, at=(-10.0, 0.0, 0.0)), SHOP)
    piece = plan.pieces[1].mesh
    names = [flat.name for flat in flats_on(piece, rough.reference_faces, plan.cuts)]
    assert names == ["face bottom", "face front", "face left", "the sawn face of cut 1"]
    assert area_on(rough.mesh, right.plane) == pytest.approx(28.0)
    assert area_on(piece, right.plane) == 0.0
    left = left_of(landmarks(rough.mesh), plan.cuts)
    assert left
    assert all(place.point[0] < plan.cuts[0].plane.offset for place in left)
