"""What must not change: the solid under motion, scale, units, format and triangle order."""

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapes import all_rough, moved, random_motion, scaled

from optimizer.mesh import Mesh, volume
from optimizer.rough import load_rough, write_ply
from optimizer.rough.formats.scan import Scan
from optimizer.rough.repair.solidify import make_solid

PIECES = all_rough(4)


def save(mesh: Mesh, folder: Path) -> Path:
    path = folder / "piece.ply"
    write_ply(path, mesh)
    return path


@pytest.mark.parametrize("name", PIECES)
def test_every_kind_of_rough_loads_from_shuffled_soup(name: str) -> None:
    """As from STL: three corners a triangle, in any order, some turned; one body comes out."""
    piece = PIECES[name]
    rng = np.random.default_rng(11)
    faces = piece.faces[rng.permutation(len(piece.faces))]
    turned = rng.random(len(faces)) < 0.2
    faces[turned] = faces[turned][:, ::-1]
    soup = piece.vertices[faces].reshape(-1, 3)
    solid = make_solid(Scan(soup, np.arange(len(soup)).reshape(-1, 3)), 1.0, name)
    assert len(solid.mesh.vertices) == len(piece.vertices)
    assert len(solid.mesh.faces) == len(piece.faces)
    assert volume(solid.mesh) == pytest.approx(volume(piece), rel=1e-12)
    assert volume(solid.mesh) > 0.0
    repairs = [repair.sentence for repair in solid.repairs]
    assert not any("duplicate vertices" in repair for repair in repairs)  # as STL has them
    assert any(f"{turned.sum():,} triangle" in r for r in repairs) == bool(turned.any())


@given(seed=st.integers(0, 10**6), scale=st.floats(0.4, 4.0), name=st.sampled_from(sorted(PIECES)))
def test_volume_follows_motion_scale_and_units(
    seed: int, scale: float, name: str, tmp_path_factory: pytest.TempPathFactory
) -> None:
    rotation, shift = random_motion(np.random.default_rng(seed))
    piece = PIECES[name]
    changed = moved(scaled(piece, scale), rotation, shift)
    folder = tmp_path_factory.getbasetemp()
    in_mm = load_rough(save(changed, folder), unit="mm")
    assert in_mm.volume_mm3 == pytest.approx(scale**3 * volume(piece), rel=1e-9)
    in_inches = load_rough(save(scaled(changed, 1.0 / 25.4), folder), unit="in")
    assert in_inches.volume_mm3 == pytest.approx(in_mm.volume_mm3, rel=1e-9)
    np.testing.assert_allclose(in_inches.mesh.vertices, in_mm.mesh.vertices, atol=1e-9)


@pytest.mark.parametrize("name", PIECES)
def test_loading_what_was_written_is_the_end_of_it(name: str, tmp_path: Path) -> None:
    """A loaded piece, written and loaded again, is the same bit for bit and needs no mending."""
    first = load_rough(save(PIECES[name], tmp_path), unit="mm")
    again = load_rough(save(first.mesh, tmp_path), unit="mm")
    assert again.mesh.vertices.tobytes() == first.mesh.vertices.tobytes()
    np.testing.assert_array_equal(again.mesh.faces, first.mesh.faces)
    assert again.repairs == ()


def test_reading_the_data_model_loads_nothing_heavy() -> None:
    heavy = ("numba", "scipy", "open3d", "manifold3d", "pydantic")
    code = f"import sys, optimizer.rough.model; print([m for m in {heavy} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
