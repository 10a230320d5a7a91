"""Clouds as files: columns and separators of .xyz, and PLY files without faces."""

from pathlib import Path

import numpy as np
import pytest

from optimizer.errors import InputError
from optimizer.rough.formats.read import read_mesh, read_scan

POINTS = [[1.0, 2.0, 3.0], [-4.5, 0.0, 6e-3]]
UP, RED = [0.0, 0.0, 1.0], [1.0, 0.0, 0.2]


def _text(columns: list[list[float]], between: str = " ") -> str:
    return "\n".join(between.join(map(repr, row)) for row in columns) + "\n"


@pytest.mark.parametrize("between", [" ", "\t", ",", ", ", "   "])
def test_separators(between: str, tmp_path: Path) -> None:
    (tmp_path / "a.xyz").write_text("# x y z\n\n" + _text(POINTS, between) + "// end\n")
    scan = read_scan(tmp_path / "a.xyz")
    np.testing.assert_array_equal(scan.vertices, POINTS)
    assert len(scan.faces) == 0
    assert scan.normals is None
    assert scan.colours is None
    np.testing.assert_array_equal(scan.used_points, POINTS)


@pytest.mark.parametrize(
    ("behind", "normals", "colours"),
    [
        (UP, UP, None),
        (RED, None, RED),
        ([255.0, 0.0, 51.0], None, RED),
        ([*UP, *RED], UP, RED),
        ([*UP, 255.0, 0.0, 51.0], UP, RED),
    ],
)
def test_columns(
    behind: list[float], normals: list[float] | None, colours: list[float] | None, tmp_path: Path
) -> None:
    (tmp_path / "a.xyz").write_text(_text([row + behind for row in POINTS]))
    scan = read_scan(tmp_path / "a.xyz")
    for got, wanted in ((scan.normals, normals), (scan.colours, colours)):
        assert (got is None) == (wanted is None)
        assert wanted is None or np.allclose(got, [wanted, wanted], atol=1e-15)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("1 2 3 4\n", "a line has 4 numbers; save points as x y z;"),
        ("1 2 3\n1 2\n", "a line has 2 or 3 numbers"),
        ("1,5 2,5 3,5\n", "spaces and commas both part the numbers"),
        ("x y z\n1 2 3\n", r'not a number \("x"\)'),
        ("# none\n", "holds no points"),
        ("1 2 nan\n", "finite numbers"),
        ("1 2 3 9 9 300\n", "colours run beyond 0 to 255"),
        ("1 2 3 0.5 0.5 1.5\n", "colours run beyond 0 to 1"),
    ],
)
def test_other_layouts_get_one_line(text: str, said: str, tmp_path: Path) -> None:
    (tmp_path / "a.xyz").write_text(text)
    with pytest.raises(InputError, match=said):
        read_scan(tmp_path / "a.xyz")


def test_long_runs_of_blanks_are_only_blanks(tmp_path: Path) -> None:
    """Five million of them: a pattern that looks behind each again would never end."""
    (tmp_path / "a.xyz").write_text("1,2" + " " * 5_000_000 + ",3" + "\t" * 5_000_000 + "\n")
    assert read_scan(tmp_path / "a.xyz").vertices.tolist() == [[1, 2, 3]]


@pytest.mark.parametrize("faces", ["", "element face 0\nproperty list uchar int vertex_indices\n"])
def test_a_ply_file_without_faces_is_a_cloud(faces: str, tmp_path: Path) -> None:
    head = "ply\nformat ascii 1.0\nelement vertex 2\n"
    head += "".join(f"property float {name}\n" for name in ("x", "y", "z", "nx", "ny", "nz"))
    rows = "1 2 3 0 0 1\n4 5 6 0 1 0\n"
    (tmp_path / "a.ply").write_text(head + faces + "end_header\n" + rows)
    scan = read_scan(tmp_path / "a.ply")
    assert scan.vertices.tolist() == [[1, 2, 3], [4, 5, 6]]
    assert scan.normals is not None
    assert scan.normals.tolist() == [[0, 0, 1], [0, 1, 0]]
    with pytest.raises(InputError, match="no triangles; save the scan as a mesh"):
        read_mesh(tmp_path / "a.ply")
