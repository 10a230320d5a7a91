"""Sound solids, damaged on purpose: what the ladder makes of them, against closed forms and the
robust kernel; and that what it reports of distances holds."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from shapes import box, hollow, icosphere, moved, random_rotation, scaled

from optimizer.errors import InputError
from optimizer.mesh import Floats, Mesh, volume
from optimizer.rough.formats.scan import Scan
from optimizer.rough.repair.crossing import crossing_pairs, resolution
from optimizer.rough.repair.holes import Hole, open_error, too_big
from optimizer.rough.repair.solidify import MendedSolid, make_solid
from optimizer.solid import as_solid

BALL = icosphere(10.0, 4)  # 5,120 triangles with sides of about 0.7 mm


def solid_of(mesh: Mesh) -> MendedSolid:
    return make_solid(Scan(mesh.vertices, mesh.faces), 1.0, "s.ply")


def both(one: Mesh, other: Mesh) -> Mesh:
    return Mesh(
        np.vstack([one.vertices, other.vertices]),
        np.vstack([one.faces, other.faces + len(one.vertices)]),
    )


def at(mesh: Mesh, *place: float) -> Mesh:
    return moved(mesh, np.eye(3), np.array(place))


def said(solid: MendedSolid) -> str:
    return "; ".join(repair.sentence for repair in solid.repairs)


def farthest(points: Floats, mesh: Mesh) -> float:
    """The greatest distance of points to a surface: of each to every triangle, to its inside by
    barycentric coordinates, else to its sides. Corners of triangles lie on the surface."""
    a, b, c = (mesh.triangles[:, k] for k in range(3))
    corners = set(map(tuple, mesh.triangles.reshape(-1, 3).tolist()))
    others = [p for p in points.tolist() if tuple(p) not in corners]
    return max((float(_to_triangles(np.array(p), a, b, c).min()) for p in others), default=0.0)


def _to_triangles(p: Floats, a: Floats, b: Floats, c: Floats) -> Floats:
    u, v, w = b - a, c - a, p - a
    uu, uv, vv = (u * u).sum(1), (u * v).sum(1), (v * v).sum(1)
    wu, wv = (w * u).sum(1), (w * v).sum(1)
    det = np.maximum(uu * vv - uv * uv, 1e-30)  # of a triangle without width, its sides count
    s, t = (vv * wu - uv * wv) / det, (uu * wv - uv * wu) / det
    flat = np.linalg.norm(w - s[:, None] * u - t[:, None] * v, axis=1)
    flat[(s < 0.0) | (t < 0.0) | (s + t > 1.0)] = np.inf
    for q, r in ((a, b), (b, c), (c, a)):
        share = np.clip(((p - q) * (r - q)).sum(1) / ((r - q) ** 2).sum(1), 0.0, 1.0)
        flat = np.minimum(flat, np.linalg.norm(p - q - share[:, None] * (r - q), axis=1))
    return np.asarray(flat)


def refusal(mesh: Mesh) -> str:
    with pytest.raises(InputError) as error:
        solid_of(mesh)
    assert "\n" not in str(error.value)
    return str(error.value)


@settings(max_examples=8)
@given(seed=st.integers(0, 10**6), counts=st.tuples(*[st.integers(0, 6)] * 4))
def test_all_that_loses_nothing_gives_the_very_ball_back(
    seed: int, counts: tuple[int, int, int, int]
) -> None:
    """Triangles deleted one here, one there, doubled, turned, without extent: volume to rounding,
    vertices in their order."""
    rng = np.random.default_rng(seed)
    lost, doubled, turned, empty = counts
    faces = BALL.faces.copy()
    flip = rng.choice(len(faces), turned, replace=False)
    faces[flip] = faces[flip][:, ::-1]
    ways = random_rotation(rng)  # far from one another
    gone = (BALL.triangles.mean(axis=1) @ np.vstack([ways, -ways]).T).argmax(axis=0)[:lost]
    more = faces[rng.choice(np.setdiff1d(np.arange(len(faces)), gone), doubled)]
    hair = np.repeat(rng.integers(0, len(BALL.vertices), (empty, 1)), 3, axis=1)
    faces = np.vstack([np.delete(faces, gone, axis=0), more, hair])
    solid = solid_of(Mesh(BALL.vertices, faces))
    assert volume(solid.mesh) == pytest.approx(volume(BALL), rel=1e-12)
    assert as_solid(solid.mesh).volume() == pytest.approx(volume(BALL), rel=1e-9)
    assert solid.mesh.vertices.tobytes() == BALL.vertices.tobytes()
    assert solid.watertight_as_read == (not any(counts))
    assert (f"{lost} hole" in said(solid)) == (lost > 0)
    assert (len(solid.doubts) > 0) == (lost > 0)


def test_a_small_hole_is_filled_and_lies_as_near_as_is_said() -> None:
    """A point and its six triangles are lost."""
    fine = icosphere(10.0, 5)
    star = (fine.faces == 700).any(axis=1)
    solid = solid_of(Mesh(fine.vertices, fine.faces[~star]))
    (hole,) = (r for r in solid.repairs if "filled" in r.sentence)
    true = fine.triangles[star].mean(axis=1)
    assert 0.0 < farthest(np.vstack([true, fine.vertices[700]]), solid.mesh) <= hole.moved_mm
    flat = solid.mesh.triangles[-4:]
    sides = np.cross(flat[:, 1] - flat[:, 0], flat[:, 2] - flat[:, 0])
    assert hole.area_mm2 == pytest.approx(np.linalg.norm(sides, axis=1).sum() / 2.0)
    assert np.linalg.norm(hole.points_mm - fine.vertices[700], axis=1) == pytest.approx(0, abs=0.1)
    assert "the surface may lie" in solid.doubts[0]


def test_a_hidden_base_is_refused_with_what_to_do() -> None:
    above = BALL.triangles[:, :, 2].min(axis=1) > -9.0
    message = refusal(Mesh(BALL.vertices, BALL.faces[above]))
    assert "can be filled; rescan it from there, turning the piece over" in message


def lost_from_a_boulder(count: int) -> Mesh:
    """850 mm long, of triangles some 65 mm wide, neighbours of the first of which are lost."""
    boulder = icosphere(425.0, 3)
    gone = [0]
    while len(gone) < count:
        shared = np.isin(boulder.faces, boulder.faces[gone]).sum(axis=1) == 2
        gone.append(int(np.flatnonzero(shared & ~np.isin(np.arange(len(shared)), gone))[0]))
    return Mesh(boulder.vertices, np.delete(boulder.faces, gone, axis=0))


@pytest.mark.parametrize("count", [1, 2])
def test_a_hole_of_a_triangle_or_two_is_filled_however_wide(count: int) -> None:
    solid = solid_of(lost_from_a_boulder(count))
    assert volume(solid.mesh) == pytest.approx(volume(icosphere(425.0, 3)), rel=1e-3)
    assert "wider than 42.50 mm, but of one or two triangles alone and so plainly flat: 1" in said(
        solid
    )
    assert "the surface may lie" in solid.doubts[0]


def test_a_wide_hole_of_more_triangles_or_of_a_large_one_is_refused() -> None:
    assert "is wider than the 42.50 mm that can be filled" in refusal(lost_from_a_boulder(4))
    block = box((20.0, 14.0, 9.0))
    assert "is wider than the 1.00 mm that can be filled" in refusal(
        Mesh(block.vertices, block.faces[1:])
    )


def test_a_rim_that_is_far_from_flat_is_refused() -> None:
    """What was there isn't told by its rim."""
    flat = Hole(
        np.arange(4), across_mm=0.9, rise_mm=0.1, around_mm=3.0, middle=np.zeros(3), area_mm2=0.5
    )
    bent = replace(flat, rise_mm=0.3)
    assert too_big(BALL, [flat, bent]) == [bent]
    assert "isn't flat enough to be filled" in str(open_error(BALL, [bent], "s.ply"))


