"""Boxes of a map, rectangles of a grid and demands on figures, against looking at every place."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from optimizer.optics.angles import largest_rectangle
from optimizer.optics.figures import LightFigures, ZoneFigures
from optimizer.optics.look_demands import colour_demands, light_demands, unmet
from optimizer.optics.look_map import LookMap
from optimizer.optics.regions import meeting_places, regions
from optimizer.order import LookDemand

TILTS, OFFSETS = np.linspace(-90.0, 90.0, 5), np.linspace(-0.9, 0.9, 4)
ROUND = np.arange(-180.0, 180.0, 60.0)
SHAPE = (5, 6, 4)


def map_of(share, azimuths=ROUND):
    return LookMap(TILTS, azimuths, OFFSETS, share, share, share, share)


def held(region, azimuths):
    """Which places lie in a box, azimuths modulo a turn."""

    def within(values, ends):
        return (values >= ends[0] - 1e-9) & (values <= ends[1] + 1e-9)

    past = (azimuths - region.azimuth_deg[0] + 1e-9) % 360.0
    around = past <= region.azimuth_deg[1] - region.azimuth_deg[0] + 2e-9
    return np.ix_(within(TILTS, region.tilt_deg), around, within(OFFSETS, region.offset))


@given(arrays(bool, SHAPE), st.booleans(), st.integers(1, 5))
def test_all_in_a_box_is_met_and_nothing_met_is_left_out(met, turns, count):
    azimuths = ROUND if turns else np.linspace(-30.0, 30.0, 6)
    found = regions(map_of(met.astype(float), azimuths), met, (10.0, 20.0, 0.1), count)
    assert len(found) <= count
    assert bool(found) == met.any()
    covered = np.zeros(SHAPE, bool)
    for region in found:
        assert met[held(region, azimuths)].all()
        covered[held(region, azimuths)] = True
    if len(found) < count:
        assert (covered == met).all()


def test_a_box_may_run_past_half_a_turn():
    met = np.zeros(SHAPE, bool)
    met[2:4, [5, 0], 1:3] = True
    (region,) = regions(map_of(met.astype(float)), met, (0.0, 0.0, 0.0), 3)
    assert region.azimuth_deg == (120.0, 180.0)
    assert region.tilt_deg == (0.0, 45.0)


@given(arrays(bool, st.tuples(st.integers(1, 5), st.integers(1, 5))))
def test_no_rectangle_is_larger(met):
    found = largest_rectangle(met)
    rows, columns = met.shape
    sizes = [
        (b - a) * (d - c)
        for a in range(rows) for b in range(a + 1, rows + 1)
        for c in range(columns) for d in range(c + 1, columns + 1)
        if met[a:b, c:d].all()
    ]  # fmt: skip
    assert (met[found].size if found else 0) == max(sizes, default=0)
    assert found is None or met[found].all()


LIGHT = LightFigures(light_return=0.5, window=0.05, extinction=0.1, contrast=0.5)
ZONE = ZoneFigures(share=0.5, halves=(0.5, 0.5), ends=(0.8, 0.2))


def test_what_is_not_met_is_named():
    asked = LookDemand("a", "b", (60.0, 70.0), 0.9, 0.5, 55.0, 4.0)
    said = list(unmet(asked, LIGHT, ZONE))
    assert [one.split(":")[0] for one in said] == [
        "a light return of 55 % or more",
        "a window of 4 % of the face or less",
        "60 to 70 % of the face b",
        "a balance of the ends of 0.5 or more",
    ]
    loose = LookDemand("a", "b", (40.0, 60.0), 0.9, 0.25, 50.0, 5.0)
    assert not list(unmet(loose, LIGHT, ZONE))
    assert len(colour_demands(loose)) + len(light_demands(loose)) == 5


def test_all_of_the_face_is_no_narrower_for_a_margin():
    asked = colour_demands(LookDemand("a", "b", face_percent=(90.0, 100.0)))
    share = np.broadcast_to(np.array([0.89, 0.905, 0.95, 1.0]), SHAPE)
    np.testing.assert_array_equal(meeting_places(map_of(share), asked, 0.01)[0, 0], [0, 0, 1, 1])
