"""The audit's distance to a flaw against closed forms; a stone that lies too near is refused."""

from dataclasses import replace

import handmade_plans
import numpy as np
import pytest
import shapes
from handmade_plans import sound_plan
from hypothesis import example, given
from hypothesis import strategies as st
from scipy.spatial import ConvexHull

from optimizer.audit import audit
from optimizer.audit.flaws import flaws_are_cleared, gap_to_core, gap_to_flaw, part_below_table
from optimizer.errors import AuditError
from optimizer.rough.model import Flaw

HALF = np.array([1.0, 2.0, 3.0])
CORNERS = shapes.box(tuple(2.0 * HALF)).vertices
numbers = st.floats(-6.0, 6.0)
places = st.tuples(numbers, numbers, numbers)


def core(ends, normal=None, across=0.0):
    n = None if normal is None else np.array(normal, float) / np.linalg.norm(normal)
    return Flaw("f", np.array(ends, float), n, across, 0.0, 0.2)


def from_box(points):
    """Distance of points from the box, in closed form."""
    return np.linalg.norm(np.maximum(np.abs(points) - HALF, 0.0), axis=-1)


@given(place=places)
def test_a_points_distance(place):
    gap = gap_to_core(CORNERS, core([place]))
    assert gap == pytest.approx(from_box(np.array(place)), abs=2e-8)


@given(one=places, other=places)
def test_a_lines_distance(one, other):
    shares = np.linspace(0.0, 1.0, 4001)[:, None]
    nearest = from_box((1.0 - shares) * np.array(one) + shares * np.array(other)).min()
    gap = gap_to_core(CORNERS, core([one, other]))
    step = np.linalg.norm(np.subtract(one, other)) / 8000.0
    assert nearest - step - 2e-8 <= gap <= nearest + 2e-8


@given(
    place=places,
    normal=places.filter(lambda n: np.linalg.norm(n) > 0.1),
    across=st.floats(0.1, 10.0),
)
@example(place=(1.0, -3.0, 0.0), normal=(1.5, -4.0, 1e-9), across=1.0)  # held square to its middle
def test_a_sheets_distance(place, normal, across):
    sheet = core([place], normal, across)
    u = np.cross(sheet.normal, np.eye(3)[np.argmin(np.abs(sheet.normal))])
    u /= np.linalg.norm(u)
    v = np.cross(sheet.normal, u)
    radii, turns = np.meshgrid(np.linspace(0, across / 2, 61), np.linspace(0, 2 * np.pi, 361))
    points = sheet.ends[0] + (radii * np.cos(turns))[..., None] * u
    points = points + (radii * np.sin(turns))[..., None] * v
    nearest = from_box(points).min()
    gap = gap_to_core(CORNERS, sheet)
    step = across / 2.0 * np.hypot(1 / 120, np.pi / 360)
    assert nearest - step - 2e-8 <= gap <= nearest + 2e-8


def test_a_crack_without_end_is_a_plane():
    crack = core([[0, 0, 4.0]], [0, 0, -1], np.inf)
    assert gap_to_core(CORNERS, crack) == pytest.approx(1.0)
    assert gap_to_core(CORNERS, core([[0, 0, 2.5]], [0, 0, 1], np.inf)) == pytest.approx(-0.5)


def flawed(flaw):
    plan = sound_plan()
    return replace(plan, rough=replace(plan.rough, flaws=(flaw,)))


def beside_the_table(apart, **changes):
    """A point flaw ``apart`` mm over the middle of the stone's table."""
    placement = sound_plan().stones[0].placement
    axis, corners = placement.pose.rotation[:, 2], placement.mesh().vertices
    high = (corners @ axis).max() - placement.pose.translation @ axis
    spot = placement.pose.translation + axis * (high + apart)
    return replace(Flaw("bubble", spot[None], None, 0.0, 0.1, 0.3), **changes)


def test_a_stone_clear_of_its_flaw_passes_and_says_by_how_much():
    told = audit(flawed(beside_the_table(0.5)), handmade_plans.rebuild)
    line = 'Stone 1 keeps clear of the flaws: "bubble" by 0.400000 mm, with 0.3 mm demanded.'
    assert line in told
    just = beside_the_table(0.4)
    assert audit(flawed(just), handmade_plans.rebuild)


@pytest.mark.parametrize(
    "flaw",
    [
        beside_the_table(0.4 - 2e-6),
        beside_the_table(0.0),
        beside_the_table(-1.0),  # within the stone
        beside_the_table(0.5, radius_mm=0.3),
        beside_the_table(0.5, clearance_mm=0.5),
        beside_the_table(0.3, normal=np.array([0.6, 0.0, 0.8]), across_mm=np.inf),
        beside_the_table(0.3, normal=np.array([0.6, 0.0, 0.8]), across_mm=1.0),
    ],
)
def test_a_stone_too_near_its_flaw_is_refused(flaw):
    with pytest.raises(AuditError, match='stone 1 keeps clear of the flaw "bubble"') as caught:
        audit(flawed(flaw), handmade_plans.rebuild)
    assert "\n" not in str(caught.value)


