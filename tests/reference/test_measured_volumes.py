"""Pieces built from readings against volumes in closed form, and against trimesh's sections."""

from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import trimesh
from scipy.integrate import quad

from optimizer.rough import load_rough
from optimizer.rough.model import Rough

ERROR_MM = 0.05
SAGITTA_MM = 0.005  # a tenth of it, as the form's page states
Load = Callable[..., Rough]


@pytest.fixture
def built(tmp_path: Path) -> Load:
    def load(readings: str, beside: str = 'material = "quartz"') -> Rough:
        path = tmp_path / "piece.toml"
        path.write_text(f"{beside}\n[measured]\nreading_error_mm = {ERROR_MM}\n{readings}\n")
        return load_rough(path)

    return load


def nearly(rough: Rough, exact: float, ball: float, directions: int = 1) -> bool:
    """Whether the mesh is smaller than the round body, by no more than its chords cut off.

    Chords of sagitta s lie 2s/3 inside on average, so a skin of area A loses at most 2As/3 for each
    direction in which it is round; and a convex body that holds a ball of radius r has
    A <= 3V/r.
    """
    most = directions * 1.01 * 2.0 * SAGITTA_MM / ball
    return exact * (1.0 - most) <= rough.volume_mm3 <= exact * (1.0 + 1e-12)


def stations(*rows: str) -> str:
    return "stations = [" + ", ".join("{ " + row + " }" for row in rows) + "]\n"


def frustum(r: float, s: float, height: float) -> float:
    return np.pi * height / 3.0 * (r * r + r * s + s * s)


def test_a_boule_of_frustums(built: Load) -> None:
    at, radii = [-3.0, 2.0, 12.0, 30.0], [4.0, 6.5, 9.0, 9.5]
    rows = [f"at_mm = {z}, diameter_mm = {2 * r}" for z, r in zip(at, radii, strict=True)]
    rough = built(f'form = "boule"\n{stations(*rows)}')
    exact = sum(frustum(radii[i], radii[i + 1], at[i + 1] - at[i]) for i in range(3))
    assert nearly(rough, exact, 9.0)


def test_a_boule_with_a_point_and_a_dome(built: Load) -> None:
    rough = built(
        'form = "boule"\nstart_end = { form = "point", height_mm = 7 }\n'
        'far_end = { form = "dome", height_mm = 5 }\n'
        + stations("at_mm = 0, diameter_mm = 12", "at_mm = 20, diameter_mm = 12")
    )
    exact = np.pi * 36.0 * (20.0 + 7.0 / 3.0 + 2.0 * 5.0 / 3.0)
    assert nearly(rough, exact, 6.0, directions=2)
    assert rough.mesh.vertices[:, 2].min() == -7.0
    assert rough.mesh.vertices[:, 2].max() == 25.0


def test_an_oval_cylinder_and_a_ball(built: Load) -> None:
    oval = "diameter_mm = 16, other_diameter_mm = 10"
    rough = built('form = "boule"\n' + stations(f"at_mm = 0, {oval}", f"at_mm = 9, {oval}"))
    assert nearly(rough, np.pi * 8.0 * 5.0 * 9.0, 4.5)
    ball = 'form = "boule"\n' + "".join(
        f'{end} = {{ form = "dome", height_mm = 8 }}\n' for end in ("start_end", "far_end")
    )
    ball += stations("at_mm = 0, diameter_mm = 16", "at_mm = 0.01, diameter_mm = 16")
    assert nearly(built(ball), np.pi * (4.0 / 3.0 * 512.0 + 64.0 * 0.01), 8.0, directions=2)


def test_the_diameters_are_found_again_on_the_mesh(built: Load) -> None:
    rows = {0.0: (9.0, 9.0), 8.0: (17.0, 16.0), 25.0: (19.0, 18.4), 40.0: (15.0, 18.2)}
    text = [
        f"at_mm = {z}, diameter_mm = {d}, other_diameter_mm = {e}" for z, (d, e) in rows.items()
    ]
    rough = built(f'form = "boule"\n{stations(*text)}')
    mesh = trimesh.Trimesh(rough.mesh.vertices, rough.mesh.faces, process=False)
    assert mesh.is_watertight
    for z, diameters in rows.items():
        cut = mesh.section([0.0, 0.0, 1.0], [0.0, 0.0, min(max(z, 1e-7), 40.0 - 1e-7)])
        extent = np.ptp(cut.vertices, axis=0)[:2]
        np.testing.assert_allclose(extent, diameters, atol=1e-5)


