"""Pictures of our own designs beside those of a general physically based renderer (mitsuba)."""

import platform
import sys

import numpy as np
import pytest

from optimizer.design import build_body, load_design
from optimizer.design.model import Body
from optimizer.mesh import Floats
from optimizer.optics.eye import frame_of, pixel_centres, rays_at, rocked
from optimizer.optics.paths import refracting_body, trace

if (sys.platform, platform.machine()) != ("linux", "x86_64"):
    pytest.importorskip("mitsuba")  # the test extra brings it on Linux x86-64 alone
from optics_bodies import brightness
from renderer import rendered

# The renderer's noise is then below 0.002 of the mean, and costs less than 0.003 of correlation.
ACROSS, FINER, SAMPLES = 16, 10, 1024
DESIGNS = ("round-brilliant", "cut-corner-rectangle", "pear")
INDICES = (1.544, 1.762, 2.15)  # quartz, corundum, cubic zirconia
TILTS = ((0.0, 0.0), (12.0, -7.0))


CASES = [  # either tilt both clear and absorbing
    (design, index, TILTS[(i + j) % 2], 0.5 * (i % 2))
    for i, design in enumerate(DESIGNS)
    for j, index in enumerate(INDICES)
]


def picture(body: Body, index: float, absorption: float, stone2room: Floats, half: float) -> Floats:
    """Radiance (ACROSS, ACROSS) as ``rendered`` gives it, each dot the mean of FINER² places, moved
    at random within their squares so that no row of them runs along an edge."""
    places = pixel_centres(np.array([-half, -half]), np.array([half, half]), ACROSS * FINER)
    off = np.random.default_rng(5).uniform(-0.5, 0.5, places.shape)
    places += 2.0 * half / (ACROSS * FINER) * off
    rays = rays_at(places, stone2room, 4.0)
    paths = trace(refracting_body(body.normals, body.offsets_at(1.0), index), *rays, least=1e-6)
    seen = brightness(paths, absorption, stone2room[2])
    return seen.reshape(ACROSS, FINER, ACROSS, FINER).mean(axis=(1, 3))


@pytest.mark.parametrize(("design", "index", "tilt", "absorption"), CASES)
def test_the_renderer_shows_the_same_stone(design, index, tilt, absorption, tmp_path):
    body, turned = build_body(load_design(design)), rocked(*tilt)
    half = float(np.abs(frame_of(body.vertices_at(1.0), turned)).max())
    ours = picture(body, index, absorption, turned, half)
    theirs = rendered(
        body.mesh_at(1.0), turned, index, absorption, tmp_path,
        half=half, across=ACROSS, samples=SAMPLES,
    )  # fmt: skip
    assert ours.mean() == pytest.approx(theirs.mean(), rel=0.01)
    assert np.corrcoef(ours.ravel(), theirs.ravel())[0, 1] > 0.99


@pytest.mark.parametrize("pavilion", [38.5, 42.5])  # critical: 40.4
def test_either_side_of_the_critical_angle(pavilion, tmp_path):
    body = build_body(load_design("round-brilliant"), {"pavilion": pavilion})
    upright, quartz = np.eye(3), INDICES[0]
    for half, across, near in ((0.5, ACROSS, 0.01), (0.1, 8, 0.02)):  # whole, within the table
        theirs = rendered(
            body.mesh_at(1.0), upright, quartz, 0.0, tmp_path,
            half=half, across=across, samples=SAMPLES,
        )  # fmt: skip
        ours = picture(body, quartz, 0.0, upright, half)
        assert ours.mean() == pytest.approx(theirs.mean(), rel=near)
    assert (theirs < 0.5).all() if pavilion < 40.4 else (theirs > 0.5).all()  # a window, or none