@pytest.mark.parametrize("inside_out", [False, True])
def test_crumbs_beside_the_piece_are_left_out(inside_out: bool) -> None:
    crumb = at(icosphere(1.0, 1), 12.0, 0.0, 0.0)
    if inside_out:
        crumb = Mesh(crumb.vertices, crumb.faces[:, ::-1])
    solid = solid_of(both(BALL, crumb))
    assert solid.mesh.faces.tobytes() == BALL.faces.tobytes()
    assert "1 separate body beside the piece left out" in said(solid)
    assert solid.repairs[-1].points_mm == pytest.approx(np.array([[12.0, 0.0, 0.0]]), abs=1e-9)
    assert not solid.doubts


def test_a_crumb_that_sticks_in_the_surface_is_left_out() -> None:
    solid = solid_of(both(BALL, at(icosphere(1.0, 1), 10.0, 0.0, 0.0)))
    assert volume(solid.mesh) == pytest.approx(volume(BALL), rel=1e-12)


def test_a_body_of_some_size_is_refused() -> None:
    message = refusal(both(BALL, at(icosphere(4.0, 2), 15.0, 0.0, 0.0)))
    assert "one of 8.00 mm about (15, 0, 0) mm has " in message
    assert "too much to leave out" in message


def test_passes_that_cross_are_named_as_such() -> None:
    """Balls whose middles lie 13 mm apart: the smaller one's largest faces lie outside."""
    message = refusal(both(BALL, at(icosphere(9.0, 3), 13.0, 0.0, 0.0)))
    assert "runs through its surface: scan passes were badly joined" in message


