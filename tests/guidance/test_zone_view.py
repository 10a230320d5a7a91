"""The boundary seen from the stone, against the robust kernel and closed forms."""

import numpy as np
import pytest
import shapes
from handmade_plans import six_sided_body
from hypothesis import given
from hypothesis import strategies as st
from placed_stones import box_body, moved_placement, placement_of, solid_volume

from optimizer.mesh import Plane
from optimizer.order import ZoneDemand
from optimizer.placement.zone_view import chosen_zone, view_zone, volume_beyond
from optimizer.rough.model import Colour, Zone
from optimizer.solid import beyond

SEEDS = st.integers(0, 10_000)
SMOKE, CLEAR = Colour("smoke", "#554433"), Colour("clear", "#eeeeff")


def zone_at(normal, offset, name="split"):
    return Zone(name, Plane(np.asarray(normal, float), offset), SMOKE, CLEAR)


@given(SEEDS, st.floats(-1.2, 1.2))
def test_share_is_what_the_robust_kernel_trims(seed, share):
    rng = np.random.default_rng(seed)
    turn, shift = shapes.random_motion(rng, 10.0)
    stone = placement_of(six_sided_body(), 8.0, shift, turn)
    normal = shapes.random_rotation(rng)[:, 0]
    reach = stone.mesh().vertices @ normal
    offset = float(reach.mean() + share * np.ptp(reach) / 2)
    view = view_zone(zone_at(normal, offset), "smoke", stone)
    trimmed = solid_volume(beyond(stone.mesh(), Plane(normal, offset)))
    whole = solid_volume(stone.mesh())
    assert view.share_percent == pytest.approx(100 * trimmed / whole, abs=1e-9)


@given(SEEDS)
def test_clipping_counts_non_convex_solids_too(seed):
    rng = np.random.default_rng(seed)
    piece = shapes.dented(seed % 3, subdivisions=1)
    plane = Plane(shapes.random_rotation(rng)[:, 1], float(rng.uniform(-6, 6)))
    assert volume_beyond(piece, plane) == pytest.approx(solid_volume(beyond(piece, plane)))


def test_planes_through_corners_and_facets_count_right():
    cube = shapes.box((2.0, 2.0, 2.0))
    for offset, expected in [(-1.0, 8.0), (1.0, 0.0), (0.0, 4.0), (-5.0, 8.0), (5.0, 0.0)]:
        plane = Plane(np.array([0, 0, 1.0]), offset)
        assert volume_beyond(cube, plane) == pytest.approx(expected, abs=1e-12)
    slant = Plane(np.array([1.0, 1.0, 0.0]) / np.sqrt(2.0), 0.0)
    assert volume_beyond(cube, slant) == pytest.approx(4.0)


def test_a_boundary_square_to_the_length_in_numbers():
    # a block 9 × 6 × 3 about x = 2: from -2.5 to 6.5; boundary at 3.5 leaves 3 of 9 beyond
    view = view_zone(zone_at([1, 0, 0], 3.5), "smoke", placement_of(box_body(), 6.0, (2, 0, 0)))
    assert (view.zone, view.colour) == ("split", "smoke")
    assert view.tilt_deg == pytest.approx(0.0)
    assert view.azimuth_deg == pytest.approx(0.0)
    assert view.offset == pytest.approx(1.5 / 4.5)
    assert view.share_percent == pytest.approx(100 / 3)


def test_the_other_colour_sees_the_other_side():
    stone = placement_of(six_sided_body(), 8.0)
    zone = zone_at([0.6, 0.0, 0.8], 0.7)
    one, other = view_zone(zone, "smoke", stone), view_zone(zone, "clear", stone)
    assert one.share_percent + other.share_percent == pytest.approx(100.0)
    assert one.offset == pytest.approx(-other.offset)
    assert one.tilt_deg == pytest.approx(-other.tilt_deg)
    assert abs(one.azimuth_deg - other.azimuth_deg) == pytest.approx(180.0)


@pytest.mark.parametrize(("tilt", "told"), [(88.9, True), (89.1, False), (-89.5, False)])
def test_azimuth_means_nothing_near_the_axis(tilt, told):
    radians = np.radians(tilt)
    normal = np.array([0.0, np.cos(radians), np.sin(radians)])
    view = view_zone(zone_at(normal, 0.0), "smoke", placement_of(six_sided_body(), 5.0))
    assert view.tilt_deg == pytest.approx(tilt)
    assert (view.azimuth_deg is not None) == told
    if told:
        assert view.azimuth_deg == pytest.approx(90.0)


@given(SEEDS, st.floats(-80, 80), st.floats(-179, 179), st.floats(-0.9, 0.9))
def test_the_view_is_rebuilt_from_its_numbers_and_moves_with_the_stone(seed, tilt, azimuth, off):
    t, a = np.radians(tilt), np.radians(azimuth)
    normal = np.array([np.cos(t) * np.cos(a), np.cos(t) * np.sin(a), np.sin(t)])
    stone = placement_of(six_sided_body(), 7.0)
    reach = stone.mesh().vertices @ normal
    level = (reach.max() + reach.min()) / 2 + off * np.ptp(reach) / 2
    turn, shift = shapes.random_motion(np.random.default_rng(seed))
    zone = zone_at(turn @ normal, float(level + (turn @ normal) @ shift))
    view = view_zone(zone, "smoke", moved_placement(stone, turn, shift))
    assert view.tilt_deg == pytest.approx(tilt, abs=1e-9)
    assert view.azimuth_deg == pytest.approx(azimuth, abs=1e-9)
    assert view.offset == pytest.approx(off, abs=1e-9)


def test_which_zone_is_shown():
    one, two = zone_at([1, 0, 0], 0.0), zone_at([0, 1, 0], 0.0, "other")
    assert chosen_zone((), None) is None
    assert chosen_zone((one, two), None) == (one, "smoke")
    assert chosen_zone((one, two), ZoneDemand("other", "clear")) == (two, "clear")