@pytest.mark.parametrize(("width", "thickness"), [(20.0, 10.0), (20.0, 6.0), (16.0, 12.0)])
def test_a_split_boule_is_a_segment_of_a_circle(
    width: float, thickness: float, built: Load
) -> None:
    row = f"width_mm = {width}, thickness_mm = {thickness}"
    rough = built('form = "split boule"\n' + stations(f"at_mm = 0, {row}", f"at_mm = 30, {row}"))
    # The circle through three points, by its equation rather than by the sagitta's formula.
    w = width / 2.0
    middle = np.linalg.solve([[-2 * w, 0, 1], [2 * w, 0, 1], [0, 2 * thickness, 1]],
                             [w * w, w * w, thickness**2])  # fmt: skip
    radius = np.sqrt(middle[2] + middle[0] ** 2 + middle[1] ** 2)
    below = quad(lambda y: 2 * np.sqrt(radius**2 - (y - middle[1]) ** 2), 0.0, thickness)[0]
    assert nearly(rough, 30.0 * below, thickness / 2.0)
    mesh = trimesh.Trimesh(rough.mesh.vertices, rough.mesh.faces, process=False)
    extent = mesh.section([0, 0, 1], [0, 0, 15.0]).bounds
    np.testing.assert_allclose(extent[:, 1], [0.0, thickness], atol=1e-9)
    face = next(face for face in rough.reference_faces if face.name == "split face")
    on = np.abs(rough.mesh.vertices @ face.plane.normal - face.plane.offset) < 1e-9
    assert np.ptp(rough.mesh.vertices[on][:, 0]) == pytest.approx(width, rel=1e-12)


FLATS, LENGTH = 14.0, 30.0
HEXAGON = np.sqrt(3.0) / 2.0 * FLATS**2


def test_a_hexagonal_prism_and_its_pyramids(built: Load) -> None:
    prism = f'form = "crystal"\nsection = "hexagonal"\nlength_mm = {LENGTH}\n'
    flats = f"{prism}across_flats_mm = {FLATS}\n"
    corners = f"{prism}across_corners_mm = {FLATS * 2.0 / 3.0**0.5}\n"
    for text in (flats, corners):
        assert built(text).volume_mm3 == pytest.approx(HEXAGON * LENGTH, rel=1e-12)
    pointed = built(flats + 'start_end = { form = "pyramid", height_mm = 6 }')
    assert pointed.volume_mm3 == pytest.approx(HEXAGON * (LENGTH - 6 + 2), rel=1e-12)
    # quartz: the prism and the pyramid meet at 141.8 degrees inside
    steep = built(flats + 'far_end = { form = "pyramid", angle_deg = 141.8 }')
    height = FLATS / 2.0 * np.tan(np.radians(51.8))
    expected = HEXAGON * (LENGTH - 2.0 / 3.0 * height)
    assert steep.volume_mm3 == pytest.approx(expected, rel=1e-9)
    blunt = built(flats + 'far_end = { form = "pyramid", angle_deg = 141.8, height_mm = 4 }')
    left = 1.0 - 4.0 / height
    top = height / 3.0 * (1.0 - left**3)
    assert blunt.volume_mm3 == pytest.approx(HEXAGON * (LENGTH - 4.0 + top), rel=1e-9)
    broken = built(flats + 'start_end = { form = "broken", uneven_mm = 2.5 }')
    assert broken.volume_mm3 == pytest.approx(HEXAGON * (LENGTH - 2.5), rel=1e-12)
    assert broken.mesh.vertices[:, 2].min() == pytest.approx(2.5, abs=1e-12)