@pytest.mark.parametrize("as_a_hollow", [False, True])
def test_what_is_closed_within_the_piece_is_a_hollow(as_a_hollow: bool) -> None:
    """However it is wound: stones keep clear of it, which errs on the safe side."""
    bubble = icosphere(2.0, 2)
    solid = solid_of(hollow(BALL, bubble) if as_a_hollow else both(BALL, bubble))
    assert volume(solid.mesh) == pytest.approx(volume(BALL) - volume(bubble), rel=1e-12)
    assert as_solid(solid.mesh).volume() == pytest.approx(volume(solid.mesh), rel=1e-9)
    assert "taken for a hollow" in said(solid)
    assert "the scan shows 1 hollow" in solid.doubts[0]
    assert solid.watertight_as_read == as_a_hollow


def test_of_two_walls_just_within_each_other_the_inner_one_is_kept() -> None:
    """Which of them is the piece isn't known: no stone may be planned between the two."""
    inner = scaled(BALL, 0.985)
    solid = solid_of(both(BALL, inner))
    assert volume(solid.mesh) == pytest.approx(volume(inner), rel=1e-12)
    assert as_solid(solid.mesh).volume() == pytest.approx(volume(inner), rel=1e-9)
    assert "the outer of two walls left out" in said(solid)
    assert solid.repairs[-1].moved_mm == pytest.approx(0.15, abs=0.001)
    assert "two walls up to 0.15 mm apart" in solid.doubts[0]


@pytest.mark.parametrize("way", [-1.0, 1.0])
def test_two_walls_that_cross_are_refused(way: float) -> None:
    """Two passes laid apart: neither of them is the piece, and neither is safe."""
    message = refusal(both(BALL, at(BALL, 0.15 * way, 0.1 * way, 0.0)))
    assert "2 bodies, the greatest 20.00 mm long" in message
    assert "100 % of its volume" in message


def test_what_lies_between_two_walls_is_refused() -> None:
    speck = at(icosphere(0.02, 1), 9.925, 0.0, 0.0)
    walls = both(icosphere(10.0, 4), scaled(icosphere(10.0, 4), 0.985))
    assert "isn't certain" in refusal(both(walls, speck))


def test_a_second_wall_far_within_is_refused() -> None:
    assert "a hollow or a second wall" in refusal(both(BALL, scaled(BALL, 0.9)))


def test_a_turntable_is_left_out_unless_the_piece_stands_in_it() -> None:
    below = np.array([[-40, -40, -11.0], [40, -40, -11], [40, 40, -11], [-40, 40, -11]])
    plate = Mesh(below, np.array([[0, 1, 2], [0, 2, 3]]))
    solid = solid_of(both(BALL, plate))
    assert solid.mesh.vertices.tobytes() == BALL.vertices.tobytes()
    assert "1 open sheet beside the piece left out, 6400 mm²" in said(solid)
    assert "the surface is open" in refusal(both(BALL, at(plate, 0.0, 0.0, 5.0)))


def test_a_small_flap_is_left_out() -> None:
    a, b = BALL.faces[100][:2]
    tip = BALL.vertices[[a, b]].mean(axis=0) * 1.1
    flapped = Mesh(np.vstack([BALL.vertices, tip]), np.vstack([BALL.faces, [[a, b, 2562]]]))
    solid = solid_of(flapped)
    assert solid.mesh.faces.tobytes() == BALL.faces.tobytes()
    assert "1 triangle of flaps or inner walls" in said(solid)


@given(vertex=st.integers(0, 2561), height=st.floats(5.0, 30.0))
@settings(max_examples=8)
def test_a_spike_is_taken_off_and_the_piece_becomes_smaller(vertex: int, height: float) -> None:
    points = BALL.vertices.copy()
    points[vertex] *= 1.0 + height / 10.0
    solid = solid_of(Mesh(points, BALL.faces))
    spike = solid.repairs[-1]
    assert spike.sentence.startswith("1 spike taken off")
    assert height < spike.moved_mm < height + 0.1
    assert volume(BALL) - 0.2 < volume(solid.mesh) < volume(BALL)
    assert farthest(BALL.vertices, solid.mesh) < 0.1


