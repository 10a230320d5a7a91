"""Limits on the crystal's directions: closed forms, gradients by differences, soundness, orbits."""

import numpy as np
import pytest
import shapes
from hypothesis import given
from hypothesis import strategies as st
from solids import body_of

from optimizer.design import build_body, load_design
from optimizer.placement.cell_demands import Together
from optimizer.placement.cell_direction import CellDirection
from optimizer.placement.direction import AxisToTable, Direction, OffCleavage
from optimizer.placement.ground import Ground
from optimizer.placement.growing import growing_by_width
from optimizer.placement.place import Want, place
from optimizer.placement.rotations import turn
from optimizer.placement.search import Watch
from optimizer.placement.situation import Situation

LEVER = 5.0
UP = np.array([0.0, 0.0, 1.0])
NO_PLANES = np.zeros((0, 3))
RIGHT = np.pi / 2.0
seeds = st.integers(0, 10_000)


@pytest.fixture(scope="module")
def body():
    return build_body(load_design("pear"), least_girdle_mm=0.3)


def at_turn(body, rotation):
    return Situation(growing_by_width(body, 0.2, 0.0), rotation, np.zeros(3), 8.0, LEVER)


def tipped(degrees):
    """The table's normal this far from the z axis."""
    return turn(np.radians(degrees) * np.array([0.6, 0.8, 0.0]))


def random_axis(rng):
    return shapes.random_rotation(rng)[:, 0]


# --- values -------------------------------------------------------------------------------------


@pytest.mark.parametrize("way", [1.0, -1.0])
@pytest.mark.parametrize(
    ("ends", "tip", "spare"),
    [
        ((80, 90), 0, 10), ((80, 90), 10, 0), ((80, 90), 25, -15), ((0, 10), 90, 10),
        ((0, 10), 85, 5), ((0, 10), 60, -20), ((40, 50), 45, 5), ((40, 50), 30, -10),
        ((90, 90), 3, -3), ((80, 90), 175, 5),
    ],
)  # fmt: skip
def test_the_table_s_angle_to_the_axis_by_hand(body, ends, tip, spare, way):
    """Tipped by ``tip`` from a table square to the axis; ``spare`` in degrees."""
    demand = AxisToTable(way * UP, *np.radians(ends))
    clearance = demand.clearance(at_turn(body, tipped(tip)))
    assert clearance == pytest.approx(np.radians(spare) * LEVER, abs=1e-12)


def test_the_table_s_angle_to_cleavage_by_hand():
    """A box: three facets' directions; tipped 7 degrees about x, the table lies 7 off, and a side
    7 off the plane that stood square to y."""
    box = body_of(shapes.box((2.0, 1.0, 1.0)))
    tip = turn(np.radians(7.0) * np.array([1.0, 0.0, 0.0]))
    for normal, angle in ((UP, 7.0), (np.array([0.0, -1.0, 0.0]), 7.0), (np.eye(3)[0], 0.0)):
        demand = OffCleavage(normal[None], np.radians(5.0))
        spare = demand.clearance(at_turn(box, tip))
        assert spare == pytest.approx(np.radians(angle - 5.0) * LEVER, abs=1e-12)


def test_the_sentences_say_the_limits():
    asked = Direction(UP, (np.radians(80.0), RIGHT), UP[None], np.radians(5.0))
    first, second = (demand.sentence for demand in asked.demands())
    assert "80 to 90°" in first
    assert "no facet within 5°" in second


# --- rows ---------------------------------------------------------------------------------------


def demands_of(axis):
    return [
        AxisToTable(axis, *np.radians(ends))
        for ends in ((80.0, 90.0), (0.0, 10.0), (30.0, 50.0), (45.0, 45.0))
    ] + [OffCleavage(np.array([axis, np.roll(axis, 1)]), np.radians(8.0))]


