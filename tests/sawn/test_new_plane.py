"""Where the saw went, by how far it strayed and by readings: there and back again."""

from dataclasses import replace

import numpy as np
import pytest
import shapes
from hypothesis import given
from hypothesis import strategies as st

from optimizer.errors import InputError
from optimizer.guidance.model import Distance
from optimizer.mesh import Plane
from optimizer.sawing.model import SawCut
from optimizer.sawn.new_plane import displaced, measured_plane, rim_point
from optimizer.sawn.plan_folder import PlanFolder, PlannedCut

KERF = 0.5


def planned_cut(turn, shift):
    """A cut through a block that was turned and moved, across its length."""
    plane = Plane.through(shift, turn[:, 0])
    return PlannedCut(3, SawCut(0, (1,), (2,), plane, shift, KERF, 9.0, ""), ())


def face(plane, side):
    return plane.offset + side * KERF / 2.0


def marks(cut, real, turn, shift, rng, count):
    """Readings from marks on either side, and what they are to the faces of a real plane."""
    readings, measured = [], []
    for _ in range(count):
        side = float(rng.choice([-1.0, 1.0]))
        start = shift + turn @ [side * rng.uniform(4.0, 9.0), *rng.uniform(-6.0, 6.0, 2)]
        end = shift + turn @ [0.0, *rng.uniform(-6.0, 6.0, 2)]
        way = (end - start) / np.linalg.norm(end - start)
        readings.append(Distance("mark P", "point A on the line of cut 3", start, end, 1.0, ""))
        reach = (face(real, side) - real.normal @ start) / (real.normal @ way)
        measured.append(float(reach))
    return readings, measured


@given(st.integers(0, 10_000))
def test_three_readings_and_more_give_the_plane_back(seed):
    rng = np.random.default_rng(seed)
    turn, shift = shapes.random_motion(rng, reach=40.0)
    cut = planned_cut(turn, shift)
    slope = rng.uniform(-0.08, 0.08, 2)
    real = Plane.through(shift + rng.uniform(-1.0, 1.0) * turn[:, 0], turn @ [1.0, *slope])
    readings, measured = marks(cut, real, turn, shift, rng, 6)
    body = shapes.moved(shapes.box((20.0, 12.0, 12.0)), turn, shift).vertices
    below = body[body @ cut.cut.plane.normal < cut.cut.plane.offset]
    thickness = float((face(real, -1.0) - below @ real.normal).max())
    readings.append(
        Distance("the sawn face of cut 3", "far", shift, below[0], 9.0, "the thickness left")
    )
    told = dict(enumerate([*measured, thickness], 1))
    made = measured_plane(replace(cut, distances=tuple(readings)), told, KERF, body, "below")
    assert made.plane.normal == pytest.approx(real.normal, abs=1e-11)
    assert made.plane.offset == pytest.approx(real.offset, abs=1e-10)
    assert made.misfit_mm < 1e-10
    assert made.open_tilt == ""


@given(st.floats(-2.0, 2.0), st.integers(1, 2))
def test_fewer_readings_of_a_shifted_cut_turn_nothing(shift_mm, count):
    rng = np.random.default_rng(5)
    cut = planned_cut(np.eye(3), np.zeros(3))
    real = Plane(np.eye(3)[0], shift_mm)
    readings, measured = marks(cut, real, np.eye(3), np.zeros(3), rng, count)
    told = dict(enumerate(measured, 1))
    made = measured_plane(replace(cut, distances=tuple(readings)), told, KERF, np.eye(3), "below")
    assert made.plane.normal == pytest.approx(real.normal, abs=1e-12)
    assert made.plane.offset == pytest.approx(shift_mm, abs=1e-12)
    assert "as planned" in made.open_tilt


def test_two_readings_turn_it_the_way_that_they_tell():
    """From marks 10 mm apart along y: 0.3 and 0.5 mm; what lies across stays as it was."""
    cut = planned_cut(np.eye(3), np.zeros(3))
    starts = [np.array([-5.0, y, 0.0]) for y in (-5.0, 5.0)]
    readings = tuple(Distance("mark P", "", s, s * [0, 1, 1], 5.0, "") for s in starts)
    cut = replace(cut, distances=readings)
    steep = np.hypot(1.0, 0.02)
    made = measured_plane(cut, {1: 5.3, 2: 5.5}, KERF, np.eye(3), "below")
    assert made.plane.normal == pytest.approx(np.array([1.0, -0.02, 0.0]) / steep)
    assert made.plane.offset == pytest.approx((0.4 + steep * KERF / 2.0) / steep)


@given(st.floats(0.0, 3.0), st.floats(0.1, 10.0), st.booleans())
def test_a_stray_is_a_shift_and_a_turn_about_the_middle(by_mm, tilt, above):
    cut = planned_cut(np.eye(3), np.array([1.0, 2.0, 3.0])).cut
    rim = np.array([1.0, 2.0, 9.0])
    plane = displaced(cut, by_mm, tilt, rim, into_above=above)
    side = 1.0 if above else -1.0
    assert plane.normal @ [1.0, 0.0, 0.0] == pytest.approx(np.cos(np.radians(tilt)))
    for z, rise in ((3.0, 0.0), (9.0, 6.0 * np.tan(np.radians(tilt)))):
        on = np.array([1.0 + side * (by_mm + rise), 2.0, z])
        assert plane.normal @ on == pytest.approx(plane.offset)


# --- what can't be told ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("told", "said"),
    [
        ({4: 6.1}, "reading 4, from face front, .*; of the cut's list measure 1, 2, 3, 5"),
        ({9: 6.1}, "cut 1 has no reading 9; the plan lists 5"),
        ({1: 17.0, 2: 17.0, 3: 17.0, 5: 15.0}, r"contradict one another by \d\.\d\d mm"),
    ],
)  # fmt: skip
def test_readings_that_tell_nothing_are_refused(planned: PlanFolder, told, said):
    with pytest.raises(InputError, match=said):
        measured_plane(planned.cut(1), told, 0.4, planned.rough.mesh.vertices, "below")


def test_a_reading_from_a_point_to_itself_tells_nothing(planned: PlanFolder) -> None:
    first, *rest = planned.cut(1).distances
    nowhere = replace(first, start_point=first.end_point, mm=0.0)
    cut = replace(planned.cut(1), distances=(nowhere, *rest))
    with pytest.raises(InputError, match=r"reading 1, .*; of the cut's list measure 2, 3, 5"):
        measured_plane(cut, {1: 0.3}, 0.4, planned.rough.mesh.vertices, "below")


def test_the_plans_own_readings_are_of_its_middle(planned: PlanFolder) -> None:
    """They mark the middle of the kerf; the face of the piece lies half a kerf before it."""
    told = {1: 16.8, 2: 16.8, 3: 16.8, 5: 16.8}
    made = measured_plane(planned.cut(1), told, 0.4, planned.rough.mesh.vertices, "below")
    assert made.plane.offset == pytest.approx(2.0)
    off = measured_plane(planned.cut(1), {1: 17.2}, 0.4, planned.rough.mesh.vertices, "above")
    assert off.plane.offset == pytest.approx(2.0)


def test_points_of_the_line_by_their_letters(planned: PlanFolder) -> None:
    assert rim_point(planned.cut(1), "B") == pytest.approx([2.0, 6.0, -5.0])
    with pytest.raises(InputError, match="lists no point A for cut 2"):
        rim_point(planned.cut(2), "A")
    with pytest.raises(InputError, match="over the middle of the cut"):
        displaced(planned.cut(1).cut, 0.0, 1.0, np.array([7.0, 0.0, 0.0]), into_above=True)