def test_a_square_prism(built: Load) -> None:
    text = 'form = "crystal"\nsection = "square"\nlength_mm = 20\nacross_corners_mm = 10\n'
    ends = "".join(
        f'{end} = {{ form = "pyramid", height_mm = 3 }}\n' for end in ("start_end", "far_end")
    )
    assert built(text + ends).volume_mm3 == pytest.approx(50.0 * (14.0 + 2.0), rel=1e-12)


@pytest.mark.parametrize(("a", "b"), [(9.0, 3.0), (9.0, 0.0), (4.0, 4.0), (2.0, 7.0)])
def test_a_trigonal_prism_and_its_pyramid(a: float, b: float, built: Load) -> None:
    """A triangle of side a + 2b less three corners of side b; the pyramid layer by layer."""

    def section(one: float, other: float) -> float:
        # by distances from the axis: the triangle of the nearer faces, its corners cut
        near, far = min(one, other), max(one, other)
        corner = max(2.0 * near - far, 0.0)  # height of each triangle cut off
        return 3.0 * np.sqrt(3.0) * near**2 - 3.0 * corner**2 / np.sqrt(3.0)

    root = 2.0 * np.sqrt(3.0)
    one, other = (a + 2.0 * b) / root, (b + 2.0 * a) / root
    area = np.sqrt(3.0) / 4.0 * ((a + 2.0 * b) ** 2 - 3.0 * b**2)
    assert section(one, other) == pytest.approx(area, rel=1e-12)
    height, inner = 3.0, min(one, other)
    points = sorted({0.0, max(0.0, 2.0 * inner - max(one, other)), inner})
    cap = height / inner * sum(
        quad(lambda t: section(one - t, other - t), low, high)[0]
        for low, high in pairwise(points)
    )  # fmt: skip
    rough = built(
        'form = "crystal"\nsection = "trigonal"\n'
        f"side_mm = {a}\n"
        + (f"other_side_mm = {b}\n" if b else "")
        + f'length_mm = 25\nfar_end = {{ form = "pyramid", height_mm = {height} }}'
    )
    assert rough.volume_mm3 == pytest.approx(area * 22.0 + cap, rel=1e-9)


SIZES = "length_mm = 22\nwidth_mm = 17\nheight_mm = 11"
BOX_MM3 = 22.0 * 17.0 * 11.0


def test_a_pebble_without_a_weight_is_an_ellipsoid(built: Load) -> None:
    assert nearly(built(f'form = "pebble"\n{SIZES}'), np.pi / 6.0 * BOX_MM3, 5.5, directions=2)


@pytest.mark.parametrize("exponent", [1.5, 2.0, 3.0, 5.0])
def test_a_pebble_fills_its_weight(exponent: float, built: Load) -> None:
    """The body's volume by integrating its sections, not by the gamma function."""
    section = quad(lambda x: (1.0 - x**exponent) ** (1.0 / exponent), 0.0, 1.0)[0]
    share = section * quad(lambda z: (1.0 - z**exponent) ** (2.0 / exponent), 0.0, 1.0)[0]
    carat = share * BOX_MM3 * 2.65 / 200.0
    rough = built(f'form = "pebble"\n{SIZES}', f'material = "quartz"\nweighed_ct = {carat!r}')
    assert rough.carat == pytest.approx(carat, rel=3e-3)
    assert rough.carat < carat
    on = np.sum(np.abs(rough.mesh.vertices / [11.0, 8.5, 5.5]) ** exponent, axis=1)
    np.testing.assert_allclose(on, 1.0, rtol=1e-9)


def test_a_slab_by_the_shoelace_formula(built: Load) -> None:
    outline = [[0, 0], [21, -2], [19, 10], [10, 9], [12, 18], [-1, 20]]
    x, y = np.array(outline, float).T
    area = abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1))) / 2.0
    for points in (outline, outline[::-1], [*outline, outline[0]]):
        rough = built(f'form = "slab"\nthickness_mm = [8.0, 8.4]\noutline_mm = {points}')
        assert rough.volume_mm3 == pytest.approx(area * 8.2, rel=1e-12)
