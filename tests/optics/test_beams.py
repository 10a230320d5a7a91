"""Beams against rays, and pixels against the mean of many rays in each."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from optics_bodies import box, lump
from scipy.spatial import ConvexHull

from optimizer.design import build_body, load_design
from optimizer.optics.beams import beams_of
from optimizer.optics.boundary_forms import plane_form
from optimizer.optics.colouring import CLEAR_TINT, Colouring, Tint, one_colour
from optimizer.optics.dye import Sample, dye_of
from optimizer.optics.eye import pixel_centres, rays_at, rocked
from optimizer.optics.face import gloss, incoming_light
from optimizer.optics.kernels.pixels import pixel_pieces
from optimizer.optics.lights import LIGHTS
from optimizer.optics.look import CutStone
from optimizer.optics.paths import refracting_body, trace
from optimizer.optics.pixels import PixelGrid, Precision, render_face
from optimizer.trade.materials import load_material

SEEDS = st.integers(0, 10_000)
LOW, HIGH = np.full(2, -1.1), np.full(2, 1.1)
SKY = LIGHTS["open sky"]
VIOLET, YELLOW = (
    Tint(name, (dye_of([Sample(srgb, 3.0)]),) * 3)
    for name, srgb in (("violet", (0.54, 0.36, 0.76)), ("yellow", (0.91, 0.72, 0.23)))
)


def areas(beams) -> np.ndarray:
    """By the shoelace formula."""
    cuts = beams.outline_start[1:-1]
    return np.array(
        [
            0.5 * (x * np.roll(y, -1) - np.roll(x, -1) * y).sum()
            for x, y in (part.T for part in np.split(beams.outline, cuts))
        ]
    )


def regions_of(beams, places) -> np.ndarray:
    """Which regions (n, r) hold each place, by its side of every edge."""
    held = []
    for corners in np.split(beams.outline, beams.outline_start[1:-1]):
        along = np.roll(corners, -1, axis=0) - corners
        off = places[:, None] - corners
        held.append((along[:, 0] * off[..., 1] >= along[:, 1] * off[..., 0]).all(axis=1))
    return np.column_stack(held)


@settings(max_examples=15)
@given(SEEDS, st.floats(1.3, 2.0), st.floats(-40, 40), st.floats(-40, 40))
def test_every_ray_goes_the_way_of_its_region(seed, index, about_x, about_y):
    """Facet by facet, with the shares and ways that the ray alone has."""
    body, room = lump(seed, 14), rocked(about_x, about_y)
    beams = beams_of(refracting_body(*body, index), room, LOW, HIGH, finest=0.0, least=1e-3)
    places = np.random.default_rng(seed).uniform(-1.0, 1.0, (60, 2))
    rays = trace(refracting_body(*body, index), *rays_at(places, room, 4.0), least=1e-3)
    held = regions_of(beams, places)
    np.testing.assert_array_equal(held.sum(axis=1), rays.hit)
    paths, _ = beams.paths(held.argmax(axis=1)[rays.hit], places[rays.hit])
    np.testing.assert_array_equal(np.diff(paths.start), np.diff(rays.start)[rays.hit])
    np.testing.assert_allclose(paths.points, rays.points, atol=1e-9)
    for name in ("weight", "leaving"):
        np.testing.assert_allclose(getattr(paths, name), getattr(rays, name), atol=1e-9)
    for name in ("mirrored_share", "mirrored_direction", "residual"):
        alone = getattr(rays, name)[rays.hit]
        np.testing.assert_allclose(getattr(paths, name), alone, atol=1e-9, err_msg=name)


@given(SEEDS, st.floats(1.3, 2.0), st.sampled_from([0.0, 1e-3, 1e-2, np.inf]))
def test_regions_make_up_the_outline_and_lose_no_light(seed, index, finest):
    normals, offsets = lump(seed, 14)
    assume(offsets.min() > 1e-3)  # the corners are sought from the origin
    beams = beams_of(
        refracting_body(normals, offsets, index),
        rocked(9.0, -14.0),
        LOW,
        HIGH,
        finest=finest,
        least=1e-3,
    )
    corners = ConvexHull(_corners(normals, offsets) @ rocked(9.0, -14.0)[:2].T)
    assert areas(beams).min() > 0.0
    assert areas(beams).sum() == pytest.approx(corners.volume, abs=1e-9)
    shares = np.add.reduceat(beams.weight[beams.chain], beams.chain_start[:-1]) + beams.residual
    np.testing.assert_allclose(shares, 1.0, atol=1e-12)
    assert (beams.residual < 1e-3).all()


def _corners(normals, offsets) -> np.ndarray:
    from scipy.spatial import HalfspaceIntersection

    return HalfspaceIntersection(np.column_stack([normals, -offsets]), np.zeros(3)).intersections


def test_a_plate_is_one_region_with_the_slabs_series():
    beams = beams_of(
        refracting_body(*box(1.0, 1.0, 0.4), 1.5), np.eye(3), LOW, HIGH, finest=0.0, least=1e-6
    )
    assert len(beams.residual) == 1
    assert areas(beams)[0] == pytest.approx(1.0, abs=1e-12)
    r = 0.04
    leaving = (1 - r) ** 2 * r ** np.arange(len(beams.chain) - 1)
    np.testing.assert_allclose(beams.weight[beams.chain], [r, *leaving], atol=1e-15)


def test_the_number_of_workers_changes_nothing(monkeypatch):
    found = []
    for count in "13":
        monkeypatch.setenv("KERFWISE_WORKERS", count)
        body = refracting_body(*lump(3), 1.6)
        found.append(beams_of(body, np.eye(3), LOW, HIGH, finest=1e-4))
    one, three = found
    for name in ("weight", "leaving", "place", "residual", "chain", "outline", "outline_start"):
        np.testing.assert_array_equal(getattr(one, name), getattr(three, name))


def test_nothing_in_the_frame_is_no_trouble():
    away = beams_of(refracting_body(*lump(3), 1.6), np.eye(3), LOW + 9.0, HIGH + 9.0, finest=0.0)
    assert len(away.residual) == len(away.weight) == len(away.inside) == 0
    region, *_ = pixel_pieces(away.outline, away.outline_start, 0.0, 1.0, 0.1, 10, 10)
    assert len(region) == 0


@given(SEEDS, st.integers(3, 9), st.floats(0.02, 3.0))
def test_pieces_make_up_their_polygon(seed, count, side):
    """Area and centre of mass, also where corners coincide, to rounding or all but."""
    rng = np.random.default_rng(seed)
    turns = np.sort(rng.uniform(0.0, 2.0 * np.pi, count))
    corners = np.column_stack([np.cos(turns), 0.7 * np.sin(turns)])
    twins = np.repeat(corners, 2, axis=0)
    twins[1::2] += rng.choice([0.0, 1e-16, 1e-13]) * rng.normal(size=corners.shape)
    n = int(np.ceil(2.0 / side)) + 1
    grids = [
        pixel_pieces(each, np.array([0, len(each)]), -1.0, 1.0, side, n, n)
        for each in (corners, twins)
    ]
    x, y = corners.T
    cross = x * np.roll(y, -1) - np.roll(x, -1) * y
    area = 0.5 * cross.sum()
    centre = (cross[:, None] * (corners + np.roll(corners, -1, axis=0))).sum(axis=0) / 6.0
    for _, pixel, pieces, middle in grids:
        assert len(np.unique(pixel)) == len(pixel)
        assert pieces.max() <= side**2 * (1.0 + 1e-12)
        assert pieces.sum() == pytest.approx(area, abs=1e-8)
        np.testing.assert_allclose(pieces @ middle, centre, atol=1e-8)
        row, column = np.divmod(pixel, n)
        home = np.column_stack([-1.0 + (column + 0.5) * side, 1.0 - (row + 0.5) * side])
        assert (np.abs(middle - home) <= side / 2.0 + 1e-9).all()


@pytest.mark.parametrize("turn", [(0.0, 0.0), (15.0, -8.0)])
@pytest.mark.parametrize("kind", ["clear", "one", "two"])
def test_pixels_are_the_mean_of_many_rays(kind, turn):
    cut = CutStone(build_body(load_design("long-hexagon")), 8.0, load_material("quartz"))
    halves = plane_form(cut.corners, 20.0, 30.0, 0.1)
    colouring = {
        "clear": one_colour(CLEAR_TINT),
        "one": one_colour(VIOLET),
        "two": Colouring(VIOLET, YELLOW, halves, zone="split"),
    }[kind]
    across, finer, reach = 20, 14, 7.0
    grid = PixelGrid(-reach, reach, 2.0 * reach / across, across, across)
    got, covered = render_face(
        cut, colouring, SKY, grid, turn=turn, count=1, precision=Precision(0.01)
    )
    places = pixel_centres(np.full(2, -reach), np.full(2, reach), across * finer)
    off = np.random.default_rng(2).uniform(-0.5, 0.5, places.shape)
    face = cut.face(places + off * 2.0 * reach / (across * finer), turn, 1)
    many = (
        colouring.colours(face, incoming_light(face, SKY)) + (gloss(face, SKY) * face.hit)[:, None]
    )
    shape = (across, finer, across, finer)
    want = many.reshape(*shape, 3).mean(axis=(1, 3))
    hit = face.hit.reshape(shape).mean(axis=(1, 3))
    # Where an edge crosses a pixel, random rays in squares are off by about finer^-1.5 of the step.
    assert np.sqrt(((covered - hit) ** 2).mean()) < 0.006
    assert np.abs(covered - hit).max() < 0.05
    assert np.sqrt(((got - want) ** 2).mean()) < 0.008
    assert np.abs(got.mean(axis=(0, 1)) - want.mean(axis=(0, 1))).max() < 0.0015


def test_a_picture_of_clear_pixels_is_that_of_all_but_clear_ones():
    """A clear stone is coloured once a region, any other once a piece."""
    cut = CutStone(build_body(load_design("round-brilliant")), 8.0, load_material("quartz"))
    faint = Tint("faint", (dye_of([Sample((0.9999, 0.9999, 0.9999), 100.0)]),) * 3)
    grid = PixelGrid(-4.0, 4.0, 0.25, 32, 32)
    one, two = (
        render_face(cut, one_colour(tint), SKY, grid, turn=(0.0, 0.0), count=3)[0]
        for tint in (CLEAR_TINT, faint)
    )
    np.testing.assert_allclose(one, two, atol=1e-3)
