"""Ray paths against closed forms, tables reckoned elsewhere, and a body stated in full."""

import numpy as np
import pytest
from optics_bodies import box, brightness, corner, mirrored_share, roof, stated_brilliant
from scipy.integrate import quad

from optimizer.mesh import Floats
from optimizer.optics.kernels.rays import reflectance
from optimizer.optics.paths import refracting_body, trace

DOWN = np.array([[0.0, 0.0, -1.0]])
UP = -DOWN[0]
INDICES = (1.434, 1.544, 1.577, 1.762, 2.150, 2.417)

# Snell's law and Fresnel's equations, unpolarised light (any textbook of optics, such as Born and
# Wolf, Principles of Optics, section 1.5), reckoned apart from this program to the digits shown:
# index, at right angles, critical and Brewster's angle in degrees, at 30°, 60° and 80°.
FRESNEL = (
    (1.434, 0.031793, 44.2148, 55.1100, 0.033160, 0.077972, 0.375073),
    (1.544, 0.045726, 40.3660, 57.0701, 0.047335, 0.096379, 0.394542),
    (1.577, 0.050133, 39.3544, 57.6206, 0.051797, 0.101638, 0.398999),
    (1.762, 0.076114, 34.5786, 60.4235, 0.077961, 0.129290, 0.416353),
    (2.150, 0.133283, 27.7177, 65.0561, 0.135033, 0.180108, 0.430711),
    (2.417, 0.171969, 24.4397, 67.5234, 0.173460, 0.211261, 0.433315),
)


@pytest.mark.parametrize("row", FRESNEL, ids=lambda row: f"n {row[0]}")
def test_snell_and_fresnel(row):
    index, straight, critical, brewster, *slanting = row
    assert mirrored_share(index, 0.0) == pytest.approx(straight, abs=5e-7)
    within, beyond = (np.cos(np.radians(critical + d)) for d in (-1e-4, 1e-4))
    assert reflectance(within, index, 1.0)[0] < 1.0
    assert reflectance(beyond, index, 1.0) == (1.0, 0.0)
    # At Brewster's angle the light mirrored is polarised: one of its two halves is gone.
    half = 0.5 * ((index**2 - 1.0) / (index**2 + 1.0)) ** 2
    assert mirrored_share(index, np.radians(brewster)) == pytest.approx(half, abs=5e-7)
    shares = [mirrored_share(index, np.radians(angle)) for angle in (30.0, 60.0, 80.0)]
    np.testing.assert_allclose(shares, slanting, atol=5e-7)


# A ray square to the face it enters, surroundings 1 all round. The share a = exp(-σL) is left after
# each crossing, of which R0 goes on: R0 + (1 - R0)²·a / (1 - R0·a), a geometric series.
BODIES = {
    "slab": (box(8.0, 6.0, 5.0), [0.3, 0.4, 10.0], 5.0, 1.0),
    "roof prism": (roof(10.0, 4.0), [0.03, 0.4, 1.0], 8.0, np.sqrt(2.0)),  # along its hypotenuse
    "corner": (corner(3.0), [0.03, 0.4, 1.0], 6.0, np.sqrt(1.5)),  # twice its depth
}  # and from which index on all light is mirrored inside
CASES = [(name, index) for name, body in BODIES.items() for index in INDICES if index > body[-1]]


@pytest.mark.parametrize("absorption", [0.0, 0.05, 0.3])
@pytest.mark.parametrize(("name", "index"), CASES)
def test_slab_prism_and_corner_as_the_series_has_it(name, index, absorption):
    body, at, crossing, _ = BODIES[name]
    paths = trace(refracting_body(*body, index), np.array([at]), DOWN, least=1e-12)
    straight = ((index - 1.0) / (index + 1.0)) ** 2
    share = np.exp(-absorption * crossing)
    series = straight + (1.0 - straight) ** 2 * share / (1.0 - straight * share)
    assert brightness(paths, absorption)[0] == pytest.approx(series, abs=1e-9)


# The body and its five figures: rays from straight above over the girdle's outline, sky of radiance
# 1, dark below the horizon, first surface counted. Reckoned by a tracer written apart from this
# program and by a general physically based renderer (mitsuba 3.9.1), which agree within 0.0004.
BRILLIANT = (
    (1.544, 0.0, 0.96196),
    (1.762, 0.0, 0.96242),
    (1.762, 0.2, 0.61457),
    (2.417, 0.0, 0.91839),
    (2.417, 0.2, 0.60146),
)


@pytest.mark.parametrize(("index", "absorption", "known"), BRILLIANT)
def test_light_return_of_the_brilliant_stated_in_full(index, absorption, known):
    (normals, offsets), points = stated_brilliant()
    assert len(normals) == 57
    assert len(points) == 41
    paths = trace(refracting_body(normals, offsets, index), *_over_outline(300), least=1e-6)
    light = brightness(paths, absorption, UP)[paths.hit]
    assert light.mean() == pytest.approx(known, abs=3e-4)


# Mean over the disc of a unit sphere that takes up 0.5 per unit, surroundings 1 all round: each ray
# keeps its angle, so that the slab's series holds with a crossing of 2·cos of the refracted ray.
SPHERE = ((1.5, 0.44839758), (2.417, 0.47285090))


@pytest.mark.parametrize(("index", "known"), SPHERE)
def test_a_body_of_many_facets_comes_near_the_sphere(index, known):
    def ring(sine: float) -> float:
        share = mirrored_share(index, np.arcsin(sine))
        left = np.exp(-0.5 * 2.0 * np.sqrt(1.0 - (sine / index) ** 2))
        return 2.0 * sine * (share + (1.0 - share) ** 2 * left / (1.0 - share * left))

    assert quad(ring, 0.0, 1.0)[0] == pytest.approx(known, abs=1e-7)
    # Each facet turns a ray a little, so that some light is held in for longer than in a sphere;
    # what is missing falls about as the facets' width does, with the root of their number.
    missing = [known - _many_facets(count, index) for count in (100, 400, 1600)]
    assert 0.0 < missing[2] < 0.6 * missing[1] < 0.36 * missing[0]
    assert 2.0 * missing[2] - missing[1] == pytest.approx(0.0, abs=0.006)  # at numbers without end


def _many_facets(count: int, index: float) -> float:
    """The mean of the unit sphere's tangent planes at ``count`` even places."""
    height = 1.0 - (2.0 * np.arange(count) + 1.0) / count
    turn = np.pi * (3.0 - np.sqrt(5.0)) * np.arange(count)
    radius = np.sqrt(1.0 - height**2)
    normals = np.column_stack([radius * np.cos(turn), radius * np.sin(turn), height])
    paths = trace(refracting_body(normals, np.ones(count), index), *_over_outline(45), least=1e-4)
    return float(brightness(paths, 0.5)[paths.hit].mean())


def _over_outline(steps: int) -> tuple[Floats, Floats]:
    """Vertical rays at the places of a lattice without symmetry of its own (Roberts 2018, the
    plastic number's), so that it doesn't fall in with the stone's mirror planes."""
    plastic = 1.32471795724474602596
    k = np.arange(steps * steps)[:, None]
    at = 2.0 * ((0.5 + k * np.array([1.0 / plastic, 1.0 / plastic**2])) % 1.0) - 1.0
    origins = np.column_stack([at, np.full(len(at), 2.0)])
    return origins, np.tile(DOWN, (len(at), 1))
