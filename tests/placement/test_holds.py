"""What holds a stone, checked by statics, by scaling, by closed forms and by laying it anew."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import shapes
from hypothesis import given, settings
from hypothesis import strategies as st
from solids import body_of

from optimizer.design import build_body, load_design
from optimizer.mesh import Plane
from optimizer.order import ZoneDemand
from optimizer.placement.active_constraints import what_holds
from optimizer.placement.ground import Ground
from optimizer.placement.model import BOUNDARY, DEMAND, FLAW, SIZE, SURFACE, Placement, Pose
from optimizer.placement.place import Want, place
from optimizer.placement.search import Watch
from optimizer.placement.sensitivity import RADIUS_MM
from optimizer.rough.model import Flaw

pytestmark = pytest.mark.usefixtures("small_quick")

SKIN = 0.25
CT = 0.01325
ROUGH = {
    "pebble": shapes.pebble(1, subdivisions=3),
    "dented": shapes.dented(2, subdivisions=2),
    "polytope": shapes.random_polytope(5),
}
PIECES = sorted(ROUGH)


@cache
def ground(name):
    return Ground.of(ROUGH[name])


@cache
def laid(name, skin=SKIN):
    """A stone of a random convex shape, whose weight goes with the cube of its width."""
    body = body_of(shapes.random_polytope(9, 14, radius=0.5))  # about as wide as its width
    want = Want(body, (0.1, np.inf), skin)
    return want, place(ground(name), want, effort="quick", seed=0, watch=Watch())


@cache
def held(name, step=0.3, skin=SKIN):
    want, placement = laid(name, skin)
    return hold_of(ground(name), want, placement, step)


def hold_of(site, want, placement, step=0.3):
    return what_holds(site, want, placement, ct_per_mm3=CT, watch=Watch(), step_mm=step)


def carat(placement):
    return CT * placement.body.volume_at(placement.pose.width)


def contacts(holding):
    """Points, unit normals from the stone outwards, worths of all places of the surface."""
    every = [c for h in holding.constraints if h.kind == SURFACE for c in h.contacts]
    points = np.array([c.point for c in every])
    away = points - np.array([c.on_stone for c in every])
    return points, away / np.linalg.norm(away, axis=1)[:, None], np.array([c.worth for c in every])


def to_triangle(point, triangle):
    """Distance from a point to a triangle, slow and plain: plane, edges, corners."""
    a, b, c = triangle
    normal = np.cross(b - a, c - a)
    normal /= np.linalg.norm(normal)
    foot = point - normal * (normal @ (point - a))
    sides = [normal @ np.cross(q - p, foot - p) for p, q in ((a, b), (b, c), (c, a))]
    if min(sides) >= 0.0:
        return abs(normal @ (point - a))
    best = np.inf
    for p, q in ((a, b), (b, c), (c, a)):
        share = np.clip((point - p) @ (q - p) / ((q - p) @ (q - p)), 0.0, 1.0)
        best = min(best, np.linalg.norm(p + share * (q - p) - point))
    return best


@pytest.mark.parametrize("name", PIECES)
def test_worths_balance_like_forces(name):
    """At a best place the pushes and their torques cancel: no shift or turn gains."""
    points, normals, worths = contacts(held(name))
    assert (worths > 0.0).all()
    assert np.abs(worths @ normals).max() <= 1e-7 * worths.sum()
    torque = worths @ np.cross(points, normals)
    assert np.abs(torque).max() <= 1e-7 * worths.sum() * np.abs(points).max()
    assert held(name).left_over < 1e-7


@pytest.mark.parametrize("name", PIECES)
def test_worths_add_up_to_three_times_the_weight(name):
    """Rough scaled by 1 + ε about the origin, skin left: each contact gives way by ε·n·p, the
    stone's weight grows by 3ε, less what the unscaled skin takes."""
    placement = laid(name)[1]
    points, normals, worths = contacts(held(name))
    along = np.einsum("ij,ij->i", points, normals) - SKIN
    assert worths @ along == pytest.approx(3.0 * carat(placement), rel=1e-7)


@pytest.mark.parametrize("name", PIECES)
def test_contacts_lie_on_the_surface_and_at_the_skin_from_the_stone(name):
    want, placement = laid(name)
    pose, triangles = placement.pose, ROUGH[name].triangles
    for hold in held(name).constraints:
        for contact in hold.contacts:
            apart = np.abs(triangles.mean(axis=1) - contact.point).max(axis=1)
            near = triangles[apart <= np.ptp(triangles, axis=1).max()]
            assert min(to_triangle(contact.point, t) for t in near) < 1e-6
            assert np.linalg.norm(contact.point - contact.on_stone) == pytest.approx(SKIN, abs=1e-6)
            home = (contact.on_stone - pose.translation) @ pose.rotation
            past = want.body.normals @ home - want.body.offsets * pose.width
            assert abs(past.max()) < 1e-6
            assert tuple(np.flatnonzero(past > -1e-4)) == contact.facets


