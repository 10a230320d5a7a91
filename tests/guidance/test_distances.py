"""Distances to measure: do they fix the cuts, and can they be measured?"""

from functools import cache

import numpy as np
import pytest
import shapes
from handmade_plans import six_sided_body
from hypothesis import given, settings
from hypothesis import strategies as st
from placed_stones import box_body, moved_placement, moved_rough, placement_of, rough_of

from optimizer.guidance.distances import cut_distances, normals_at
from optimizer.guidance.landmarks import (
    Edge,
    Landmark,
    edges_on,
    landmark_marks,
    landmarks,
    landmarks_on,
    longest_reading,
)
from optimizer.guidance.readings import (
    CutPoint,
    TriangleCells,
    choose_readings,
    reading_from_flat,
    reading_from_point,
)
from optimizer.mesh import Mesh, Plane
from optimizer.order import Workshop
from optimizer.rough.model import ReferenceFace
from optimizer.sawing import saw_plan, saw_plan_of
from optimizer.sawing.faces import MeasuringFlat, area_on, centroid, flats_of, stands_on
from optimizer.sawing.model import Piece, SawPlan
from optimizer.several.cut_tree import CutTree
from optimizer.several.model import Division, PlacedStone

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


@cache
def told_of(kind, seed=None):
    """A piece with a stone that lies somehow in its middle: its cuts, and what is measured."""
    rough, stone = rough_of(PIECES[kind]), placement_of(six_sided_body(), 4.0)
    if seed is not None:
        rng = np.random.default_rng(seed)
        turn = shapes.random_rotation(rng)
        stone = placement_of(six_sided_body(), 4.0, rng.uniform(-0.3, 0.3, 3), turn)
    return distances_for(rough, stone)


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


@pytest.mark.parametrize("kind", sorted(PIECES))
@pytest.mark.parametrize("seed", [8, 9])
def test_every_cut_is_fixed_by_three_points_of_two_readings(kind, seed):
    plan, told = told_of(kind, seed)
    assert len(told) == len(plan.cuts)
    for number, (cut, distances) in enumerate(zip(plan.cuts, told, strict=True), 1):
        marked = spots(distances)
        assert list(marked) == [f"point {k} on the line of cut {number}" for k in "ABC"]
        assert_points_fix_plane(cut.plane, marked.values())
        for name in marked:
            assert sum(d.end == name for d in distances) in (2, 3)
        for d in distances:
            assert np.linalg.norm(d.end_point - d.start_point) == pytest.approx(d.mm, abs=1e-9)
        check = distances[-1]
        below = plan.pieces[cut.below[0]].mesh.vertices @ cut.plane.normal
        assert check.mm == pytest.approx(np.ptp(below), abs=1e-6)


def test_readings_from_flats_start_on_them():
    size = (30.0, 7.0, 6.0)
    rough = rough_of(shapes.box(size), faces=box_faces(size))
    _, told = distances_for(rough, placement_of(box_body(), 4.0, at=(-10.0, 0.5, -1.0)))
    planes = {f"face {f.name}": f.plane for f in rough.reference_faces}
    from_flats = [d for cut in told for d in cut if d.start in planes]
    assert from_flats
    for d in from_flats:
        plane = planes[d.start]
        assert d.start_point @ plane.normal == pytest.approx(plane.offset)
        assert d.mm == pytest.approx(plane.offset - d.end_point @ plane.normal, abs=1e-6)


def test_a_square_cut_of_a_bar_reads_the_same_wherever_it_is_read_from_its_end():
    size = (30.0, 7.0, 4.0)
    rough = rough_of(shapes.box(size), faces=box_faces(size))
    plan, told = distances_for(rough, placement_of(box_body(), 6.0, at=(-10.0, 0.0, 0.0)))
    (cut,) = plan.cuts
    from_end = [d.mm for d in told[0] if d.start == "face left"]
    assert len(from_end) >= 2
    assert from_end == pytest.approx([cut.plane.offset + 15.0] * len(from_end), abs=1e-6)
    assert told[0][-1].mm == pytest.approx(cut.plane.offset - 0.2 + 15.0, abs=1e-6)


