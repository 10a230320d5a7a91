"""Demands on the colour boundary: values by other means, gradients by differences."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from random_situations import MM_PER_RADIAN, guidance_figures, moved, random_situation

from optimizer.design import build_body, load_design
from optimizer.mesh import Plane
from optimizer.order import ZoneDemand
from optimizer.placement.colour_room import BandShare
from optimizer.placement.demands import azimuth, share, tilt, zone_demands
from optimizer.placement.direction import AxisToTable, OffCleavage
from optimizer.placement.growing import growing_by_width

seeds = st.integers(0, 10_000)


@pytest.fixture(scope="module")
def growing():
    return growing_by_width(build_body(load_design("pear"), least_girdle_mm=0.3), 0.2, 0.0)


@pytest.mark.parametrize("measure", [tilt, azimuth, share])
@given(seed=seeds)
def test_gradients_by_differences(growing, measure, seed):
    at, plane = random_situation(growing, seed)
    value, gradient = measure.value(at, plane), measure.gradient(at, plane)
    sine = plane.normal @ at.rotation[:, 2]
    if abs(sine) > 0.95 or abs(abs(value) - np.pi * MM_PER_RADIAN) < 0.01:
        return  # near the pole, or where the angle jumps
    for k in range(7):
        move = np.zeros(7)
        move[k] = 1e-5
        ahead, behind = (measure.value(moved(at, way), plane) for way in (move, -move))
        assert gradient[k] == pytest.approx((ahead - behind) / 2e-5, abs=2e-5)


DEMANDS = {
    "tilt_deg": (-10.0, 20.0),
    "azimuth_deg": (100.0, 250.0),
    "offset": (-0.2, 0.1),
    "share_percent": (40.0, 60.0),
}


@pytest.mark.parametrize("key", sorted(DEMANDS))
@given(seed=seeds)
def test_met_exactly_where_the_view_from_the_stone_says_so(growing, key, seed):
    """The clearance's sign against the zone's view, which guidance works out its own way."""
    at, plane = random_situation(growing, seed)
    low, high = DEMANDS[key]
    (demand,) = zone_demands(ZoneDemand("split", "violet", **{key: (low, high)}), plane)
    value = guidance_figures(growing, at, plane)[key]
    if key == "azimuth_deg":
        value = (value - low) % 360.0 + low
    margin = min(value - low, high - value)
    if abs(margin) > 1e-6:
        assert (demand.clearance(at) > 0.0) == (margin > 0.0)


def every_kind(plane):
    """A demand of each kind, none at an end of what it can ask."""
    zone = ZoneDemand("split", "violet", **DEMANDS)
    band = BandShare("a band", plane, share, 0.3, 0.7)
    axis = AxisToTable(np.array([0.6, 0.0, 0.8]), 0.4, 1.1)
    return (*zone_demands(zone, plane), band, axis, OffCleavage(np.eye(3), 0.1))


@given(seed=seeds)
def test_a_step_looser_is_worth_as_many_millimetres_as_it_says(growing, seed):
    at, plane = random_situation(growing, seed)
    half = float(np.ptp(at.arms @ plane.normal)) / 2.0
    for demand in every_kind(plane):
        loose = demand.relaxed(MM_PER_RADIAN, half)
        gain = loose.demand.clearance(at) - demand.clearance(at)
        assert gain == pytest.approx(loose.step * loose.per_unit, rel=1e-9)


@pytest.mark.parametrize("key", sorted(DEMANDS))
@given(seed=seeds)
def test_rows_foretell_small_moves(growing, key, seed):
    """What the rows leave after a small move, the demand has at least, to second order."""
    at, plane = random_situation(growing, seed)
    if abs(plane.normal @ at.rotation[:, 2]) > 0.95:
        return
    (demand,) = zone_demands(ZoneDemand("split", "violet", **{key: DEMANDS[key]}), plane)
    rows, limits = demand.rows(at)
    move = np.random.default_rng(seed).normal(size=7) * 1e-4
    promised = (limits - rows @ move).min()
    assert demand.clearance(moved(at, move)) >= promised - 1e-5


def test_sentences_name_the_boundary_and_the_ends():
    zone = ZoneDemand("split", "violet", **DEMANDS)
    demands = zone_demands(zone, Plane(np.array([1.0, 0.0, 0.0]), 0.0))
    texts = [d.sentence for d in demands]
    assert len(texts) == 4
    assert all('"split"' in text for text in texts)
    assert any("violet 40 to 60 % of the volume" in text for text in texts)