@pytest.mark.parametrize("name", PIECES)
def test_a_small_step_gains_what_the_multipliers_say(name):
    """Laid anew with one place 0.05 µm lower: the gain is the worth times the step."""
    step = 5e-5
    for hold in held(name, step).constraints:
        assert hold.gain == pytest.approx(step * hold.worth, rel=0.02)


@pytest.mark.parametrize("name", PIECES)
def test_nothing_given_nothing_gained(name):
    assert max(hold.gain for hold in held(name, 0.0).constraints) <= 1e-8 * carat(laid(name)[1])


@pytest.mark.parametrize("name", PIECES)
def test_a_large_step_gains_no_more(name):
    """Soon something else holds: the worth is no more than a bound, up to curvature."""
    gains = [hold.gain for hold in held(name).constraints]
    assert max(gains) > 0.0
    assert gains == sorted(gains, reverse=True)
    for hold in held(name).constraints:
        # In a dent the stone also turns into what the dent's curve leaves free.
        assert 0.0 <= hold.gain <= 0.3 * hold.worth * (1.25 if name == "dented" else 1.02)
    total = len(held(name).constraints)
    apart = np.array([h.contacts[0].point for h in held(name).constraints])
    distances = np.linalg.norm(apart[:, None] - apart[None], axis=2)[~np.eye(total, dtype=bool)]
    assert distances.min() > RADIUS_MM


def cube_in_a_slab(skin=SKIN):
    """A cube in a slab 6 mm thick: its table and back lie flat, and nothing else holds it."""
    site = Ground.of(shapes.box((30.0, 20.0, 6.0)))
    body = body_of(shapes.box((1.0, 1.0, 1.0)))
    edge = 6.0 - 2.0 * skin
    pose = Pose(edge, np.eye(3), np.array([1.0, 2.0, 0.0]))
    return site, Want(body, (0.1, np.inf), skin), Placement(body, pose, skin), edge


@pytest.mark.parametrize("skin", [0.0, SKIN])
def test_each_side_of_a_slab_is_worth_the_thickness(skin):
    """Edge = thickness − 2·skin, so a side that gives way by δ lets it grow by δ: 3·edge²·δ."""
    site, want, placement, edge = cube_in_a_slab(skin)
    holding = hold_of(site, want, placement)
    every = [c for h in holding.constraints for c in h.contacts]
    for side in (-1.0, 1.0):
        worth = sum(c.worth for c in every if c.point[2] * side > 0.0)
        assert worth == pytest.approx(3.0 * edge**2 * CT, rel=1e-9)
    assert all(abs(c.point[2]) == pytest.approx(3.0) for c in every)
    # One spot lower lets a flat that lies on the whole side gain nothing: the rest holds.
    assert max(h.gain for h in holding.constraints) < 1e-6


def test_a_boundary_gives_way_as_a_whole():
    """A colour boundary above a slab's floor is a wall: 0.3 mm lower, the cube is 0.3 mm larger."""
    site, want, _, _ = cube_in_a_slab()
    boundary = Plane(np.array([0.0, 0.0, -1.0]), -1.0)  # violet below z = 1
    zone = ZoneDemand("split", "violet", keep_clear_mm=0.5)
    edge = 4.0 - 0.5 - SKIN
    asked = Want(want.body, want.width_mm, SKIN, zone, boundary)
    at = np.array([1.0, 2.0, -3.0 + SKIN + edge / 2.0])
    laid_under = Placement(want.body, Pose(edge, np.eye(3), at), SKIN)
    wall = next(h for h in hold_of(site, asked, laid_under).constraints if h.kind == BOUNDARY)
    assert (wall.name, wall.unit, wall.step) == ("split", "mm", 0.3)
    assert wall.worth == pytest.approx(3.0 * edge**2 * CT, rel=1e-9)
    assert wall.gain == pytest.approx(CT * ((edge + 0.3) ** 3 - edge**3), rel=1e-6)


