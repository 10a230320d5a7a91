"""The lines that `check` prints: figures that can be worked out by hand."""

from collections.abc import Callable
from pathlib import Path

import pytest
from shapes import notched

from optimizer.mesh import Mesh
from optimizer.rough import describe, load_rough

TABLE = {
    "material": "quartz",
    "scan_error_mm": 0.05,
    "weighed_ct": 6.0,
    "parent": "the large crystal",
    "optic_axis": [0, 0, 2],
    "growth_axis": [0, -3, 0],
    "cleavage": [[0, 0, 1], [4, 0, 0]],
    "zones": [
        {
            "name": "split", "point_mm": [22.5, 0.0, 0.0], "normal": [3.0, 0.0, 0.0],
            "towards": {"colour": "violet"}, "away": {"colour": "yellow"},
        }
    ],
    "reference_faces": [{"name": "base", "point_mm": [0.0, 0.0, 4.0], "normal": [0, 0, -1]}],
}  # fmt: skip


@pytest.fixture
def lines(box: Mesh, saved: Callable[[Mesh], Path]) -> list[str]:
    return describe(load_rough(saved(box), rough_table=TABLE))


@pytest.mark.parametrize(
    "line",
    [
        "scan: piece.ply, 12 triangles, closed as read",
        "cut from: the large crystal",
        "unit: one number of the scan is 1 mm",
        "size along the scan's axes: 10.00 × 8.00 × 6.00 mm",
        "size along its own main axes: 10.00 × 8.00 × 6.00 mm",
        "volume: 480.00 mm³, 100.0 % of its convex hull (480.00 mm³)",
        "optic axis: (0, 0, 1) in the scan's axes",
        "growth axis: (0, -1, 0) in the scan's axes",
        "cleavage plane: square to (1, 0, 0)",
        "weight by volume: 6.360 ct as quartz of SG 2.65",  # 480 · 2.65 / 200
        "scan error: 0.05 mm, worth 0.249 ct over the whole surface",  # 376 · 0.05 · 2.65 / 200
        "weighed: 6.000 ct (by volume +6.00 %)",
        "zone split: 25.0 % of the piece is violet, the rest yellow; towards violet is (1, 0, 0)",
        "reference face base: 80.0 mm², flat to 0.000 mm rms, faces (0, 0, -1)",
        "doubtful: THE WEIGHT DOES NOT FIT: the solid weighs 6.360 ct by volume, 6.0 % more than",
    ],
)
def test_each_figure_is_said(line: str, lines: list[str]) -> None:
    assert any(said.startswith(line) for said in lines), lines


def test_repairs_are_said(box: Mesh, saved: Callable[[Mesh], Path]) -> None:
    lines = describe(load_rough(saved(Mesh(box.vertices, box.faces[:, ::-1]))))
    assert "scan: piece.ply, 12 triangles, closed once mended" in lines
    assert "mended: the surface was inside out: every triangle turned" in lines


def test_concavity_is_said(saved: Callable[[Mesh], Path]) -> None:
    rough = load_rough(saved(notched((20.0, 14.0, 12.0), depth=6.0)))
    (said,) = (line for line in describe(rough) if line.startswith("volume: "))
    assert f"{100.0 * rough.volume_mm3 / 3360.0:.1f} % of its convex hull (3360.00 mm³)" in said
    assert rough.volume_mm3 < 3360.0
