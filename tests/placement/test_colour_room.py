"""Stones laid beside boundaries that are no plane, judged by the audit's own means."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import shapes
from hypothesis import given
from hypothesis import strategies as st

from optimizer.audit.colours import gap_on_side, share_of
from optimizer.design import build_body, load_design
from optimizer.errors import InputError
from optimizer.mesh import Plane
from optimizer.offers.colour_side import colour_room
from optimizer.order import ZoneDemand
from optimizer.placement.active_constraints import what_holds
from optimizer.placement.ground import Ground
from optimizer.placement.growing import growing_by_width
from optimizer.placement.model import BOUNDARY, Placement, Pose
from optimizer.placement.place import Want, place
from optimizer.placement.rotations import turn
from optimizer.placement.search import Watch
from optimizer.placement.situation import Situation
from optimizer.rough.model import Ball, BentSheet, Boundary, Colour, ConvexRoom, Zone

pytestmark = pytest.mark.usefixtures("small_search")

PIECE = shapes.pebble(3, 9.0, 2)
FRAME = np.ascontiguousarray(shapes.random_rotation(np.random.default_rng(4)))
LEVER, KEEP, SKIN = 5.0, 0.4, 0.2
LOW = Plane(FRAME[0], -3.0)
COLOURS = (Colour("violet", "#8060a0"), Colour("yellow", "#e0c040"))
KINDS: dict[str, Boundary] = {
    "band": ConvexRoom((LOW, Plane(-FRAME[0], -2.0))),
    "corner": ConvexRoom((LOW, Plane(FRAME[1], -2.0), Plane(FRAME[2], -4.0))),
    "ball": Ball(3.0 * FRAME[0], 6.0),
    "bent": BentSheet(1.0 * FRAME[0], FRAME, np.array([0.05, -0.03])),
}


def zone(kind: str) -> Zone:
    return Zone("core", KINDS[kind], *COLOURS)


@cache
def ground() -> Ground:
    return Ground.of(PIECE)


@cache
def body():
    return build_body(load_design("oval"), least_girdle_mm=0.2)


def laid(kind: str | None, colour: str = "violet", **asked) -> Placement:
    room = None
    if kind is not None:
        room = colour_room(zone(kind), ZoneDemand("core", colour, **asked), PIECE.vertices)
    want = Want(body(), (0.0, np.inf), SKIN, room=room)
    found = place(ground(), want, effort="quick", seed=0, watch=Watch())
    assert found is not None
    assert found.clearance_mm >= SKIN - 1e-9
    return found


@pytest.mark.parametrize(
    ("kind", "colour"),
    [
        ("band", "yellow"),
        *(("ball", colour) for colour in ("violet", "yellow")),
        ("bent", "violet"),
        ("corner", "yellow"),
    ],
)
def test_a_stone_of_one_colour_keeps_clear_and_is_held_by_it(kind: str, colour: str) -> None:
    found = laid(kind, colour, keep_clear_mm=KEEP)
    gap = gap_on_side(found.mesh(), zone(kind), colour == "violet", KEEP)
    assert gap >= KEEP - 1e-6
    assert gap <= KEEP + 0.02  # all but the facets' sag: the boundary is what holds it
    assert share_of(found.mesh(), zone(kind), colour == "violet") == pytest.approx(100.0, abs=1e-6)


def test_a_stone_in_a_thin_band_is_held_by_it_alone() -> None:
    """No place of the surface bears, and the band's two sides do."""
    thin = Zone("core", ConvexRoom((Plane(FRAME[0], -1.5), Plane(-FRAME[0], -1.5))), *COLOURS)
    room = colour_room(thin, ZoneDemand("core", "violet", keep_clear_mm=KEEP), PIECE.vertices)
    want = Want(body(), (0.0, np.inf), SKIN, room=room)
    found = place(ground(), want, effort="quick", seed=0, watch=Watch())
    assert found is not None
    held = what_holds(ground(), want, found, ct_per_mm3=0.01, watch=Watch())
    assert held is not None
    assert {(hold.kind, hold.name) for hold in held.constraints} == {(BOUNDARY, "core")}
    assert np.ptp(found.mesh().vertices @ FRAME[0]) == pytest.approx(3.0 - 2 * KEEP, abs=1e-6)


def test_a_band_holds_its_share_and_costs_no_more_than_one_colour() -> None:
    half = laid("band", share_percent=(45.0, 55.0))
    share = share_of(half.mesh(), zone("band"), True)
    assert 45.0 - 1e-5 <= share <= 55.0 + 1e-5
    whole = laid("band", share_percent=(100.0, 100.0))
    assert share_of(whole.mesh(), zone("band"), True) == pytest.approx(100.0, abs=1e-9)
    assert laid(None).pose.width >= max(half.pose.width, whole.pose.width) * (1 - 1e-9)