@given(seed=seeds, which=st.integers(0, 4))
def test_rows_foretell_small_turns(body, seed, which):
    """What the rows leave after a small turn is what the demand has, to second order: never
    less, and no more where one limit is the nearest."""
    rng = np.random.default_rng(seed)
    demand = demands_of(random_axis(rng))[which]
    at = at_turn(body, shapes.random_rotation(rng))
    move = np.zeros(7)
    move[4:] = rng.normal(size=3) * 1e-4
    after = at_turn(body, turn(move[4:] / LEVER) @ at.rotation)
    rows, limits = demand.rows(at)
    promised = (limits - rows @ move).min()
    assert demand.clearance(after) == pytest.approx(promised, abs=2e-6)


@pytest.mark.parametrize("tip", [0.0, 1e-12, 1e-3])
def test_at_the_axis_itself_rows_hold_the_table_in_all_directions(body, tip):
    """At the double cone's tip no gradient exists; eight sides hold the turn all the same."""
    demand = AxisToTable(UP, np.radians(89.0), RIGHT)
    rows, limits = demand.rows(at_turn(body, tipped(tip)))
    for way in np.linspace(0.0, 2.0 * np.pi, 40):
        step = np.array([0.0, 0.0, 0.0, 0.0, np.cos(way), np.sin(way), 0.0])
        reach = (limits / np.maximum(rows @ step, 1e-12)).min()
        assert np.radians(0.99) * LEVER <= reach <= np.radians(1.01) * LEVER / np.cos(np.pi / 8)


@pytest.mark.parametrize("demand", [
    AxisToTable(UP, 0.0, np.radians(30.0)), OffCleavage(UP[None], np.radians(5.0)),
])  # fmt: skip
def test_rows_lead_out_from_where_no_way_is_shorter(body, demand):
    """The table square to an axis that must be far from that, or right in a cleavage plane."""
    at = at_turn(body, np.eye(3))
    rows, limits = demand.rows(at)
    worst = int(np.argmin(limits))
    step = -rows[worst, 4:] * 0.01
    after = at_turn(body, turn(step / LEVER) @ at.rotation)
    assert demand.clearance(after) == pytest.approx(demand.clearance(at) + 0.01, abs=1e-6)


# --- cells and orbits ---------------------------------------------------------------------------


def directions(rng):
    axis, planes = random_axis(rng), np.array([random_axis(rng)])
    for ends in ((60.0, 90.0), (0.0, 20.0), (30.0, 50.0)):
        yield Direction(axis, tuple(np.radians(ends)), NO_PLANES, 0.0)
    yield Direction(None, (0.0, RIGHT), planes, np.radians(3.0))
    yield Direction(axis, (0.3, 0.9), planes, np.radians(2.0))


@given(seed=seeds)
def test_turns_that_meet_the_limits_are_in_cells_that_are_kept(body, seed):
    rng = np.random.default_rng(seed)
    for asked in directions(rng):
        over = Together((CellDirection(asked, body),))
        for _ in range(10):
            rotation = shapes.random_rotation(rng)
            if min(d.clearance(at_turn(body, rotation)) for d in asked.demands()) < 0.0:
                continue
            radius = rng.uniform(0.0, 0.3)
            axis = random_axis(rng)
            middle = turn(axis * radius * 0.999) @ rotation
            assert over.may_hold(middle[None], np.array([radius]))[0]


@given(seed=seeds)
def test_cells_far_from_the_limits_are_dropped(body, seed):
    """Small cells whose middles miss a limit by more than their radius."""
    rng = np.random.default_rng(seed)
    for asked in directions(rng):
        over, rotation = CellDirection(asked, body), shapes.random_rotation(rng)
        lacking = -min(d.clearance(at_turn(body, rotation)) for d in asked.demands()) / LEVER
        if lacking > 1e-3:
            assert not over.may_hold(rotation[None], np.array([lacking - 1e-4]))[0]


@pytest.mark.parametrize("name", ["oval", "round-brilliant", "cut-corner-rectangle", "pear"])
@given(seed=seeds)
def test_designs_own_symmetry_keeps_every_limit(name, seed):
    """The orbit rule: one rotation of each orbit will do, since clearances are the same on it."""
    rng, body = np.random.default_rng(seed), build_body(load_design(name))
    rotation = shapes.random_rotation(rng)
    for asked in directions(rng):
        assert not CellDirection(asked, body).break_symmetry
        for demand in asked.demands():
            home = demand.clearance(at_turn(body, rotation))
            for own in body.rotations:
                away = demand.clearance(at_turn(body, rotation @ own))
                assert away == pytest.approx(home, abs=1e-9)


