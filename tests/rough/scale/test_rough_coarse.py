"""Far from the origin numbers lack digits: said, and how many."""

from pathlib import Path

import numpy as np
import pytest
from shapes import pebble

from optimizer.mesh import Mesh
from optimizer.rough import load_rough, write_ply
from optimizer.rough.scale.coarse import coarse_error

PIECE = pebble(3, subdivisions=4)  # 2,562 points
FAR = np.array([1e6, 0.0, 0.0])


def _single(points: np.ndarray) -> np.ndarray:
    return points.astype(np.float32).astype(np.float64)


@pytest.mark.parametrize(
    ("points", "said"),
    [
        (PIECE.vertices, None),
        (_single(PIECE.vertices), None),
        (PIECE.vertices + FAR, None),  # double precision has digits enough
        (_single(PIECE.vertices + FAR), "in steps of 0.062 mm, 1,000,000 mm from"),
        (np.round(PIECE.vertices, 4), None),
        (np.round(PIECE.vertices, 1), "in steps of 0.1 mm"),
        (np.round(PIECE.vertices[:8], 0), None),  # a drawn box may well have whole corners
    ],
)
def test_steps_that_matter_are_told(points: np.ndarray, said: str | None) -> None:
    error, doubts = coarse_error(points, 1.0, 0.02)
    assert (said is None) == (not doubts) == (error == 0.0)
    assert said is None or said in doubts[0]


def test_the_steps_are_in_millimetres() -> None:
    inches = np.round(PIECE.vertices / 25.4, 2)
    error, (doubt,) = coarse_error(inches, 25.4, 0.02)
    assert "in steps of 0.25 mm" in doubt
    assert np.linalg.norm(inches * 25.4 - PIECE.vertices, axis=1).max() <= error
    assert error == pytest.approx(np.sqrt(3.0) * 0.254 / 2.0)  # all three half a step off
    assert coarse_error(inches, 25.4, 2.0) == (0.0, ())


def test_corners_that_triangles_repeat_count_once() -> None:
    """A drawn solid of 1,280 triangles has 642 corners, though its file holds 3,840."""
    drawn = pebble(3, subdivisions=3)
    corners = np.round(drawn.triangles.reshape(-1, 3), 0)
    assert len(corners) > 1000
    assert coarse_error(corners, 1.0, 0.02) == (0.0, ())


def test_a_piece_far_away_loads_and_is_doubted(tmp_path: Path) -> None:
    """Single-precision numbers at 1e6 are 2⁻⁴ apart (IEEE 754: 24 digits, 2¹⁹ < 1e6 < 2²⁰)."""
    path = tmp_path / "far.ply"
    coarse = pebble(3, radius=40.0, subdivisions=3)
    write_ply(path, Mesh(_single(coarse.vertices + FAR), coarse.faces))
    rough = load_rough(path, unit="mm")
    assert any("each point may be off by 0.031 mm" in warning for warning in rough.warnings)
    write_ply(path, Mesh(coarse.vertices + FAR, coarse.faces))
    near = load_rough(path, unit="mm")
    assert rough.scan_error_mm - near.scan_error_mm == pytest.approx(2.0**-5)
    assert not any("steps" in warning for warning in near.warnings)
    assert rough.volume_mm3 == pytest.approx(near.volume_mm3, rel=1e-4)
