"""Volumes of solids with closed forms (Archimedes; Euclid, Elements XII), through every format,
and against trimesh's own volume."""

import math
from pathlib import Path

import numpy as np
import pytest
import trimesh

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
]


@pytest.mark.parametrize("solid", SOLIDS)
@pytest.mark.parametrize(("ending", "how", "relative"), FORMATS)
def test_closed_forms_through_every_format(
    solid: str, ending: str, how: dict[str, str], relative: float, tmp_path: Path
) -> None:
    """Written by trimesh, which keeps single precision in STL and PLY."""
    mesh, volume_mm3 = SOLIDS[solid]
    path = tmp_path / f"solid.{ending}"
    mesh.export(path, **({"file_type": ending} | how))
    rough = load_rough(path, rough_table={"material": "quartz"})
    assert rough.volume_mm3 == pytest.approx(volume_mm3, rel=relative)
    # 1 carat is 0.2 g exactly (4th General Conference on Weights and Measures, 1907)
    assert rough.carat == pytest.approx(volume_mm3 * rough.material.sg / 1000.0 / 0.2, rel=relative)


@pytest.mark.parametrize("subdivisions", [3, 5])
def test_volume_agrees_with_another_library_and_nears_the_ball(
    subdivisions: int, tmp_path: Path
) -> None:
    mesh = trimesh.creation.icosphere(subdivisions, 7.0)
    mesh.apply_translation([300.0, -200.0, 100.0])
    mesh.export(tmp_path / "ball.obj", digits=15)
    rough = load_rough(tmp_path / "ball.obj")
    assert rough.volume_mm3 == pytest.approx(mesh.volume, rel=1e-10)
    ball = 4.0 / 3.0 * math.pi * 7.0**3
    # 1.66% below for the 1,280-triangle ball at subdivision 3; a quarter of it each step further
    assert 0.0 < 1.0 - rough.volume_mm3 / ball < 0.02 / 4.0 ** (subdivisions - 3)