def test_a_body_that_its_symmetry_turns_over_sideways_is_told_apart():
    """A cube's own turns take its top to a side: the table's angle is not the same, cleavage is."""
    cube = body_of(shapes.box((1.0, 1.0, 1.0)))
    spin = np.array([[0.0, 0.0, 1.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    cube = type(cube)(**{**vars(cube), "rotations": np.array([np.eye(3), spin])})
    square = Direction(UP, (np.radians(80.0), RIGHT), NO_PLANES, 0.0)
    clear = Direction(None, (0.0, RIGHT), UP[None], np.radians(5.0))
    assert CellDirection(square, cube).break_symmetry
    assert not CellDirection(clear, cube).break_symmetry


# --- placing ------------------------------------------------------------------------------------

BOX = shapes.box((6.0, 10.0, 14.0))


def placed(body, direction, mesh=BOX):
    want = Want(body, (0.0, np.inf), 0.0, direction=direction)
    return place(Ground.of(mesh), want, effort="quick", seed=0, watch=Watch())


def test_a_box_with_its_table_square_to_an_axis_has_the_closed_form():
    """A flat tile 3 × 3 × 1 in a box of 6 × 10 × 14. With the table square to the x axis it is
    held by 10 or by 6: width 10. Square to the z axis, by the square in 6 × 10: width 6."""
    tile = body_of(shapes.box((1.0, 1.0, 1.0 / 3.0)))
    exactly = (RIGHT, RIGHT)
    for axis, width in ((np.eye(3)[0], 10.0), (UP, 6.0)):
        found = placed(tile, Direction(axis, exactly, NO_PLANES, 0.0))
        assert abs(found.pose.rotation[:, 2] @ axis) == pytest.approx(1.0, abs=1e-12)
        assert found.pose.width == pytest.approx(width, rel=1e-6)


def test_a_tile_in_a_box_of_its_own_shape_leans_as_little_as_cleavage_allows():
    """Without a limit the tile fills the box; with one, every facet lies 5 degrees off."""
    tile = body_of(shapes.box((1.0, 1.0, 0.5)))
    room = shapes.box((10.0, 10.0, 5.0))
    free = placed(tile, None, room)
    assert free.pose.width == pytest.approx(10.0, rel=1e-6)
    held = placed(tile, Direction(None, (0.0, RIGHT), UP[None], np.radians(5.0)), room)
    # Tipped by 5 degrees about its own edge: w·(cos + sin/2) <= 10 and w·(sin + cos/2) <= 5.
    sine, cosine = np.sin(np.radians(5.0)), np.cos(np.radians(5.0))
    by_hand = min(10.0 / (cosine + sine / 2.0), 5.0 / (sine + cosine / 2.0))
    assert by_hand * (1.0 - 1e-9) <= held.pose.width < free.pose.width
    leans = np.degrees(np.arccos(np.abs((held.pose.rotation @ tile.normals.T)[2])))
    assert leans.min() == pytest.approx(5.0, abs=1e-5)


def test_starts_keep_the_axis_s_angle_and_come_from_both_ways():
    ends = np.radians([30.0, 40.0])
    asked = Direction(random_axis(np.random.default_rng(1)), tuple(ends), NO_PLANES, 0.0)
    rotations = asked.rotations(101, 3)
    assert len(rotations) == 101
    sine = rotations[:, :, 2] @ asked.axis
    angles = np.arcsin(np.abs(sine))
    assert np.all((angles >= ends[0] - 1e-9) & (angles <= ends[1] + 1e-9))
    assert 45 <= np.sum(sine > 0.0) <= 56
    assert asked.share == pytest.approx(np.sin(ends[1]) - np.sin(ends[0]))