def test_readings_from_three_square_faces_rebuild_a_slanting_plane():
    size = (30.0, 12.0, 10.0)
    faces = box_faces(size)
    rough = rough_of(shapes.box(size), faces=faces)
    turn = shapes.random_rotation(np.random.default_rng(4))
    plan, told = distances_for(
        rough, placement_of(six_sided_body(), 4.0, at=(-8.0, 0, 0), turn=turn)
    )
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
    plan, told = told_of(kind, seed)
    assert len(plan.cuts) >= 4
    for cut, distances in zip(plan.cuts, told, strict=True):
        for point in spots(distances).values():
            readings = [d for d in distances[:-1] if np.array_equal(d.end_point, point)]
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
    _, told = told_of("slab")
    for distances in told:
        for d in distances[:-1]:
            if "sawn face" in d.start and " end of " not in d.start:
                assert d.mm > 0.3 or "nothing to measure" in d.how


def test_edges_of_a_box_run_where_two_flats_meet():
    size = (30.0, 7.0, 4.0)
    rough = rough_of(shapes.box(size), faces=box_faces(size))
    whole = SawPlan((Piece(0, None, None, rough.mesh),), (), (), ())
    flats = flats_of(whole, 0, rough.reference_faces)
    edges = {edge.name: edge for edge in edges_on(rough.mesh, flats)}
    lengths = {name: np.linalg.norm(edge.ends[1] - edge.ends[0]) for name, edge in edges.items()}
    assert lengths == pytest.approx(
        {
            "the edge between face bottom and face front": 30.0,
            "the edge between face bottom and face left": 7.0,
            "the edge between face front and face left": 4.0,
        }
    )
    nearer, farther = edges["the edge between face front and face left"].ends_from(np.zeros(3) + 1)
    assert nearer.point == pytest.approx([-15.0, -3.5, 2.0])
    assert farther.point == pytest.approx([-15.0, -3.5, -2.0])
    assert nearer.name == "the nearer end of the edge between face front and face left"


def test_an_edge_sawn_short_ends_at_the_cut():
    size = (30.0, 7.0, 4.0)
    rough = rough_of(shapes.box(size), faces=box_faces(size))
    plan, _ = saw_plan(rough, placement_of(box_body(), 6.0, at=(-10.0, 0.0, 0.0)), SHOP)
    piece = plan.pieces[1].mesh
    edges = edges_on(piece, flats_of(plan, 1, rough.reference_faces))
    assert len(edges) == 5  # three meet in the corner, two more at the sawn face
    assert max(edge.ends[:, 0].max() for edge in edges) < plan.cuts[0].plane.offset


def test_the_first_reading_of_a_point_runs_more_across_the_cut():
    plan, told = told_of("pebble")
    for cut, distances in zip(plan.cuts, told, strict=True):
        for name in spots(distances):
            across, along = [d for d in distances if d.end == name][:2]
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
    rough, stone = rough_of(PIECES["pebble"]), placement_of(six_sided_body(), 4.0)
    turn, shift = shapes.random_motion(np.random.default_rng(seed))
    _, here = told_of("pebble")
    _, there = distances_for(moved_rough(rough, turn, shift), moved_placement(stone, turn, shift))
    for one, other in zip(here, there, strict=True):
        # equally large triangles and narrow choices may be tipped by rounding, and by the kernel,
        # which fills a turned cap with other triangles; what is told stays as good
        (a, b, c), (d, e, f) = spots(one).values(), spots(other).values()
        area = np.linalg.norm(np.cross(b - a, c - a))
        assert np.linalg.norm(np.cross(e - d, f - d)) == pytest.approx(area, abs=1e-4)
        normal = np.cross(turn @ (b - a), turn @ (c - a)) / area
        assert normal @ (d - shift) == pytest.approx(normal @ (turn @ a), abs=1e-5)
        assert other[-1].mm == pytest.approx(one[-1].mm, abs=1e-5)


# --- met nowhere else --------------------------------------------------------------------------


