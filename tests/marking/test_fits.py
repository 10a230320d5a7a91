"""The page's fits against numpy and scipy: the script's functions are called in the browser."""

import json

import numpy as np
import pytest
from browser import browse
from scipy.optimize import least_squares
from shapes import icosphere, pebble, random_rotation

from optimizer.mesh import Mesh
from optimizer.view.page import page_frame, texts
from optimizer.view.skin import skin_line

RNG = np.random.default_rng(5)
TURN = random_rotation(RNG)
FAR = np.array([400.0, -250.0, 90.0])


def scattered(count, spread, noise):
    """Places about a plane square to TURN's last column."""
    local = RNG.uniform(-1, 1, (count, 3)) * [*spread, noise]
    return local @ TURN.T + FAR


PLANE = scattered(25, (9.0, 4.0), 0.05)
NEAR, DISTANT = scattered(7, (8.0, 5.0), 0.03), scattered(9, (6.0, 6.0), 0.03) + 2.5 * TURN[:, 2]
CAP = RNG.standard_normal((30, 3)) * [0.3, 0.3, 0.1] + [0, 0, 1]
BALL = FAR + 14.0 * CAP / np.linalg.norm(CAP, axis=1, keepdims=True)
BALL += 0.03 * RNG.standard_normal(BALL.shape)
LEAN = np.deg2rad(8.0)
AROUND = np.deg2rad([5.0, 61.0, 190.0, 250.0])
TAPERED = (
    np.column_stack(
        [np.cos(AROUND) * np.cos(LEAN), np.sin(AROUND) * np.cos(LEAN), np.full(4, np.sin(LEAN))]
    )
    @ TURN.T
)
PATCH = icosphere(10.0, 2)
STONE = pebble(2, 9.0, 3)


def noisy_flat():
    """A ball with all above 6 mm of its height pressed flat, 0.015 mm of noise all over."""
    ball = icosphere(10.0, 5)
    points = ball.vertices.copy()
    points[:, 2] = np.minimum(points[:, 2], 6.0)
    return Mesh((points + 0.015 * RNG.standard_normal(points.shape)) @ TURN.T, ball.faces)


PRESSED = noisy_flat()
TOP = int(np.argmax(PRESSED.triangles.mean(axis=1) @ TURN[:, 2]))

ASK = """
<script>
const said = (of) => { try { return of(); } catch (fault) { return fault.message; } };
const mesh = {
  points: Float64Array.from(given.patch.points.flat()),
  corners: Uint32Array.from(given.patch.faces.flat()),
};
const stone = {
  points: Float64Array.from(given.stone.points.flat()),
  corners: Uint32Array.from(given.stone.faces.flat()),
};
const pressed = {
  points: Float64Array.from(given.pressed.points.flat()),
  corners: Uint32Array.from(given.pressed.faces.flat()),
};
const [x, y, z] = given.way;
document.body.setAttribute("data-seen", JSON.stringify({
  plane: planeFit(given.plane), band: bandFit(given.near, given.distant),
  ball: ballFit(given.ball), tapered: prismAxis(given.tapered),
  two: prismAxis(given.tapered.slice(0, 2)), surface: surfaceFit(mesh, given.some),
  flat: flatAround(pressed, { at: meanOf(cornersOf(pressed, given.top)), face: given.top }, 20),
  line: said(() => planeFit([[0, 0, 0], [1, 1, 1], [2, 2, 2.001]])),
  few: said(() => planeFit([[0, 0, 0]])),
  parallel: said(() => prismAxis([[1, 0, 0], [-1, 0.01, 0]])),
  flatball: said(() => ballFit([[0, 0, 0], [1, 0, 0], [0, 1, 0], [1, 1, 0]])),
  skin: Array.from(skinLine(stone, (a, b, c) => x * a + y * b + z * c - 1.5)),
}));
</script>
"""
SOME = np.argsort(-PATCH.triangles.mean(axis=1)[:, 2])[:40]


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    given = {
        "plane": PLANE, "near": NEAR, "distant": DISTANT, "ball": BALL, "tapered": TAPERED,
        "some": SOME, "way": TURN[:, 0],
        "top": np.array(TOP),
        "pressed": {"points": PRESSED.vertices.tolist(), "faces": PRESSED.faces.tolist()},
        "patch": {"points": PATCH.vertices.tolist(), "faces": PATCH.faces.tolist()},
        "stone": {"points": STONE.vertices.tolist(), "faces": STONE.faces.tolist()},
    }  # fmt: skip
    text = json.dumps({k: v if isinstance(v, dict) else v.tolist() for k, v in given.items()})
    scripts = texts("optimizer.view", "view.js")
    scripts += texts("optimizer.marking", "fits.js", "pick.js") + f"const given = {text};"
    page = page_frame("fits", "", "{}", "", scripts)
    return browse(page, tmp_path_factory.mktemp("fits"), ASK)[0]


def along(one, two):
    return abs(float(np.dot(one, two)))


