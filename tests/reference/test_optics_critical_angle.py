"""One design with its pavilion above and below the critical angle: what leaves, by hand.

A ray straight down through the flat table meets a pavilion main at the main's own angle a to its
normal. Mirrored, it meets the opposite main at 180° − 3a, beyond the critical angle for either, and
goes up at |180° − 4a| from straight up.
"""

import numpy as np
import pytest

from optimizer.design import build_body, load_design
from optimizer.mesh import Floats
from optimizer.optics.eye import lattice, rays_at
from optimizer.optics.face import Face, face_of
from optimizer.optics.figures import light_figures
from optimizer.optics.paths import refracting_body, trace
from optimizer.optics.shading import bands

QUARTZ = 1.544
CRITICAL = float(np.degrees(np.arcsin(1.0 / QUARTZ)))  # 40.37
BELOW, ABOVE = 38.5, 42.5
HALF = 0.1  # of a square about the axis in the table, of a stone 1 wide: mains lie all below it


def let_out(degrees: float) -> float:
    """The share of unpolarised light inside that leaves, by Fresnel's equations in their sine and
    tangent form (Born and Wolf, Principles of Optics, section 1.5)."""
    if degrees > CRITICAL:
        return 0.0
    a = np.radians(degrees)
    b = np.arcsin(QUARTZ * np.sin(a))
    s = np.sin(a - b) / np.sin(a + b)
    p = np.tan(a - b) / np.tan(a + b)
    return float(1.0 - (s**2 + p**2) / 2.0)


ENTERS = 4.0 * QUARTZ / (QUARTZ + 1.0) ** 2  # the share that goes in at right angles


def meetings(pavilion: float, places: Floats, count: int) -> tuple[Floats, Floats]:
    """Of rays straight down at ``places``: what leaves (n, count) at the first meetings inside, and
    the slope (n, count) of its way, in degrees from straight up."""
    body = build_body(load_design("round-brilliant"), {"pavilion": pavilion})
    paths = trace(
        refracting_body(body.normals, body.offsets_at(1.0), QUARTZ),
        *rays_at(places, np.eye(3), 4.0),
    )
    at = paths.start[:-1, None] + np.arange(1, count + 1)
    return paths.weight[at], np.degrees(np.arccos(np.clip(paths.leaving[at, 2], -1.0, 1.0)))


@pytest.mark.parametrize("pavilion", [BELOW, ABOVE])
def test_every_ray_through_the_table_meets_a_main_at_its_angle(pavilion):
    square = lattice(np.full(2, -HALF), np.full(2, HALF), 2000)
    leaves, slope = meetings(pavilion, square, 1)
    np.testing.assert_allclose(leaves, ENTERS * let_out(pavilion), atol=1e-9)
    if pavilion < CRITICAL:  # what leaves goes on downwards, bent to the facet
        bent = np.degrees(np.arcsin(QUARTZ * np.sin(np.radians(pavilion))))
        np.testing.assert_allclose(slope, 180.0 - (bent - pavilion), atol=1e-6)


@pytest.mark.parametrize(("pavilion", "last"), [(BELOW, 34.5), (ABOVE, 0.0)])
def test_a_ray_across_two_mains_comes_out_at_the_crown_main_or_the_table(pavilion, last):
    """``last`` is the slope of the facet where it comes out."""
    near = np.column_stack([np.linspace(0.02, 0.06, 20), np.full(20, 1e-3)])
    leaves, slope = meetings(pavilion, near, 3)
    first, way = let_out(pavilion), abs(180.0 - 4.0 * pavilion)
    wanted = [first, 0.0, (1.0 - first) * let_out(abs(way - last))]
    np.testing.assert_allclose(leaves, ENTERS * np.tile(wanted, (20, 1)), atol=1e-9)
    bent = np.degrees(np.arcsin(QUARTZ * np.sin(np.radians(way - last))))
    np.testing.assert_allclose(slope[:, 2], last + bent, atol=1e-6)


def seen(pavilion: float, half: float) -> Face:
    body = build_body(load_design("round-brilliant"), {"pavilion": pavilion})
    square = lattice(np.full(2, -half), np.full(2, half), 8000)
    quartz = refracting_body(body.normals, body.offsets_at(1.0), QUARTZ)
    return face_of((quartz,), bands(1), square, np.eye(3))


def test_the_window_opens_at_the_mains_below_the_critical_angle():
    within = [light_figures(seen(pavilion, HALF)) for pavilion in (BELOW, ABOVE)]
    assert [one.window for one in within] == [1.0, 0.0]
    assert within[0].light_return <= ENTERS * (1.0 - let_out(BELOW))
    assert within[1].light_return >= ENTERS * 0.9
    whole = [light_figures(seen(pavilion, 0.5)) for pavilion in (BELOW, ABOVE)]
    assert whole[0].window > whole[1].window + np.pi * HALF**2
    assert whole[0].light_return < whole[1].light_return