def sprinkled(mesh, per_mm2=40.0):
    """Random points of a surface, evenly spread, and its corners."""
    rng = np.random.default_rng(1)
    a, b, c = np.moveaxis(mesh.triangles, 1, 0)
    area = np.linalg.norm(np.cross(b - a, c - a), axis=1) / 2
    which = rng.choice(len(area), int(area.sum() * per_mm2), p=area / area.sum())
    u, v = rng.random((2, len(which), 1))
    u, v = np.where(u + v > 1, 1 - u, u), np.where(u + v > 1, 1 - v, v)
    return np.vstack([mesh.vertices, a[which] * (1 - u - v) + b[which] * u + c[which] * v])


def reads(d, points, edges):
    """What a reading is at other points: heights along its line above a face, else straight; the
    nearer and the farther end of an edge are the nearer and the farther to those points."""
    if d.start in edges:
        ends = [np.linalg.norm(points - end, axis=1) for end in edges[d.start]]
        return np.min(ends, axis=0) if "nearer" in d.start else np.max(ends, axis=0)
    if "face" in d.start:
        return (points - d.start_point) @ (d.end_point - d.start_point) / d.mm
    return np.linalg.norm(points - d.start_point, axis=1)


def ends_by_name(rough, plan, index):
    """Both ends of every edge of the piece that a cut goes through, by either end's name."""
    piece = plan.pieces[plan.cuts[index].piece].mesh
    edges = edges_on(piece, flats_of(plan, plan.cuts[index].piece, rough.reference_faces))
    edges += [longest_reading(piece)]
    return {f"the {end} end of {e.name}": e.ends for e in edges for end in ("nearer", "farther")}


def met_elsewhere(piece, told, edges):
    """Names of the points whose readings are also met, within what a hand tells apart, at a place
    of the surface over 1.5 mm away, and whose words don't say which place is meant."""
    points, double = sprinkled(piece), []
    for name, spot in spots(told).items():
        mine = [d for d in told if d.end == name]
        if any("Several places have" in d.how for d in mine):
            continue
        met = np.linalg.norm(points - spot, axis=1) > 1.5
        for d in mine:
            met &= np.abs(reads(d, points, edges) - d.mm) <= 0.15 if d.mm > 0.3 else True
        double += [name] if met.any() else []
    return double


BOX_MM = (30.0, 12.0, 10.0)
LONG = {"box": shapes.box(BOX_MM), "bar": shapes.box((34.0, 9.0, 9.0))}


@pytest.mark.parametrize("kind", sorted(PIECES))
def test_readings_are_met_nowhere_else_on_the_surface(kind):
    assert_met_nowhere_else(rough_of(PIECES[kind]), *told_of(kind, 8))


@pytest.mark.parametrize(
    ("kind", "named"), [*((kind, ()) for kind in LONG), ("box", box_faces(BOX_MM))]
)
def test_readings_are_met_nowhere_else_on_flat_sides(kind, named):
    rough = rough_of(LONG[kind], faces=named)
    turn = shapes.random_rotation(np.random.default_rng(4))
    assert_met_nowhere_else(
        rough, *distances_for(rough, placement_of(six_sided_body(), 4.0, turn=turn))
    )


def assert_met_nowhere_else(rough, plan, told):
    assert plan.cuts
    for index, (cut, distances) in enumerate(zip(plan.cuts, told, strict=True)):
        edges = ends_by_name(rough, plan, index)
        assert met_elsewhere(plan.pieces[cut.piece].mesh, distances, edges) == []


def test_two_marks_alone_leave_a_mirror_image_that_a_third_tells_apart():
    # marks on the plane y = 0 of a box: every reading from P and Q is met at the mirrored place
    box, spot = (
        shapes.box((20.0, 12.0, 10.0)),
        CutPoint("A", np.array([2.0, 6.0, 1.0]), np.eye(3)[1:2]),
    )
    p, q = Landmark("P", np.array([-10.0, 0, 0])), Landmark("Q", np.array([0, 0, 5.0]))
    r = Landmark("R", np.array([10.0, 6.0, -5.0]))

    def told(*places):
        readings = [reading_from_point(spot, place) for place in places]
        chosen = choose_readings(spot, readings, list(places), TriangleCells.of(box))
        return [(c.distance.start, c.distance.how) for c in chosen]

    assert [name for name, _ in told(p, q)] == ["P", "Q"]
    assert "Several places have both readings: look the point up" in told(p, q)[1][1]
    three = told(p, q, r)
    assert "R" in [name for name, _ in three]
    assert not any("Several places have" in how for _, how in three)


