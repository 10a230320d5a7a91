"""Pieces and writers that the tests of the rough stage share."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import trimesh

from optimizer.mesh import Mesh
from optimizer.rough import write_ply


def _plain(shape: trimesh.Trimesh) -> Mesh:
    return Mesh(np.array(shape.vertices, float), np.array(shape.faces, np.int64))


@pytest.fixture
def box() -> Mesh:
    """10 × 8 × 6 mm away from the origin: 480 mm³ in 12 triangles on 8 vertices."""
    mesh = _plain(trimesh.creation.box((10.0, 8.0, 6.0)))
    return Mesh(mesh.vertices + np.array([20.0, -3.0, 7.0]), mesh.faces)


@pytest.fixture
def sphere() -> Callable[..., Mesh]:
    """``sphere(subdivisions, radius)`` as an icosphere."""
    return lambda subdivisions, radius=10.0: _plain(
        trimesh.creation.icosphere(subdivisions, radius)
    )


@pytest.fixture
def saved(tmp_path: Path) -> Callable[[Mesh], Path]:
    """Writes a mesh as PLY and gives its path."""

    def save(mesh: Mesh) -> Path:
        path = tmp_path / "piece.ply"
        write_ply(path, mesh)
        return path

    return save
