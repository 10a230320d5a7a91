"""Volumes of solids with closed forms (Archimedes; Euclid, Elements XII), through every format,
and against trimesh's own volume."""

import io
import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import trimesh
from scan_writers import ascii_stl, binary_stl, glb, obj, off, ply, threemf

from optimizer.mesh import Mesh
from optimizer.rough import load_rough

SOLIDS = {
    "box": (trimesh.creation.box((10.0, 8.0, 6.0)), 480.0),
    # regular octahedron of edge a: a³√2/3
    "octahedron": (
        trimesh.convex.convex_hull(10.0 * np.vstack([np.eye(3), -np.eye(3)])),
        (10.0 * math.sqrt(2.0)) ** 3 * math.sqrt(2.0) / 3.0,
    ),
    # regular n-gon prism: (n/2) r² sin(2π/n) h
    "prism": (
        trimesh.creation.cylinder(6.0, 9.0, sections=24),
        12.0 * 36.0 * math.sin(math.pi / 12.0) * 9.0,
    ),
    # regular icosahedron of circumradius 10: edge a = r/sin(2π/5), volume 5(3+√5)/12·a³
    "icosahedron": (
        trimesh.creation.icosphere(0, 10.0),
        5.0 * (3.0 + math.sqrt(5.0)) / 12.0 * (10.0 / math.sin(2.0 * math.pi / 5.0)) ** 3,
    ),
}
FORMATS = [
    ("stl", {}, 1e-6),
    ("stl", {"file_type": "stl_ascii"}, 1e-6),
    ("ply", {"encoding": "binary"}, 1e-6),
    ("ply", {"encoding": "ascii"}, 1e-6),
    ("obj", {"digits": 15}, 1e-12),
    ("off", {"digits": 15}, 1e-12),
    ("glb", {}, 1e-6),
]
# 3MF: the foot apart, which no rough file states. Millimetres to the unit: the inch is 25.4 mm
# exactly (international yard and pound agreement, 1959).
UNITS = {"um": 0.001, "mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4}
UNITS_3MF = {"um": "micron", "mm": "millimeter", "cm": "centimeter", "m": "meter", "in": "inch"}
BY_HAND = {
    "ascii.stl": ascii_stl,
    "binary.stl": binary_stl,
    "ascii.ply": lambda mesh: ply(mesh, "ascii"),
    "little.ply": lambda mesh: ply(mesh, "binary_little_endian"),
    "big.ply": lambda mesh: ply(mesh, "binary_big_endian"),
    "piece.obj": obj,
    "piece.off": off,
    "piece.glb": glb,
    "nodes.glb": lambda mesh: glb(mesh, moved=True),
    "piece.3mf": threemf,
    "components.3mf": lambda mesh: threemf(mesh, moved=True),
}


@pytest.mark.parametrize("solid", SOLIDS)
@pytest.mark.parametrize(("ending", "how", "relative"), FORMATS)
def test_closed_forms_through_every_format(
    solid: str, ending: str, how: dict[str, str], relative: float, tmp_path: Path
) -> None:
    """Written by trimesh, which keeps single precision in STL and PLY."""
    mesh, volume_mm3 = SOLIDS[solid]
    path = tmp_path / f"solid.{ending}"
    mesh.export(path, **({"file_type": ending} | how))
    rough = load_rough(path, rough_table={"material": "quartz", "unit": "mm"})
    assert rough.volume_mm3 == pytest.approx(volume_mm3, rel=relative)
    # 1 carat is 0.2 g exactly (4th General Conference on Weights and Measures, 1907)
    assert rough.carat == pytest.approx(volume_mm3 * rough.material.sg / 1000.0 / 0.2, rel=relative)


@pytest.mark.parametrize("unit", UNITS)
@pytest.mark.parametrize("file", BY_HAND)
def test_closed_forms_in_every_unit(file: str, unit: str, tmp_path: Path) -> None:
    solid, volume_mm3 = SOLIDS["icosahedron"]
    mesh = Mesh(np.array(solid.vertices) / UNITS[unit], np.array(solid.faces))
    (tmp_path / file).write_bytes(BY_HAND[file](mesh))
    rough = load_rough(tmp_path / file, unit=unit)
    assert rough.mm_per_unit == UNITS[unit]
    assert rough.volume_mm3 == pytest.approx(volume_mm3, rel=1e-6)


@pytest.mark.parametrize("unit", UNITS)
def test_a_3mf_file_brings_its_unit(unit: str, tmp_path: Path) -> None:
    solid, volume_mm3 = SOLIDS["prism"]
    mesh = Mesh(np.array(solid.vertices) / UNITS[unit], np.array(solid.faces))
    (tmp_path / "a.3mf").write_bytes(threemf(mesh, unit=UNITS_3MF[unit]))
    assert load_rough(tmp_path / "a.3mf").volume_mm3 == pytest.approx(volume_mm3, rel=1e-12)


@pytest.mark.parametrize("solid", SOLIDS)
def test_another_library_writes_and_reads_the_same_3mf(solid: str, tmp_path: Path) -> None:
    pytest.importorskip("lxml")
    pytest.importorskip("networkx")
    theirs, volume_mm3 = SOLIDS[solid]
    theirs.export(tmp_path / "theirs.3mf")
    rough = load_rough(tmp_path / "theirs.3mf")
    assert rough.volume_mm3 == pytest.approx(volume_mm3, rel=1e-12)
    for moved in (False, True):
        ours = threemf(rough.mesh, moved=moved, unit="inch")
        read = trimesh.load_scene(io.BytesIO(ours), file_type="3mf")
        assert read.units == "inch"
        np.testing.assert_allclose(read.bounds, theirs.bounds, atol=1e-12)
        assert read.to_mesh().volume == pytest.approx(volume_mm3, rel=1e-12)


@pytest.mark.parametrize("write", [glb, off], ids=["glb", "off"])
def test_another_library_reads_what_we_write_by_hand(write: Callable[..., bytes]) -> None:
    """So that the files of the tests are right, not only read back as they were written."""
    theirs, volume_mm3 = SOLIDS["prism"]
    ours = Mesh(np.array(theirs.vertices), np.array(theirs.faces))
    ways = [write(ours), glb(ours, moved=True) if write is glb else off(ours, b"COFF")]
    for data in ways:
        read = trimesh.load_scene(io.BytesIO(data), file_type=write.__name__)
        np.testing.assert_allclose(read.bounds, theirs.bounds, atol=1e-6)
        assert read.to_mesh().volume == pytest.approx(volume_mm3, rel=1e-6)


@pytest.mark.parametrize("subdivisions", [3, 4])
def test_volume_agrees_with_another_library_and_nears_the_ball(
    subdivisions: int, tmp_path: Path
) -> None:
    mesh = trimesh.creation.icosphere(subdivisions, 7.0)
    mesh.apply_translation([300.0, -200.0, 100.0])
    mesh.export(tmp_path / "ball.obj", digits=15)
    rough = load_rough(tmp_path / "ball.obj")
    assert rough.volume_mm3 == pytest.approx(mesh.volume, rel=1e-10)
    ball = 4.0 / 3.0 * math.pi * 7.0**3
    # 1.66 % below for the 1,280-triangle ball at subdivision 3; a quarter of it each step further
    assert 0.0 < 1.0 - rough.volume_mm3 / ball < 0.02 / 4.0 ** (subdivisions - 3)