# --- standing on a face ------------------------------------------------------------------------


def test_the_centroid_of_a_box_off_the_origin():
    piece = shapes.moved(shapes.box((3.0, 4.0, 5.0)), np.eye(3), np.array([50.0, -7.0, 2.0]))
    assert centroid(piece) == pytest.approx([50.0, -7.0, 2.0], abs=1e-9)


@pytest.mark.parametrize(
    ("size", "lean", "stands"),
    [
        ((6.0, 6.0, 10.0), 0.0, True),
        ((6.0, 6.0, 10.0), 4.5, True),  # the centre lies 2.25 aside, 0.75 inside the face
        ((6.0, 6.0, 10.0), 5.5, False),  # 0.25 inside: too near to its rim
        ((6.0, 6.0, 10.0), 8.0, False),  # it would fall over
        ((3.0, 4.0, 4.0), 0.0, False),  # 12 mm²: too small to stand on
    ],
)
def test_a_leaning_block_stands_only_with_its_centre_over_its_face(size, lean, stands):
    block_ = shapes.box(size)
    sheared = block_.vertices.copy()
    sheared[:, 0] += lean * (sheared[:, 2] / size[2] + 0.5)  # closed form: centre lean/2 aside
    bottom = Plane(np.array([0.0, 0.0, -1.0]), size[2] / 2)
    piece = Mesh(sheared, block_.faces)
    assert stands_on(piece, bottom) is stands
    whole = SawPlan((Piece(0, None, None, piece),), (), (), ())
    (flat,) = flats_of(whole, 0, [ReferenceFace("bottom", bottom)])
    assert flat.stands is stands
    spot = CutPoint("point A", np.array([0.0, 0.0, 1.5 - size[2] / 2]), np.eye(3)[:1])
    how = reading_from_flat(spot, flat).distance.how
    assert how.startswith("Stand the piece on" if stands else "Lay a caliper's jaw flat on")


def test_a_piece_does_not_stand_on_a_face_that_it_juts_out_beyond():
    inner = Plane(np.array([0.0, 0.0, -1.0]), 4.0)  # a box reaches 5 this way
    assert not stands_on(shapes.box((6.0, 6.0, 10.0)), inner)


def test_heights_under_a_millimetre_are_the_last_to_be_taken():
    flat = MeasuringFlat("face base", Plane(np.array([0.0, 0.0, -1.0]), 0.0), stands=True)
    bonus = [
        reading_from_flat(CutPoint("A", np.array([0.0, 0.0, z]), np.eye(3)[:1]), flat).bonus
        for z in (-0.5, 0.0, 0.9, 1.1)
    ]
    assert bonus == [0.0, 0.01, 0.01, 1.5]


# --- places to measure from ------------------------------------------------------------------


def stretched_box(size=(12.0, 9.0, 8.0), by=3.0):
    """A box with one corner drawn out along the diagonal, and another beside it by half as much."""
    box = shapes.box(size)
    corners, out = box.vertices.copy(), np.asarray(size) / np.linalg.norm(size)
    corners[np.argmax(corners @ [1.0, 1.0, 1.0])] += by * out
    corners[np.argmax(corners @ [1.0, -1.0, 1.0])] += 0.5 * by * out * [1.0, -1.0, 1.0]
    return Mesh(corners, box.faces)


def test_landmarks_are_named_only_where_no_other_place_comes_near():
    """A box has four diagonals alike, so nobody can tell which of them is meant."""
    assert landmarks(shapes.box((12.0, 9.0, 8.0))) == ()
    points = landmarks(stretched_box())
    assert [p.name for p in points][:3] == ["mark P", "mark Q", "mark R"]
    assert np.linalg.norm(points[0].point - points[1].point) == pytest.approx(20.0)
    assert landmarks(stretched_box(by=0.1)) == ()  # 0.1 mm more is not told by hand