def test_a_demand_is_worth_what_a_degree_more_brings():
    site = ground("pebble")
    boundary = Plane.through(np.array([0.5, 0.2, 0.1]), np.array([0.9, 0.3, 0.2]))
    body = build_body(load_design("oval"), least_girdle_mm=0.2)

    def best(tilt):
        want = Want(body, (0.1, np.inf), SKIN, ZoneDemand("a", "b", tilt_deg=tilt), boundary)
        return want, place(site, want, effort="quick", seed=0, watch=Watch())

    want, placement = best((30.0, 40.0))
    holding = hold_of(site, want, placement)
    tilt = next(h for h in holding.constraints if h.kind == DEMAND)
    assert (tilt.unit, tilt.step, tilt.contacts) == ("°", 1.0, ())
    assert 0.0 < tilt.gain <= tilt.worth * 1.05
    assert carat(placement) + tilt.gain <= carat(best((29.0, 41.0))[1]) * 1.001


def test_a_flaw_holds_and_gives_way():
    want, placement = laid("pebble")
    middle = placement.pose.translation
    flaw = Flaw("needle", middle[None], None, 0.0, 0.1, 0.4)
    asked = Want(want.body, want.width_mm, SKIN, flaws=(flaw,))
    beside = place(ground("pebble"), asked, effort="quick", seed=0, watch=Watch())
    hold = next(h for h in hold_of(ground("pebble"), asked, beside).constraints if h.kind == FLAW)
    assert hold.name == "needle"
    assert hold.contacts[0].point == pytest.approx(middle, abs=1e-9)
    assert np.linalg.norm(hold.contacts[0].on_stone - middle) == pytest.approx(0.5, abs=1e-6)
    assert 0.0 < hold.gain <= 0.3 * hold.worth * 1.05
    # A saw cut that lies far off is a wall more, and takes no name from the flaw.
    sawn = replace(asked, walls=(Plane(np.array([1.0, 0.0, 0.0]), 1e3),))
    again = next(h for h in hold_of(ground("pebble"), sawn, beside).constraints if h.kind == FLAW)
    assert (again.name, again.worth) == ("needle", pytest.approx(hold.worth, rel=1e-9))


def test_of_a_fixed_size_the_clearance_is_held():
    """All that holds the clearance giving way together by a mm makes it a mm larger."""
    want, placement = laid("pebble")
    size = 0.8 * placement.pose.width
    asked = Want(want.body, (size, size), SKIN)
    roomy = place(ground("pebble"), asked, effort="quick", seed=0, watch=Watch())
    holding = hold_of(ground("pebble"), asked, roomy)
    assert holding.by_clearance
    places = [h for h in holding.constraints if h.kind == SURFACE]
    assert sum(h.worth for h in places) == pytest.approx(1.0, abs=1e-9)
    assert all(0.0 <= h.gain <= 0.3 * h.worth * 1.02 for h in places)
    wider = holding.constraints[-1]
    assert wider.kind == SIZE
    # There is room for it: the next larger size is simply filled.
    more = CT * (want.body.volume_at(size + 0.3) - want.body.volume_at(size))
    assert wider.gain == pytest.approx(more, rel=1e-9)


@given(st.integers(0, 10_000))
@settings(max_examples=4)
def test_it_moves_with_the_piece(seed):
    want, placement = laid("dented")
    rotation, shift = shapes.random_motion(np.random.default_rng(seed))
    pose = placement.pose
    there = Pose(pose.width, rotation @ pose.rotation, rotation @ pose.translation + shift)
    site = Ground.of(shapes.moved(ROUGH["dented"], rotation, shift))
    away = hold_of(site, want, Placement(placement.body, there, placement.clearance_mm))
    for one, other in zip(held("dented").constraints, away.constraints, strict=True):
        assert other.worth == pytest.approx(one.worth, rel=1e-5)
        assert other.gain == pytest.approx(one.gain, rel=0.05, abs=1e-4)
        for here, yonder in zip(one.contacts, other.contacts, strict=True):
            assert yonder.point == pytest.approx(rotation @ here.point + shift, abs=1e-6)
            assert yonder.facets == here.facets


def test_the_same_again():
    want, placement = laid("pebble")
    again = hold_of(ground("pebble"), want, placement)
    assert repr(again) == repr(held("pebble"))


def test_a_stop_leaves_gains_untold():
    want, placement = laid("pebble")
    calls = []

    def after_three():
        calls.append(1)
        return len(calls) > 3

    args = (ground("pebble"), want, placement)
    assert what_holds(*args, ct_per_mm3=CT, watch=Watch(lambda: True)) is None
    early = what_holds(*args, ct_per_mm3=CT, watch=Watch(after_three))
    assert [h.gain is None for h in early.constraints].count(False) == 2
    assert len(early.constraints) == len(held("pebble").constraints)
