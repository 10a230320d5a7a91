"""The fast way through many boundaries against the plain one, and what symmetry settles."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from optics_bodies import lump, stated_brilliant
from scipy.spatial import ConvexHull, HalfspaceIntersection
from slow_recolouring import RecolouredFace

from optimizer.colours import from_hex
from optimizer.design import build_body, load_design
from optimizer.optics.beam_samples import beam_face, beam_shares
from optimizer.optics.boundary_forms import plane_form
from optimizer.optics.dye import CLEAR, Sample, dye_of, furthest_apart
from optimizer.optics.eye import frame_of, lattice, mirrored_lattice
from optimizer.optics.face import face_of, incoming_light
from optimizer.optics.lights import LIGHTS
from optimizer.optics.look import CutStone
from optimizer.optics.look_map import LookMap
from optimizer.optics.paths import refracting_body
from optimizer.optics.plane_shares import PlaneShares
from optimizer.optics.ray_samples import ray_face, ray_shares
from optimizer.optics.shading import bands
from optimizer.trade.materials import load_material

VIOLET, YELLOW = dye_of([Sample((0.56, 0.38, 0.82), 1.0)]), dye_of([Sample((0.95, 0.75, 0.2), 1.0)])
QUARTZ = load_material("quartz")


def both(body, corners, pair, count=700):
    places = lattice(*frame_of(corners, np.eye(3)), count)
    face = face_of((refracting_body(*body, 1.6),), bands(1), places, np.eye(3))
    (light,) = incoming_light(face, LIGHTS["open sky"])
    return RecolouredFace.of(face, light, *pair), PlaneShares.of(face, light, *pair)


def grid(shares, corners, tilts, azimuths, offsets):
    return LookMap.of(
        shares, corners, *(np.array(ends, float) for ends in (tilts, azimuths, offsets))
    )


@settings(max_examples=8)
@given(st.integers(0, 10**6), st.floats(-90, 90), st.floats(-180, 180), st.booleans())
def test_each_entry_is_the_figure_told_the_plain_way(seed, tilt, azimuth, clear):
    """Every leg of every ray split by itself, against the crossings alone, on bodies without any
    symmetry."""
    body = lump(seed)
    corners = HalfspaceIntersection(np.column_stack([body[0], -body[1]]), np.zeros(3)).intersections
    plain, fast = both(body, corners, (VIOLET, CLEAR if clear else YELLOW))
    offsets = np.array([-1.05, -0.6, -0.1, 0.3, 0.7, 1.05])
    got = grid(fast, corners, [tilt], [azimuth], offsets)
    want = [plain.figures(plane_form(corners, tilt, azimuth, at)) for at in offsets]
    np.testing.assert_allclose(got.share[0, 0], [f.share for f in want], atol=1e-4)
    clearly = [k for k, f in enumerate(want) if min(*f.halves, *f.ends) > 0.1]
    for name in ("halves", "ends"):
        balance = np.array([getattr(f, f"balance_of_{name}") for f in want])
        np.testing.assert_allclose(
            getattr(got, name)[0, 0][clearly], balance[clearly], atol=0.02, err_msg=name
        )
    apart = [abs(f.ends[0] - f.ends[1]) for f in want]
    np.testing.assert_allclose(got.ends_apart[0, 0], apart, atol=2e-4)


def test_beyond_the_stone_the_face_shows_one_colour():
    body, corners = stated_brilliant()
    _, fast = both(body, corners, (VIOLET, YELLOW))
    got = grid(fast, corners, [-40, 0, 90], [0, 70], [-1.01, 1.01])
    np.testing.assert_array_equal(got.share[:, :, 0], 1.0)
    np.testing.assert_array_equal(got.share[:, :, 1], 0.0)
    np.testing.assert_array_equal(got.ends, 1.0)


def test_the_share_falls_as_the_boundary_moves_on():
    body, corners = stated_brilliant()
    _, fast = both(body, corners, (VIOLET, YELLOW))
    got = grid(fast, corners, [0, 30], [0, 45], np.linspace(-1.0, 1.0, 21))
    assert (np.diff(got.share, axis=2) <= 0.0).all()


def test_a_mirrored_lattice_balances_a_boundary_on_a_mirror_of_the_stone():
    body = build_body(load_design("long-hexagon"))
    corners = body.vertices_at(7.0)
    fast = ray_shares(ray_face(CutStone(body, 7.0, QUARTZ), places=2000), VIOLET, YELLOW)
    got = grid(fast, corners, [0], [0, 90], [-0.3, 0.0, 0.4])
    np.testing.assert_allclose(got.halves[0, 0], 1.0, atol=1e-9)
    np.testing.assert_allclose(got.ends[0, 1], 1.0, atol=1e-9)
    assert got.ends[0, 0, 1] < 0.6


def test_a_mirrored_lattice_is_as_even_as_its_quarter():
    places = mirrored_lattice(np.array([-3.0, 1.0]), np.array([1.0, 2.0]), 4000)
    np.testing.assert_allclose(places.mean(axis=0), [-1.0, 1.5], atol=1e-12)
    counts = np.histogram2d(*places.T, bins=8, range=[[-3, 1], [1, 2]])[0]
    assert counts.min() > 0.8 * counts.max()


def test_even_places_tell_what_many_rays_do():
    """Few pieces by their areas against 50 times as many rays, none of them chosen by the beams."""
    cut = CutStone(build_body(load_design("long-hexagon")), 7.0, QUARTZ)
    few = beam_shares(cut, VIOLET, YELLOW, 1000)
    many = ray_shares(ray_face(cut, places=100_000), VIOLET, YELLOW)
    face, areas = beam_face(cut, 1000)
    outline = ConvexHull(cut.corners[:, :2]).volume
    assert face.hit.all()
    assert areas.sum() == pytest.approx(outline, rel=1e-9)
    ways = ([-30.0, 0.0, 45.0], [0.0, 50.0, 90.0], [-0.5, 0.0, 0.4])
    got, want = (grid(shares, cut.corners, *ways) for shares in (few, many))
    np.testing.assert_allclose(got.share, want.share, atol=0.008)
    shown = (want.share > 0.1) & (want.share < 0.9)
    assert shown.sum() > 10
    np.testing.assert_allclose(got.halves[shown], want.halves[shown], atol=0.025)
    np.testing.assert_allclose(got.ends[shown], want.ends[shown], atol=0.025)


@pytest.mark.parametrize("workers", ["1", "3"])
def test_the_map_does_not_depend_on_the_number_of_workers(workers, monkeypatch):
    monkeypatch.setenv("KERFWISE_WORKERS", workers)
    body, corners = stated_brilliant()
    _, fast = both(body, corners, (VIOLET, YELLOW), 200)
    ways = ([0.0, 20.0], [0.0, 50.0, 100.0], [-0.2, 0.1])
    ends = [np.array(each) for each in ways]
    one = LookMap.of(fast, corners, *ends)
    np.testing.assert_array_equal(one.share, grid(fast, corners, *ways).share)


def dye(srgb, mm):
    return dye_of([Sample(tuple(from_hex(srgb)), mm)])


@pytest.mark.parametrize(
    ("one", "other"), [("#000000", "#e8b83a"), ("#ff0000", "#00ff00"), ("#000000", "#ffffff")]
)
def test_however_deep_the_colours_the_quick_way_is_the_plain_one(one, other):
    body, corners = stated_brilliant()
    plain, fast = both(body, corners, (dye(one, 0.5), dye(other, 0.5)))
    offsets = np.linspace(-0.9, 0.9, 7)
    for tilt, azimuth in ((0.0, 0.0), (40.0, 30.0), (-70.0, 100.0)):
        got = grid(fast, corners, [tilt], [azimuth], offsets)
        want = [plain.figures(plane_form(corners, tilt, azimuth, at)).share for at in offsets]
        np.testing.assert_allclose(got.share[0, 0], want, atol=1e-4)


@pytest.mark.parametrize("colours", [("#4a2f63", "#594433"), ("#ffffff", "#ffffff")])
def test_a_face_that_does_not_tell_its_colours_apart_says_so(colours):
    body, corners = stated_brilliant()
    plain, fast = both(body, corners, [dye(one, 0.01) for one in colours])
    figures = fast.figures(np.array([1.0, 0.0, 0.0]), np.array([-0.1, 0.1]))
    figures.append(plain.figures(plane_form(corners, 0.0, 0.0, 0.0)))
    assert [(one.share, one.distinct_share, one.distinct) for one in figures] == [
        (0.0, 0.0, False)
    ] * 3
    assert not fast.distinct


def test_two_dyes_are_never_further_apart_than_where_they_are_furthest():
    """What a thickness shows, between the thicknesses looked at and at them."""
    violet, deeper = dye("#8a5cc2", 12.0), dye("#8a5cc2", 5.0)
    far = furthest_apart(violet, deeper)
    shown = [np.linalg.norm(violet.colour(mm) - deeper.colour(mm)) for mm in (0.5, 3.3, 7.7, 40.0)]
    assert max(shown) <= far + 1e-3
    assert far < 1.2 * max(shown)
    assert furthest_apart(violet, violet) == 0.0
