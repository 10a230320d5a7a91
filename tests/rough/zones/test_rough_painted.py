"""Colour boundaries found on painted scans, against what they were painted by."""

from pathlib import Path

import numpy as np
import pytest
import shapes
from scipy.spatial.transform import Rotation

from optimizer.colours import as_hex, decoded, from_hex, lab
from optimizer.errors import InputError
from optimizer.mesh import Floats, Mesh, Plane, volume
from optimizer.rough import describe, load_rough
from optimizer.rough.flats.named_faces import NamedFaces
from optimizer.rough.formats.read import read_scan
from optimizer.rough.model import Ball, Boundary, ConvexRoom, Paint, Rough
from optimizer.rough.zones.boundary import heights
from optimizer.rough.zones.painted import zone_of_colours
from optimizer.rough.zones.table import ZoneTable
from optimizer.rough.zones.two_colours import two_colours
from optimizer.trade.materials import load_material

SCAN_NOISE, SOFT_BORDER = 0.02, 0.3  # mm
COLOUR_NOISE, SHADING = 0.05, 0.35  # of the brightest
VIOLET, YELLOW = np.array([0.48, 0.31, 0.64]), np.array([0.85, 0.77, 0.45])
CORAL = Path(__file__).parents[3] / "../shared/meshes/05_coral_mcap.ply"


def painted(boundary: Boundary, seed: int, subdivisions: int = 6) -> Rough:
    """A pebble of some 20 mm, 0.2 mm from point to point, as a scanner with a camera sees it:
    noise on place and colour, a border that is not sharp, light from one side."""
    rng = np.random.default_rng(seed)
    true = shapes.pebble(seed, 10.0, subdivisions, 0.0)
    share = 0.5 * (1.0 + np.tanh(heights(boundary, true.vertices) / (0.5 * SOFT_BORDER)))
    light = np.array([0.3, -0.5, 0.8]) / np.linalg.norm([0.3, -0.5, 0.8])
    out = true.vertices / np.linalg.norm(true.vertices, axis=1)[:, None]
    lit = 1.0 - SHADING * (0.5 - 0.5 * out @ light)
    colours = (share[:, None] * VIOLET + (1.0 - share)[:, None] * YELLOW) * lit[:, None]
    colours += rng.normal(0.0, COLOUR_NOISE, colours.shape)
    colours = np.round(np.clip(colours, 0.0, 1.0) * 255.0) / 255.0
    mesh = Mesh(true.vertices + rng.normal(0.0, SCAN_NOISE, true.vertices.shape), true.faces)
    return Rough(
        "painted", mesh, 1.0, True, (), (), load_material("quartz"), None, SCAN_NOISE, (), (),
        None, volume(mesh), paint=Paint(mesh.vertices, colours),
    )  # fmt: skip


def asked(shape: str) -> ZoneTable:
    return ZoneTable.model_validate({
        "name": "split", "from_colours": True, "shape": shape,
        "towards": {"colour": "violet", "srgb": "#7a4fa3"},
        "away": {"colour": "yellow", "srgb": "#d9c473"},
    })  # fmt: skip


def way(seed: int) -> Floats:
    return np.ascontiguousarray(Rotation.random(random_state=seed).as_matrix()[0])


def degrees_between(one: Floats, other: Floats) -> float:
    return float(np.degrees(np.arctan2(np.linalg.norm(np.cross(one, other)), one @ other)))


@pytest.mark.parametrize("seed", range(4))
def test_a_painted_plane_is_found_within_half_a_degree_and_a_tenth_of_a_mm(seed: int) -> None:
    true = Plane(way(seed), float(np.random.default_rng(seed).uniform(-4.0, 4.0)))
    rough = painted(true, seed)
    zone = zone_of_colours(rough, asked("plane"), NamedFaces({}))
    assert degrees_between(zone.plane.normal, true.normal) < 0.5
    crossing = rough.mesh.vertices[np.abs(heights(true, rough.mesh.vertices)) < 0.3]
    assert np.abs(heights(zone.plane, crossing) - heights(true, crossing)).max() < 0.1
    assert zone.fit is not None
    assert zone.fit.rms_mm < 0.1
    assert 0.0 < (zone.fit.wrong_percent or 0.0) < 1.0
    assert zone.towards.srgb == "#7a4fa3"


@pytest.mark.parametrize("seed", range(2))
def test_painted_bands_and_balls_are_found(seed: int) -> None:
    normal = way(seed)
    band = ConvexRoom((Plane(normal, -2.0), Plane(-normal, -2.5)))
    found = zone_of_colours(painted(band, seed), asked("band"), NamedFaces({})).boundary
    assert isinstance(found, ConvexRoom)
    first, second = sorted(found.planes, key=lambda plane: -float(plane.normal @ normal))
    assert degrees_between(first.normal, normal) < 0.5
    assert first.offset == pytest.approx(-2.0, abs=0.1)
    assert second.offset == pytest.approx(-2.5, abs=0.1)
    ball = Ball(9.0 * normal, 9.0)
    seen = zone_of_colours(painted(ball, seed), asked("ball"), NamedFaces({})).boundary
    assert isinstance(seen, Ball)
    assert np.linalg.norm(seen.centre - ball.centre) < 0.1
    assert seen.radius_mm == pytest.approx(9.0, abs=0.1)