def test_a_drawn_needle_is_no_spike() -> None:
    """Too few points to say what edges are usual: a pyramid of four sides, ten times as high."""
    foot = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [-1.0, 0.0, 0.0], [0.0, -1.0, 0.0], [0.0, 0.0, 10.0]]
    sides = [[0, 1, 4], [1, 2, 4], [2, 3, 4], [3, 0, 4], [0, 2, 1], [0, 3, 2]]
    solid = solid_of(Mesh(np.array(foot), np.array(sides)))
    assert solid.repairs == ()
    assert volume(solid.mesh) == pytest.approx(20.0 / 3.0, rel=1e-12)


def test_a_thin_pit_stays() -> None:
    """To fill it would make the piece larger than the scan shows."""
    points = BALL.vertices.copy()
    points[7] *= 0.4
    solid = solid_of(Mesh(points, BALL.faces))
    assert solid.repairs == ()
    assert solid.mesh.vertices.tobytes() == points.tobytes()


def plate(thickness: float = 1.0, cells: int = 8) -> tuple[Mesh, Callable[[float, float], int]]:
    """A plate of 16 × 16 mm divided in squares of 2 mm, and its top's vertex at a place."""
    solid = trimesh.creation.box((16.0, 16.0, thickness))
    while len(solid.faces) < 12 * cells * cells:
        solid = solid.subdivide()
    mesh = Mesh(np.array(solid.vertices), np.array(solid.faces, np.int64))

    def top(x: float, y: float) -> int:
        gap = np.abs(mesh.vertices - [x, y, thickness / 2.0]).max(axis=1)
        assert gap.min() < 1e-9
        return int(np.argmin(gap))

    return mesh, top


def pyramid(mesh: Mesh, vertex: int, tip: Floats) -> Mesh:
    """What the plate's triangles about a vertex sweep when it goes to ``tip``."""
    star = mesh.faces[(mesh.faces == vertex).any(axis=1)]
    rim = {
        (int(f[k]), int(f[(k + 1) % 3]))
        for f in star
        for k in range(3)
        if vertex not in (f[k], f[(k + 1) % 3])
    }
    points = np.vstack([mesh.vertices, tip])
    return Mesh(
        points,
        np.array([[a, b, len(mesh.vertices)] for a, b in rim] + [[b, a, vertex] for a, b in rim]),
    )


@pytest.mark.parametrize("seed", range(4))
def test_a_pit_through_the_far_side_becomes_a_hole_through(seed: int) -> None:
    """A point of the top pushed through the bottom encloses space outside it, inside out."""
    rng = np.random.default_rng(seed)  # in general position: nothing only touches
    deep, aside = rng.uniform(0.01, 0.12), rng.uniform(-0.7, 0.7, 2)
    flat, top = plate()
    vertex = top(0.0, 0.0)
    points = flat.vertices.copy()
    points[vertex] = [*aside, -0.5 - deep]
    solid = solid_of(Mesh(points, flat.faces))
    pit = pyramid(flat, vertex, points[vertex])
    turned = Mesh(pit.vertices, pit.faces[:, ::-1])
    expected = as_solid(flat) - as_solid(turned)
    assert volume(solid.mesh) == pytest.approx(expected.volume(), rel=1e-9)
    assert as_solid(solid.mesh).genus() == expected.genus() == 1
    (fold,) = (r for r in solid.repairs if r.sentence.startswith("folds"))
    assert farthest(points[[vertex]], solid.mesh) <= fold.moved_mm <= 3.0 * deep + 0.002
    assert not solid.watertight_as_read


def test_peaks_that_lean_into_each_other_become_one() -> None:
    rng = np.random.default_rng(0)  # in general position
    lean, side, high = rng.uniform(1.02, 1.08), rng.uniform(-0.5, 0.5), rng.uniform(1.0, 2.0)
    flat, top = plate(thickness=6.0)
    left, right = top(-2.0, 0.0), top(2.0, 0.0)
    points = flat.vertices.copy()
    points[left] = [-2.0 + 2.0 * lean, side, 3.0 + high]
    points[right] = [2.0 - 2.0 * lean, -side / 3.0, 3.0 + 0.9 * high]
    solid = solid_of(Mesh(points, flat.faces))
    expected = as_solid(flat)
    for vertex in (left, right):
        expected = expected + as_solid(pyramid(flat, vertex, points[vertex]))
    assert volume(solid.mesh) == pytest.approx(expected.volume(), rel=1e-9)
    (fold,) = (r for r in solid.repairs if r.sentence.startswith("folds"))
    assert "the volume changes by -" in fold.sentence
    again = solid_of(Mesh(points, flat.faces))
    assert again.mesh.vertices.tobytes() == solid.mesh.vertices.tobytes()
    assert again.mesh.faces.tobytes() == solid.mesh.faces.tobytes()


