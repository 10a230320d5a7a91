"""Mesh flaws and flaws off the table in the search: exact by other means, and never left within."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import shapes
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from optimizer.audit.flaws import gap_to_core, gap_to_flaw, part_below_table
from optimizer.design import build_body, load_design
from optimizer.mesh import Mesh
from optimizer.placement.containers import Surface
from optimizer.placement.flaws import depths_beside, flaw_spots, flaw_walls, kept_out
from optimizer.placement.ground import Ground, places_within
from optimizer.placement.growing import growing_by_clearance, growing_by_width
from optimizer.placement.holes import Hole, UnderTable
from optimizer.placement.place import Want, place
from optimizer.placement.search import EFFORTS, Watch
from optimizer.placement.situation import Situation
from optimizer.rough.flaws.shape import core_triangles, inner_point
from optimizer.rough.model import Flaw
from optimizer.solid import as_solid

pytestmark = pytest.mark.usefixtures("small_quick")

SKIN = 0.2
BODY = build_body(load_design("long-hexagon"), least_girdle_mm=0.2)
ROUGH = {"box": shapes.box((14.0, 11.0, 9.0)), "notched": shapes.all_rough()["notched"]}
SEARCH = 1e-6  # of the width: two searches that settle into one place differ by less


@cache
def made_ready(name):
    return Ground.of(ROUGH[name])


def flaw(ends, normal=None, across=0.0, radius=0.0, clearance=0.2, **more):
    n = None if normal is None else np.array(normal, float) / np.linalg.norm(normal)
    return Flaw("f", np.array(ends, float), n, across, radius, clearance, **more)


def solid(mesh, at=(0.0, 0.0, 0.0), clearance=0.2, **more):
    mesh = shapes.moved(mesh, np.eye(3), np.array(at))
    return Flaw("f", inner_point(mesh)[None], None, 0.0, 0.0, clearance, mesh, "f.ply", **more)


def laid(ground, *flaws, window=(0.0, np.inf)):
    site = made_ready(ground) if isinstance(ground, str) else ground
    want = Want(BODY, window, SKIN, flaws=flaws)
    return place(site, want, effort="quick", seed=0, watch=Watch())


def spare(placement, one):
    """What is kept beyond what is asked, by the audit's means; below the table where so told."""
    mesh = placement.mesh()
    part = part_below_table(mesh, placement.pose.rotation[:, 2]) if one.off_table else mesh
    return gap_to_flaw(part, one) - one.clearance_mm


BENT = shapes.scaled(shapes.bent(rings=8), 0.15)
MIDDLE = (0.3, 0.2, 0.1)
KINDS = {
    "ball": flaw([MIDDLE], radius=0.8),
    "needle": flaw([[0, 0, -3], [1, 2, 3]], radius=0.1),
    "sheet": flaw([[0, 0, 0]], [1, 0.2, 0.1], 5.0),
    "crack": flaw([[0.5, 0, 0]], [1, 0.2, 0.1], np.inf),
    "mesh": solid(shapes.icosphere(0.8, 2), MIDDLE),
    "bent": solid(BENT, clearance=0.35),
}

turns = st.integers(0, 2**32 - 1).map(lambda seed: Rotation.random(random_state=seed).as_matrix())
places = st.tuples(*[st.floats(-6.0, 6.0)] * 3).map(np.array)


@pytest.fixture(scope="module")
def free(small_quick):
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(EFFORTS, "quick", small_quick)  # all of it
        return {name: laid(name) for name in ROUGH}


@pytest.mark.parametrize(
    ("kind", "name", "slack"),
    [("ball", "notched", SEARCH), ("crack", "box", SEARCH), ("bent", "box", 0.007)],
)
def test_off_the_table_lies_between_nowhere_and_everywhere(kind, name, slack, free):
    """What is allowed more can only be heavier; each keeps exactly what is asked of it."""
    allowed = replace(KINDS[kind], off_table=True)
    nowhere, off_table = laid(name, KINDS[kind]), laid(name, allowed)
    assert spare(nowhere, KINDS[kind]) >= -1e-8
    assert spare(off_table, allowed) >= -1e-8
    assert off_table.clearance_mm >= SKIN - 1e-9
    widths = [found.pose.width for found in (nowhere, off_table, free[name])]
    assert widths[0] <= widths[1] * (1.0 + slack)  # beside the bent flaw they end elsewhere
    assert widths[1] <= widths[2] * (1.0 + SEARCH)