def test_a_plane_that_the_piece_does_not_have_is_not_measured_from():
    """A crystal with a broken end: its corners there are the solid's alone."""
    piece, broken = stretched_box(), Plane(np.array([0.0, 0.0, -1.0]), 4.0)
    assert landmarks(piece, (broken,)) == ()
    edge = Edge("the edge", np.array([[1.0, 0.0, -4.0], [1.0, 0.0, 4.0]]))
    (end,) = edge.ends_from(np.zeros(3), (broken,))
    assert (end.name, end.point[2]) == ("the end of the edge that is not broken", 4.0)
    assert end.apart(np.array([[1.0, 0.0, 0.0]])) == pytest.approx([4.0])


@given(SEEDS)
@settings(max_examples=20)
def test_no_two_points_are_farther_apart_than_p_and_q(seed):
    piece = shapes.random_polytope(seed)
    points = [place.point for place in landmarks(piece)]
    if len(points) < 3:
        return
    p, q, r, *_ = points
    away = np.linalg.norm(piece.vertices[:, None] - piece.vertices[None], axis=2)
    assert np.linalg.norm(p - q) == pytest.approx(away.max(), abs=1e-5)
    along = (q - p) / np.linalg.norm(q - p)
    aside = np.linalg.norm(np.cross(piece.vertices - p, along), axis=1)
    assert np.linalg.norm(np.cross(r - p, along)) == pytest.approx(aside.max(), abs=1e-5)


def test_the_marks_say_where_to_find_the_landmarks():
    marks = landmark_marks(landmarks(stretched_box()))
    assert "20.0 mm" in marks[0].text
    assert landmark_marks(()) == ()


def test_a_face_sawn_away_is_no_longer_measured_from():
    size = (30.0, 7.0, 4.0)
    right = ReferenceFace("right", Plane(np.array([1.0, 0, 0]), 15.0))
    rough = rough_of(shapes.box(size), faces=[*box_faces(size), right])
    plan, _ = saw_plan(rough, placement_of(box_body(), 6.0, at=(-10.0, 0.0, 0.0)), SHOP)
    piece = plan.pieces[1].mesh
    names = [flat.name for flat in flats_of(plan, 1, rough.reference_faces)]
    assert names == ["face bottom", "face front", "face left", "the sawn face of cut 1"]
    assert area_on(rough.mesh, right.plane) == pytest.approx(28.0)
    assert area_on(piece, right.plane) == 0.0
    corners = [Landmark("a corner", corner) for corner in rough.mesh.vertices]
    left = landmarks_on(corners, piece)
    assert left
    assert all(place.point[0] < plan.cuts[0].plane.offset for place in left)


def test_in_a_tree_each_cut_is_measured_on_the_piece_it_goes_through():
    size = (46.0, 12.0, 4.0)
    rough = rough_of(shapes.box(size), faces=box_faces(size))
    stones = [placement_of(box_body(), 6.0, at=(x, 0.0, 0.0)) for x in (-16.0, 0.0, 16.0)]
    cut_tree = CutTree(Plane(np.eye(3)[0], -8.0), 0, CutTree(Plane(np.eye(3)[0], 8.0), 1, 2))
    division = Division(tuple(PlacedStone(0, None, stone) for stone in stones), cut_tree)
    plan, _ = saw_plan_of(rough, division, Workshop(most_cuts=1))
    assert {cut.piece for cut in plan.cuts} >= {0, 1, 2, 3}  # caps on different branches
    told = cut_distances(rough, plan, landmarks(rough.mesh), np.eye(3)[0])
    for cut, distances in zip(plan.cuts, told, strict=True):
        piece = plan.pieces[cut.piece].mesh
        assert_points_fix_plane(cut.plane, spots(distances).values())
        ancestors = {f"the sawn face of cut {k + 1}" for k, _ in plan.sawn_faces(cut.piece)}
        for d in distances[:-1]:
            named = d.start.startswith("the sawn face of cut")
            assert not named or d.start in ancestors
            assert len(normals_at(piece, d.end_point))
            if d.start.startswith("mark"):
                assert np.linalg.norm(piece.vertices - d.start_point, axis=1).min() <= 1e-9
        below = plan.pieces[cut.below[0]].mesh.vertices @ cut.plane.normal
        assert distances[-1].mm == pytest.approx(np.ptp(below), abs=1e-6)