def test_a_deep_fold_is_refused() -> None:
    flat, top = plate()
    points = flat.vertices.copy()
    points[top(0.0, 0.0)] = [0.0, 0.0, -4.0]
    message = refusal(Mesh(points, flat.faces))
    assert "the surface passes through itself" in message
    assert "rescan the piece there" in message


def test_a_box_within_a_box_that_touches_it_is_refused() -> None:
    """Faces that lie in each other: which side is which can't be told."""
    inner = at(box((10.0, 5.0, 5.0)), 0.0, 0.0, 2.5)
    assert refusal(both(box(), inner))


def test_what_only_touches_is_refused() -> None:
    """A pit whose edges run exactly through those of the far side."""
    flat, top = plate()
    points = flat.vertices.copy()
    points[top(0.0, 0.0)] = [0.0, 0.0, -0.5625]
    assert "what is inside there can't be told" in refusal(Mesh(points, flat.faces))


def test_where_a_budget_is_spent_the_step_is_named_and_what_to_do() -> None:
    """A ball of which every point lies anywhere; a fan of flaps one behind another."""
    crumpled = np.random.default_rng(0).normal(size=BALL.vertices.shape)
    message = refusal(Mesh(crumpled, BALL.faces))
    assert message.startswith("s.ply: looking for places where the surface passes through itself")
    assert "would take too long" in message
    assert "or rescan the piece" in message
    a, b = BALL.faces[100][:2]
    tips = BALL.vertices[[a, b]].mean(axis=0) * np.linspace(1.001, 1.002, 1000)[:, None]
    fan = [[a, b, len(BALL.vertices) + k] for k in range(len(tips))]
    flaps = Mesh(np.vstack([BALL.vertices, tips]), np.vstack([BALL.faces, fan]))
    assert "leaving out flaps and inner walls would take too long" in refusal(flaps)


def test_flaps_go_though_they_are_many() -> None:
    """On every third triangle or so, each a little way out."""
    edges = np.unique(np.sort(BALL.faces[::3, :2], axis=1), axis=0)
    tips = BALL.vertices[edges].mean(axis=1) * 1.0005
    numbers = len(BALL.vertices) + np.arange(len(tips))
    flaps = np.column_stack([edges, numbers])
    solid = solid_of(Mesh(np.vstack([BALL.vertices, tips]), np.vstack([BALL.faces, flaps])))
    assert solid.mesh.faces.tobytes() == BALL.faces.tobytes()
    assert f"{len(tips):,} triangles of flaps" in said(solid)


def test_a_speck_is_a_speck_wherever_it_lies() -> None:
    """Far below what the numbers resolve, so that its volume is a matter of rounding."""
    for size, place in ((1e-9, 12.0), (1e-9, 5.0), (1e-12, 14.0)):
        speck = at(box((size, size, size)), place, 0.1, 0.2)
        solid = solid_of(both(BALL, speck))
        assert solid.mesh.faces.tobytes() == BALL.faces.tobytes()
        assert "1 separate body beside the piece left out" in said(solid)


def test_edges_that_pass_each_other_closely_are_no_fold() -> None:
    """A groove in a plate whose floor, an edge, lies askew just above the far side's edges."""
    flat, top = plate()
    points = flat.vertices.copy()
    points[top(0.0, 0.0)] = [0.01, 0.3, -0.5 + 1e-7]
    points[top(2.0, 0.0)] = [1.9, -0.4, -0.5 + 1e-7]
    assert len(crossing_pairs(Mesh(points, flat.faces), resolution(points)))
    solid = solid_of(Mesh(points, flat.faces))
    assert solid.repairs == ()
    assert solid.mesh.vertices.tobytes() == points.tobytes()


def test_what_is_thinner_than_its_numbers_resolve_is_refused() -> None:
    thin = Mesh(BALL.vertices * [1.0, 1.0, 1e-6], BALL.faces)
    assert "0.000013 mm thick on average, and its numbers resolve 0.00002 mm" in refusal(thin)
    thin_leaf = Mesh(BALL.vertices * [1.0, 1.0, 1e-4], BALL.faces)
    assert volume(solid_of(thin_leaf).mesh) == pytest.approx(1e-4 * volume(BALL))