def test_a_flaw_that_lies_beside_the_table_anyway_costs_nothing():
    """In a piece with no twin of its best place: a bubble in the crown's rim of that stone."""
    site = Ground.of(shapes.pebble(3, 7.0, 2))
    stone = laid(site)
    spot = stone.pose.to_scan(np.array([[0.0, 0.42 * stone.pose.width, 0.0]]))
    inside = flaw(spot, radius=0.05, clearance=0.1)
    off_table = replace(inside, off_table=True)
    assert spare(stone, inside) < 0.0 < spare(stone, off_table)
    assert laid(site, off_table).pose.width == pytest.approx(stone.pose.width, rel=1e-6)
    assert laid(site, inside).pose.width < stone.pose.width * (1.0 - 1e-6)


def test_a_flaw_under_the_table_must_go_even_off_the_table(free):
    under = flaw(free["box"].pose.translation[None], radius=0.1, off_table=True)
    assert spare(free["box"], under) < 0.0
    assert laid("box", under).pose.width < free["box"].pose.width


@cache
def beside_needle():
    return laid("box", KINDS["needle"])


@settings(max_examples=3)
@given(
    where=st.tuples(*[st.floats(-4.0, 4.0)] * 3), size=st.floats(0.2, 1.5), allowed=st.booleans()
)
def test_one_more_flaw_never_makes_the_stone_heavier(where, size, allowed):
    one = solid(shapes.box((size, size, 2.0 * size)), where, off_table=allowed)
    found = laid("box", KINDS["needle"], one)
    assert found.pose.width <= beside_needle().pose.width * (1.0 + SEARCH)
    assert min(spare(found, one), spare(found, KINDS["needle"])) >= -1e-8


@given(turn=turns, there=places, width=st.floats(1.0, 6.0))
def test_a_sphere_of_triangles_acts_as_the_balls_between_which_it_lies(turn, there, width):
    """A stone of any pose that is clear of the larger ball has no less room beside the sphere, and
    no more than beside the ball inside the sphere."""
    ball = shapes.icosphere(1.0, 2)
    across = np.cross(*(ball.triangles[:, k] - ball.triangles[:, 0] for k in (1, 2)))
    across /= np.linalg.norm(across, axis=1)[:, None]
    inner = float(np.einsum("ij,ij->i", across, ball.triangles[:, 0]).min())
    assert 0.95 < inner < 1.0
    flaws = flaw([MIDDLE], radius=1.0), solid(ball, MIDDLE), flaw([MIDDLE], radius=inner)
    pose = Situation(growing_by_clearance(BODY, width), np.ascontiguousarray(turn), there)
    outer, sphere, within = (
        wall.gauge(pose, -np.inf) for wall in flaw_walls(made_ready("box"), flaws, SKIN)
    )
    if outer > flaws[0].keep_mm - SKIN:
        assert outer - 1e-6 <= sphere <= within + 1e-6


FLAWED = solid(shapes.box((12.0, 20.0, 20.0)), (2.0, 0.0, 0.0), clearance=0.5)
"""The larger part of the box, with room for a larger stone than beside it."""


@cache
def beside_flawed():
    return laid("box", FLAWED)


def test_a_stone_is_never_laid_within_a_flaw():
    found = beside_flawed()
    assert spare(found, FLAWED) >= -1e-8
    assert found.mesh().vertices[:, 0].max() <= -4.0 - 0.5 + 1e-8  # the flaw begins at −4
    assert laid("box", solid(shapes.box((13.9, 10.9, 8.9)))) is None


def test_nor_one_of_fixed_size_and_it_has_as_much_to_spare_there():
    largest = beside_flawed().pose.width
    found = laid("box", FLAWED, window=(0.7 * largest,) * 2)
    assert found.mesh().vertices[:, 0].max() < -4.5
    assert spare_up_to(found, FLAWED, 3.0) >= found.clearance_mm - SKIN - 1e-6
    assert laid("box", FLAWED, window=(1.2 * largest,) * 2) is None


def spare_up_to(placement, one, most):
    gap = as_solid(placement.mesh()).min_gap(as_solid(one.mesh), most)
    return float(gap) - one.clearance_mm


@given(turn=turns, there=places, width=st.floats(1.0, 6.0))
def test_a_holes_gauge_is_the_kernels_distance(turn, there, width):
    hole = Hole(Surface.over(BENT.triangles))
    turn = np.ascontiguousarray(turn)
    found = hole.gauge(Situation(growing_by_clearance(BODY, width), turn, there), -np.inf)
    stone = as_solid(Mesh(BODY.vertices_at(width) @ turn.T + there, BODY.faces))
    apart = float(stone.min_gap(as_solid(BENT), 30.0))
    if (stone ^ as_solid(BENT)).volume() > 1e-9:
        assert found <= 1e-7  # it meets the flaw, holds it, or lies in it
    else:
        assert found == pytest.approx(apart, abs=1e-6)


@given(shift=places, size=st.floats(0.01, 0.5))
def test_within_a_hole_no_stone_is_large_enough(shift, size):
    hole = Hole(Surface.over(shapes.box((14.0, 14.0, 14.0)).triangles))
    ways = (growing_by_width(BODY, SKIN, 0.0), growing_by_clearance(BODY, size))
    assert all(hole.gauge(Situation(way, np.eye(3), shift), -np.inf) <= 0.0 for way in ways)