def test_the_same_scan_gives_the_same_boundary_and_the_place_says_the_side() -> None:
    true = Plane(way(7), 1.0)
    rough = painted(true, 7, 5)
    by_srgb = zone_of_colours(rough, asked("plane"), NamedFaces({}))
    stated = {"name": "split", "from_colours": True, "away": {"colour": "yellow"}}
    for side in (1.0, -1.0):
        at = {"colour": "violet", "at_mm": (20.0 * side * true.normal).tolist()}
        zone = zone_of_colours(
            rough, ZoneTable.model_validate({**stated, "towards": at}), NamedFaces({})
        )
        np.testing.assert_allclose(zone.plane.normal, side * by_srgb.plane.normal, atol=1e-9)
        assert zone.plane.offset == pytest.approx(side * by_srgb.plane.offset, abs=1e-9)
        bluer = from_hex(zone.towards.srgb)[2] > from_hex(zone.away.srgb)[2]
        assert bluer == (side > 0.0)


def test_colours_of_known_lab_values() -> None:
    """Corners of the sRGB cube; values as published with the CIE and sRGB definitions (from memory
    of the usual tables, to their two decimals)."""
    known = {
        "#ffffff": (100.0, 0.0, 0.0), "#000000": (0.0, 0.0, 0.0), "#ff0000": (53.24, 80.09, 67.20),
        "#00ff00": (87.73, -86.18, 83.18), "#0000ff": (32.30, 79.19, -107.86),
    }  # fmt: skip
    found = lab(decoded(np.array([from_hex(text) for text in known])))
    np.testing.assert_allclose(found, list(known.values()), atol=0.03)
    assert [as_hex(from_hex(text)) for text in known] == list(known)


def test_one_colour_and_shading_alone_are_refused() -> None:
    rng = np.random.default_rng(0)
    one = np.clip(VIOLET * rng.uniform(0.7, 1.0, (4000, 1)) + rng.normal(0, 0.02, (4000, 3)), 0, 1)
    with pytest.raises(ValueError, match="no two clear groups"):
        two_colours(one, np.ones(4000))
    with pytest.raises(ValueError, match="of one colour"):
        two_colours(np.tile(VIOLET, (10, 1)), np.ones(10))


@pytest.mark.skipif(not CORAL.exists(), reason="the real scans are not here")
def test_the_real_coral_has_no_two_colours_and_is_told_so() -> None:
    colours = read_scan(CORAL).colours
    assert colours is not None
    with pytest.raises(ValueError, match="no two clear groups"):
        two_colours(colours, np.ones(len(colours)))


FOUND = """
scan = "piece.ply"
unit = "mm"
material = "quartz"
scan_error_mm = 0.02

[[zones]]
name = "split"
from_colours = true
towards = { colour = "violet", srgb = "#7a4fa3" }
away = { colour = "yellow", srgb = "#d9c473" }
"""


def write_painted(path: Path, mesh: Mesh, srgb: Floats) -> None:
    head = (
        f"ply\nformat binary_little_endian 1.0\nelement vertex {len(mesh.vertices)}\n"
        "property double x\nproperty double y\nproperty double z\nproperty uchar red\n"
        "property uchar green\nproperty uchar blue\n"
        f"element face {len(mesh.faces)}\nproperty list uchar int vertex_indices\nend_header\n"
    )
    corners = np.empty(len(mesh.vertices), [("xyz", "<f8", 3), ("rgb", "u1", 3)])
    corners["xyz"], corners["rgb"] = mesh.vertices, np.round(255.0 * srgb)
    faces = np.empty(len(mesh.faces), [("n", "u1"), ("corners", "<i4", 3)])
    faces["n"], faces["corners"] = 3, mesh.faces
    path.write_bytes(head.encode() + corners.tobytes() + faces.tobytes())


def test_a_rough_file_asks_for_it_and_check_tells_how_well_it_fits(tmp_path: Path) -> None:
    true = Plane(way(1), 2.0)
    rough = painted(true, 1, 5)
    assert rough.paint is not None
    write_painted(tmp_path / "piece.ply", rough.mesh, rough.paint.srgb)
    (tmp_path / "piece.toml").write_text(FOUND)
    read = load_rough(tmp_path / "piece.toml")
    assert degrees_between(read.zones[0].plane.normal, true.normal) < 0.5
    lines = describe(read)
    assert any("found from the scan's colours: its border lies 0.0" in line for line in lines)
    assert any("look at the picture before you trust it" in line for line in lines)
    assert load_rough(tmp_path / "piece.ply").zones == ()  # only where it is asked for
    (tmp_path / "piece.toml").write_text(FOUND.replace(', srgb = "#d9c473"', ""))
    with pytest.raises(InputError, match="say which colour is which"):
        load_rough(tmp_path / "piece.toml")
    (tmp_path / "piece.toml").write_text(FOUND + "normal = [0, 0, 1]\n")
    with pytest.raises(InputError, match="is to be found from_colours: drop normal"):
        load_rough(tmp_path / "piece.toml")


def test_a_scan_without_colours_says_so(tmp_path: Path) -> None:
    from optimizer.rough import write_ply

    write_ply(tmp_path / "piece.ply", shapes.box())
    (tmp_path / "piece.toml").write_text(FOUND)
    with pytest.raises(
        InputError, match=r"the first \[\[zones\]\] is to be found from_colours, but"
    ):
        load_rough(tmp_path / "piece.toml")