def test_a_plane_is_that_of_the_singular_vectors(told):
    own = PLANE - PLANE.mean(axis=0)
    normal = np.linalg.svd(own)[2][2]
    fit = told["plane"]
    assert along(fit["normal"], normal) == pytest.approx(1.0, abs=1e-12)
    assert fit["middle"] == pytest.approx(PLANE.mean(axis=0))
    assert fit["rms"] == pytest.approx(np.sqrt(np.mean((own @ normal) ** 2)))
    assert fit["worst"] == pytest.approx(np.abs(own @ normal).max())
    assert fit["spare"] == 22


def test_a_band_is_the_nearest_pair_of_parallel_planes(told):
    """scipy minimises the distances over direction and both offsets."""
    sets = [NEAR - FAR, DISTANT - FAR]

    def gaps(x):
        normal = x[:3] / np.linalg.norm(x[:3])
        return np.concatenate([points @ normal - c for points, c in zip(sets, x[3:], strict=True)])

    best = least_squares(gaps, [*TURN[:, 2], 0.0, 2.5], xtol=1e-15, ftol=1e-15, gtol=1e-15)
    normal = best.x[:3] / np.linalg.norm(best.x[:3])
    fit = told["band"]
    assert np.dot(fit["normal"], normal) == pytest.approx(1.0, abs=1e-10)
    assert np.diff(fit["offsets"]) == pytest.approx(np.diff(best.x[3:]), abs=1e-7)
    assert fit["rms"] == pytest.approx(np.sqrt(np.mean(best.fun**2)), rel=1e-9)


def test_a_ball_is_the_nearest_one(told):
    def gaps(x):
        return np.linalg.norm(BALL - FAR - x[:3], axis=1) - x[3]

    best = least_squares(gaps, [0, 0, 0, 14.0], xtol=1e-15, ftol=1e-15, gtol=1e-15)
    fit = told["ball"]
    assert fit["centre"] == pytest.approx(FAR + best.x[:3], abs=1e-6)
    assert fit["radius"] == pytest.approx(best.x[3], abs=1e-6)
    assert fit["worst"] == pytest.approx(np.abs(best.fun).max(), abs=1e-7)
    assert abs(fit["radius"] - 14.0) < 0.6  # and near the one that the places were made from


def test_the_axis_of_a_prism_and_of_one_that_tapers(told):
    assert along(told["tapered"], TURN[:, 2]) == pytest.approx(1.0, abs=1e-12)
    both = np.cross(*TAPERED[:2])
    assert along(told["two"], both / np.linalg.norm(both)) == pytest.approx(1.0, abs=1e-12)


def test_a_surface_s_plane_weighs_every_point_of_it(told):
    """Against many random points spread evenly over the same triangles."""
    rng = np.random.default_rng(1)
    corners = PATCH.triangles[SOME]
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    area = np.linalg.norm(across, axis=1) / 2.0
    share = np.sort(rng.uniform(size=(200_000, 2)), axis=1)
    weights = np.column_stack([share[:, 0], share[:, 1] - share[:, 0], 1.0 - share[:, 1]])
    which = rng.choice(len(area), len(weights), p=area / area.sum())
    points = np.einsum("ij,ijk->ik", weights, corners[which])
    normal = np.linalg.eigh(np.cov(points.T))[1][:, 0]
    fit = told["surface"]
    assert fit["area"] == pytest.approx(area.sum())
    assert fit["middle"] == pytest.approx(points.mean(axis=0), abs=0.02)
    assert along(fit["normal"], normal) > 1.0 - 1e-4
    assert fit["normal"][2] > 0.9  # outwards


def test_a_flat_place_is_found_whole_through_noise(told):
    """Closed form: a disc of radius 8 at height 6; not a triangle of the round side beyond."""
    fit = told["flat"]
    assert np.degrees(np.arccos(min(1.0, fit["normal"] @ TURN[:, 2]))) < 0.1
    assert fit["offset"] == pytest.approx(6.0, abs=0.01)
    assert fit["rms"] == pytest.approx(0.015, rel=0.2)
    assert np.pi * 7.6**2 < fit["area"] < np.pi * 8.3**2


def test_what_tells_too_little_is_refused(told):
    assert told["line"] == "The points lie on one line: add a point beside the line."
    assert told["few"] == "Click 2 more points for a plane."
    assert "parallel" in told["parallel"]
    assert "ball" in told["flatball"]


def test_lines_on_the_skin_are_those_of_the_check(told):
    """Two programs for one thing: the page's and skin_line; every end on the plane."""
    ends = np.array(told["skin"]).reshape(-1, 2, 3)
    own = skin_line(STONE, STONE.vertices @ TURN[:, 0] - 1.5)
    assert len(ends) == len(own) > 20
    assert ends @ TURN[:, 0] == pytest.approx(1.5, abs=1e-5)

    def total(lines):
        return np.linalg.norm(lines[:, 1] - lines[:, 0], axis=1).sum()

    assert total(ends) == pytest.approx(total(own), rel=1e-5)
