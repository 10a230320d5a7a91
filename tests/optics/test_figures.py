"""The face's figures, where they can be told without rays, and where symmetry settles them."""

import numpy as np
import pytest
from optics_bodies import box, mirrored_share, stated_brilliant
from scipy.spatial.transform import Rotation
from slow_recolouring import RecolouredFace, figures_of

from optimizer.optics.boundary_forms import plane_form
from optimizer.optics.dye import Sample, dye_of
from optimizer.optics.eye import lattice, pixel_centres, rocked
from optimizer.optics.face import (
    coloured,
    coloured_crystal,
    everywhere,
    face_of,
    gloss,
    incoming_light,
)
from optimizer.optics.figures import light_figures, place_shares, zone_figures
from optimizer.optics.lights import LIGHTS
from optimizer.optics.observer import rgb_weights
from optimizer.optics.paths import refracting_body
from optimizer.optics.shading import bands

UPRIGHT = rocked(0.0, 0.0)
VIOLET, YELLOW = dye_of([Sample((0.56, 0.38, 0.82), 1.0)]), dye_of([Sample((0.95, 0.75, 0.2), 1.0)])
SKY = LIGHTS["open sky"]


def face(body, count=4000, stone2room=UPRIGHT, parts=1):
    places = lattice(np.array([-1.0, -1.0]), np.array([1.0, 1.0]), count)
    return face_of((refracting_body(*body, 1.6),) * parts, bands(parts), places, stone2room)


def test_a_plate_is_all_window():
    """What comes back from within a plate is R0·(1 − R0)² / (1 − R0²), all mirrored at its back."""
    figures = light_figures(face(box(2.0, 2.0, 0.4)))
    once = ((1.6 - 1.0) / (1.6 + 1.0)) ** 2
    assert figures.light_return == pytest.approx(once * (1 - once) ** 2 / (1 - once**2), abs=1e-4)
    assert figures.window == 1.0
    assert figures.extinction == 0.0


def test_the_brilliant_returns_what_its_pictures_show():
    body, _ = stated_brilliant()
    seen = face(body)
    light = incoming_light(seen, SKY)
    clear = dye_of([Sample((1.0, 1.0, 1.0), 1.0)])
    white = coloured(seen, light, everywhere(), clear, clear)[seen.hit]
    np.testing.assert_allclose(white, white[:, :1] * np.ones(3), atol=1e-9)
    assert light_figures(seen).light_return == pytest.approx(white.mean(), abs=1e-9)
    assert light_figures(seen).window < 0.02
    assert 0.03 < gloss(seen, SKY)[seen.hit].mean() < 0.2


def test_bands_of_one_index_add_up_to_the_whole():
    body, _ = stated_brilliant()
    one, three = face(body, 500), face(body, 500, parts=3)
    colours = [
        coloured(seen, incoming_light(seen, SKY), everywhere(), VIOLET, VIOLET)
        for seen in (one, three)
    ]
    np.testing.assert_allclose(colours[0], colours[1], atol=1e-3)


def test_a_stone_of_one_colour_shows_that_alone():
    body, points = stated_brilliant()
    seen = face(body)
    ready = RecolouredFace.of(seen, incoming_light(seen, SKY)[0], VIOLET, YELLOW)
    beyond = [plane_form(points, 20.0, 50.0, offset) for offset in (-1.01, 1.01)]
    every, none = figures_of(ready, beyond)
    assert every.share == pytest.approx(1.0)
    assert every.balance_of_ends == pytest.approx(1.0)
    assert none.share == pytest.approx(0.0, abs=1e-12)


def test_the_two_colours_share_the_face():
    """Named the other way round, a place's share is what is left of 1."""
    body, points = stated_brilliant()
    seen, form = face(body), plane_form(points, 10.0, 30.0, 0.2)
    light = incoming_light(seen, SKY)
    one = coloured(seen, light, form, VIOLET, YELLOW)
    two = coloured(seen, light, -form, YELLOW, VIOLET)
    np.testing.assert_allclose(one, two, atol=1e-9)
    violet, yellow = (coloured(seen, light, everywhere(), dye, dye) for dye in (VIOLET, YELLOW))
    shares, lit_places = place_shares(one, violet, yellow)
    others, _ = place_shares(one, yellow, violet)
    assert lit_places[seen.hit].mean() > 0.9
    np.testing.assert_allclose((shares + others)[lit_places], 1.0, atol=1e-9)