def test_an_overlap_with_a_flaw_of_a_mesh_is_told_as_a_volume():
    """A cube of 0.2 mm wholly within the stone: 0.008 mm³ by its sides."""
    cube = shapes.moved(shapes.box((0.2, 0.2, 0.2)), np.eye(3), at(0.0, 0.0))
    flaw = Flaw("bubble", at(0.0, 0.0)[None], None, 0.0, 0.0, 0.3, cube, "bubble.ply")
    with pytest.raises(AuditError, match=r"it overlaps the flaw by 0\.008 mm³; demanded: at least"):
        audit(flawed(flaw), handmade_plans.rebuild)
    assert gap_to_flaw(STONE.mesh(), flaw) == 0.0


def test_without_flaws_nothing_is_said():
    plan = sound_plan()
    mesh = plan.stones[0].placement.mesh()
    assert flaws_are_cleared(mesh, np.array([0.0, 0.0, 1.0]), plan.rough, "stone 1") is None


STONE = sound_plan().stones[0].placement
AXIS = STONE.pose.rotation[:, 2]


def at(aside, up):
    """A point of the scan frame, told in the stone frame."""
    return STONE.pose.translation + STONE.pose.rotation @ np.array([aside, 0.0, up])


def mesh_flaw(size, apart=None, **changes):
    """A cube about the stone's middle, or one whose face is ``apart`` mm over the table."""
    top = (STONE.mesh().vertices @ AXIS).max() - STONE.pose.translation @ AXIS
    up = 0.0 if apart is None else top + apart + size / 2.0
    cube = shapes.moved(shapes.box((size,) * 3), STONE.pose.rotation, at(0.0, up))
    return replace(
        Flaw("cloud", at(0.0, up)[None], None, 0.0, 0.0, 0.3, cube, "cloud.ply"), **changes
    )


def test_a_stone_clear_of_a_mesh_passes():
    line = '"cloud" by at least 0.350000 mm, with 0.3 mm demanded.'
    assert any(line in text for text in audit(flawed(mesh_flaw(1.0, 0.35)), handmade_plans.rebuild))
    assert audit(flawed(mesh_flaw(1.0, 0.3)), handmade_plans.rebuild)


@pytest.mark.parametrize(
    "flaw",
    [
        mesh_flaw(1.0, 0.3 - 3e-6),
        mesh_flaw(1.0, -0.5),  # it enters the stone
        mesh_flaw(0.2),  # wholly within the stone
        mesh_flaw(60.0),  # the stone lies wholly within it
    ],
)
def test_a_stone_too_near_a_mesh_is_refused(flaw):
    for off_table in (False, True):  # all of them below the table
        with pytest.raises(AuditError, match='clear of the flaw "cloud"') as caught:
            audit(flawed(replace(flaw, off_table=off_table)), handmade_plans.rebuild)
        assert "\n" not in str(caught.value)


def test_off_the_table_only_what_is_below_the_table_counts():
    """A bubble within the stone, just beyond the table's end along its length."""
    table = STONE.mesh().vertices
    table = table[table @ AXIS >= (table @ AXIS).max() - 1e-9]
    edge = ((table - STONE.pose.translation) @ STONE.pose.rotation)[:, 0].max()
    for apart, passes in ((0.4001, True), (0.3999, False)):
        spot = at(edge + apart, 0.0)
        flaw = Flaw("bubble", spot[None], None, 0.0, 0.1, 0.3, off_table=True)
        assert gap_to_core(STONE.mesh().vertices, flaw) < 1e-9  # it lies in the stone
        if passes:
            told = audit(flawed(flaw), handmade_plans.rebuild)
            assert any('"bubble" below its table by 0.300100 mm' in line for line in told)
        else:
            with pytest.raises(AuditError, match="keeps what is below its table clear of"):
                audit(flawed(flaw), handmade_plans.rebuild)


def test_what_is_below_the_table_is_a_prism_of_the_tables_outline():
    part = part_below_table(STONE.mesh(), AXIS)
    table = STONE.mesh().vertices
    table = table[table @ AXIS >= (table @ AXIS).max() - 1e-9] @ STONE.pose.rotation
    seen = part.vertices @ STONE.pose.rotation
    whole, flat = ConvexHull(seen[:, :2]), ConvexHull(table[:, :2])
    assert whole.volume == pytest.approx(flat.volume, rel=1e-9)  # areas, in two dimensions
    assert seen[:, 2].min() == pytest.approx((STONE.mesh().vertices @ AXIS).min())  # to the culet