kinds = st.sampled_from(sorted(KINDS))


@given(kind=kinds, turn=turns, there=places, width=st.floats(2.0, 8.0))
def test_below_the_table_the_gauge_is_the_kernels_distance(kind, turn, there, width):
    """By clearance at a fixed width, against the part that the robust kernel cuts out."""
    one, turn = KINDS[kind], np.ascontiguousarray(turn)
    surface = Surface.over(np.ascontiguousarray(core_triangles(one, np.full((1, 3), 30.0))))
    wall = UnderTable(surface if one.mesh is None else Hole(surface))
    found = wall.gauge(Situation(growing_by_clearance(BODY, width), turn, there), -np.inf)
    stone = Mesh(BODY.vertices_at(width) @ turn.T + there, BODY.faces)
    part = part_below_table(stone, turn[:, 2])
    if one.mesh is None:
        over = 0.0 if np.isinf(one.across_mm) else one.across_mm / 2.0 * 0.0013
        gap = gap_to_core(part.vertices, one)
    else:
        over, met = 0.0, (as_solid(part) ^ as_solid(one.mesh)).volume() > 1e-9
        gap = 0.0 if met else float(as_solid(part).min_gap(as_solid(one.mesh), 30.0))
    if gap > 1e-3:
        assert gap - over - 1e-6 <= found <= gap + 1e-6
    else:
        assert found <= 1e-3 + 1e-6


def test_it_turns_with_the_piece():
    one = replace(KINDS["mesh"], off_table=True)
    rotation, shift = shapes.random_motion(np.random.default_rng(5), reach=80.0)
    mesh = shapes.moved(one.mesh, rotation, shift)
    there = replace(one, mesh=mesh, ends=one.ends @ rotation.T + shift)
    found = laid(Ground.of(shapes.moved(ROUGH["notched"], rotation, shift)), there)
    assert spare(found, there) >= -1e-8
    assert found.pose.width == pytest.approx(laid("notched", one).pose.width, rel=1e-5)


def test_starts_lie_outside_mesh_flaws():
    site = made_ready("box")
    one = solid(shapes.icosphere(2.5, 3), (1.0, 0.0, 0.0))
    seen = site.places @ site.ground2scan.T + site.origin
    away = np.linalg.norm(seen - [1.0, 0.0, 0.0], axis=1)
    core = (one.mesh.vertices - site.origin) @ site.ground2scan
    within = places_within(site, Mesh(core, one.mesh.faces).triangles)
    assert within[away < 2.45].all()
    assert not within[away > 2.5].any()
    depths = depths_beside(site, [one], SKIN)
    assert depths[within].max() <= 0.0
    spots = flaw_spots(site, [one]) @ site.ground2scan.T + site.origin - [1.0, 0.0, 0.0]
    assert np.linalg.norm(spots, axis=1) == pytest.approx(2.5, abs=0.05)
    assert len(spots) > 30


def test_walls_are_of_their_kind():
    flaws = [KINDS["ball"], KINDS["mesh"]]
    flaws += [replace(one, off_table=True) for one in flaws]
    walls = flaw_walls(made_ready("box"), flaws, SKIN)
    assert [type(wall) for wall in walls] == [Surface, Hole, UnderTable, UnderTable]
    assert isinstance(walls[3].container, Hole)


def test_what_no_stone_can_hold_lies_within_the_flaws():
    site, flaws = made_ready("notched"), list(KINDS.values())
    kept = kept_out(site, [*flaws, replace(flaws[0], off_table=True)], 20)
    assert [one.keep_mm for one in kept] == [one.keep_mm for one in flaws]
    for one, told in zip(flaws, kept, strict=True):
        assert 1 <= len(told.segments) <= 20
        ends = told.segments.reshape(-1, 3) @ site.ground2scan.T + site.origin
        if one.normal is not None:
            assert np.abs((ends - one.ends[0]) @ one.normal).max() < 1e-9
            radii = np.linalg.norm(ends - one.ends[0], axis=1)
            assert radii.max() <= one.across_mm / 2.0 + 1e-9
            box = np.ptp(ROUGH["notched"].vertices, axis=0)
            assert radii.max() >= min(one.across_mm / 2.0 - 1e-9, np.linalg.norm(box))
        elif one.mesh is None:
            np.testing.assert_allclose(ends[[0, -1]], one.ends[[0, -1]], atol=1e-9)
        else:
            apart = np.linalg.norm(ends[:, None] - np.vstack([one.ends, one.mesh.vertices]), axis=2)
            assert apart.min(axis=1).max() < 1e-9
            np.testing.assert_allclose(ends[0], one.ends[0], atol=1e-9)