def test_mirrors_of_a_symmetric_stone_mirror_its_figures():
    """A boundary across the middle, turned round: the ends change places. Square to the axis: both
    ends and both halves show the same."""
    body, points = stated_brilliant()
    seen = face(body, 30_000)
    ready = RecolouredFace.of(seen, incoming_light(seen, SKY)[0], VIOLET, YELLOW)
    forms = [plane_form(points, *way) for way in ((0.0, 0.0, 0.0), (0.0, 180.0, 0.0))]
    one, other = figures_of(ready, forms)
    assert one.ends == pytest.approx(other.ends[::-1], abs=0.01)
    assert one.ends[0] > one.ends[1] + 0.05
    assert one.balance_of_halves == pytest.approx(1.0, abs=0.02)
    level = ready.figures(plane_form(points, 90.0, 0.0, -0.2))
    assert level.balance_of_ends == pytest.approx(1.0, abs=0.03)
    assert level.balance_of_halves == pytest.approx(1.0, abs=0.03)


def test_rocking_turns_the_stone_and_leaves_the_light():
    """A plate turned by 20 degrees mirrors, by its gloss, what lies 40 degrees from straight up."""
    seen = face(box(4.0, 4.0, 0.2), 100, rocked(20.0, 0.0))
    ways = seen.paths[0].mirrored_direction[seen.hit] @ seen.stone2room.T
    np.testing.assert_allclose(ways[:, 2], np.cos(np.radians(40.0)), atol=1e-12)
    assert (ways[:, 1] < 0.0).all()  # right-handed about x: the table leans to the foot


def test_the_recoloured_face_is_the_coloured_one():
    body, points = stated_brilliant()
    seen, form = face(body, 800), plane_form(points, 35.0, 10.0, -0.1)
    light = incoming_light(seen, SKY)
    ready = RecolouredFace.of(seen, light[0], VIOLET, YELLOW)
    colours = coloured(seen, light, form, VIOLET, YELLOW)
    np.testing.assert_allclose(ready.colours(form), colours, rtol=0, atol=1e-12)
    plain = zone_figures(seen, colours, ready.towards, ready.away)
    assert ready.figures(form).share == pytest.approx(plain.share, abs=1e-12)
    assert ready.figures(form).ends == pytest.approx(plain.ends, abs=1e-12)


def test_a_crystal_of_one_colour_all_round_is_a_stone_of_that_colour():
    body, points = stated_brilliant()
    seen, form = face(body, 300, parts=3), plane_form(points, 35.0, 10.0, -0.1)
    light = incoming_light(seen, SKY)
    plain = coloured(seen, light, form, VIOLET, YELLOW)
    axes = Rotation.random(random_state=1).as_matrix()
    crystal = coloured_crystal(seen, light, form, 3 * (VIOLET,), 3 * (YELLOW,), axes)
    np.testing.assert_allclose(crystal, plain, atol=1e-3)


@pytest.mark.parametrize("rock", [0.0, 35.0])
@pytest.mark.parametrize("lean", [0.0, 30.0, 54.7, 90.0])
def test_a_plate_shows_by_the_angle_of_light_and_axis(lean, rock):
    """Light at an angle t to the axis loses (1 + cos²t)/2 of the loss across it and sin²t/2 of that
    along it. Light from below alone shows through a plate (1 − R)²·a / (1 − (R·a)²), a what is left
    of one leg: the axis leans square to the plane of the light, so that all legs lie alike to it.
    """
    t = np.radians(lean)
    axis, other = np.array([np.sin(t), 0.0, np.cos(t)]), np.array([0.0, 1.0, 0.0])
    axes = np.array([np.cross(other, axis), other, axis])
    seen = face(box(60.0, 60.0, 0.8), 50, rocked(rock, 0.0))
    below = tuple(paths.weight * (paths.leaving[:, 2] < 0.0) for paths in seen.paths)
    got = coloured_crystal(seen, below, everywhere(), *2 * ((VIOLET, VIOLET, YELLOW),), axes)
    inside = np.arcsin(np.sin(np.radians(rock)) / 1.6)
    along = (np.cos(inside) * np.cos(t)) ** 2
    mean = VIOLET.per_mm * (1.0 + along) / 2.0 + YELLOW.per_mm * (1.0 - along) / 2.0
    left = np.exp(-0.8 / np.cos(inside) * mean)
    once = mirrored_share(1.6, np.radians(rock))
    through = (1.0 - once) ** 2 * left / (1.0 - (once * left) ** 2)
    assert seen.hit.all()
    np.testing.assert_allclose(got, np.tile(through @ rgb_weights(), (50, 1)), atol=1e-4)


def test_pixels_are_square_and_run_from_the_top_left():
    places = pixel_centres(np.array([-2.0, -1.0]), np.array([2.0, 1.0]), 4)
    np.testing.assert_allclose(places[0], [-1.5, 1.5])
    np.testing.assert_allclose(places[1], [-0.5, 1.5])
    np.testing.assert_allclose(places[-1], [1.5, -1.5])