@given(st.integers(0, 10_000))
def test_what_bounds_a_stone_in_a_ball_holds_every_such_stone(seed: int) -> None:
    ball = KINDS["ball"]
    assert isinstance(ball, Ball)
    room = colour_room(
        zone("ball"), ZoneDemand("core", "violet", keep_clear_mm=KEEP), PIECE.vertices
    )
    (planes,) = room.bounds(ground())
    way = np.random.default_rng(seed).normal(size=(50, 3))
    rim = ball.centre + (ball.radius_mm - KEEP) * way / np.linalg.norm(way, axis=1)[:, None]
    seen = (rim - ground().origin) @ ground().ground2scan
    slack = planes.offsets - seen @ planes.normals.T
    assert slack.min() >= -1e-9
    assert slack.min(axis=1).max() < 0.04 * ball.radius_mm


@given(st.integers(0, 10_000))
def test_the_rows_of_a_band_foretell_small_moves(seed: int) -> None:
    growing = growing_by_width(body(), SKIN, 0.0)
    rng = np.random.default_rng(seed)
    rotation, _ = shapes.random_motion(rng, 5.0)
    room = colour_room(
        zone("band"), ZoneDemand("core", "yellow", share_percent=(40.0, 60.0)), PIECE.vertices
    )
    (demand,) = room.demands(ground())
    pose = Situation(growing, rotation, rng.uniform(-3, 3, 3), rng.uniform(6.0, 12.0), LEVER)
    scan = Pose(
        pose.sigma,
        ground().ground2scan @ rotation,
        ground().origin + ground().ground2scan @ pose.translation,
    )
    share = share_of(Placement(body(), scan, 0.0).mesh(), zone("band"), False)
    assert demand.clearance(pose) == pytest.approx(
        LEVER / 100.0 * min(share - 40.0, 60.0 - share), abs=1e-7
    )
    rows, limits = demand.rows(pose)
    move = rng.normal(size=7) * 1e-4
    near = Situation(
        growing,
        turn(move[4:] / LEVER) @ rotation,
        pose.translation + move[1:4],
        pose.sigma + move[0],
        LEVER,
    )
    assert demand.clearance(near) >= (limits - rows @ move).min() - 1e-5


@pytest.mark.parametrize(
    ("kind", "asked", "said"),
    [
        ("ball", {"tilt_deg": (0.0, 5.0)}, 'asks for tilt_deg of "core", which is a ball: only'),
        ("band", {"offset": (0.0, 0.1)}, 'asks for offset of "core", which is a band: only'),
        ("bent", {"azimuth_deg": (0.0, 9.0)}, "which is a bent sheet: only a flat boundary"),
        ("ball", {"share_percent": (40.0, 60.0)}, "planes and bands only"),
        ("corner", {"share_percent": (40.0, 60.0)}, "which is a corner of 3 planes"),
    ],
)
def test_what_the_kind_has_not_is_refused_in_one_line(kind: str, asked: dict, said: str) -> None:
    with pytest.raises(InputError) as error:
        colour_room(zone(kind), ZoneDemand("core", "violet", **asked), PIECE.vertices)
    assert said in str(error.value)


def test_the_audit_says_how_deep_a_stone_reaches_across_in_mm():
    """A cube whose side at x = 1 lies 0.75 mm beyond a wall, and one whose edge lies 1.5 mm from
    either wall of a square corner, nearer to both than its inside is."""
    wall, floor = Plane(np.eye(3)[0], 0.25), Plane(np.eye(3)[1], -0.5)
    cube = shapes.box((2.0, 2.0, 2.0))
    named = replace(zone("corner"), boundary=ConvexRoom((wall,)))
    assert gap_on_side(cube, named, False, KEEP) == pytest.approx(-0.75)
    named = replace(named, boundary=ConvexRoom((Plane(np.eye(3)[0], -0.5), floor)))
    assert gap_on_side(cube, named, False, KEEP) == pytest.approx(-1.5)


@pytest.mark.parametrize("kind", KINDS)
def test_the_audit_sees_a_stone_that_crosses(kind: str) -> None:
    """Moved to where its middle lies on the boundary, the stone has a negative gap either way."""
    boundary = KINDS[kind]
    on = {"band": -3.0, "corner": -3.0, "ball": 9.0, "bent": 1.0}[kind] * FRAME[0]
    across = Placement(body(), Pose(4.0, FRAME.T.copy(), on), 0.0).mesh()
    assert boundary is zone(kind).boundary
    for towards in (True, False):
        assert gap_on_side(across, zone(kind), towards, KEEP) < 0.0
