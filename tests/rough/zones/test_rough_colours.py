"""Corner points keep the colours that the scan gives them, whatever the number's type."""

from pathlib import Path

import numpy as np
import pytest

from optimizer.errors import InputError
from optimizer.mesh import Floats, Mesh
from optimizer.rough import load_rough, write_ply
from optimizer.rough.formats.read import read_scan

FULL = {"uchar": 255, "ushort": 65535, "float": 1.0, "double": 1.0}
CODES = {"uchar": "u1", "ushort": "u2", "float": "f4", "double": "f8"}


@pytest.fixture
def shares() -> Floats:
    """A colour for each corner of the box, of a kind that every type can hold."""
    shares = np.random.default_rng(3).integers(0, 2, (8, 3)).astype(float)
    shares[0], shares[1] = 0.2, 0.6  # 51 and 153 of 255
    return shares


def coloured_ply(mesh: Mesh, shares: Floats, kind: str, order: str) -> bytes:
    names = {"<": "binary_little_endian", ">": "binary_big_endian", "": "ascii"}
    head = f"ply\nformat {names[order]} 1.0\nelement vertex {len(mesh.vertices)}\n"
    head += "".join(f"property double {axis}\n" for axis in "xyz")
    head += "".join(f"property {kind} {colour}\n" for colour in ("red", "green", "blue"))
    head += f"element face {len(mesh.faces)}\nproperty list uchar int vertex_indices\nend_header\n"
    values = (np.round(shares * FULL[kind]) if FULL[kind] > 1 else shares).tolist()
    if not order:
        whole = FULL[kind] > 1
        rows = [
            " ".join(map(repr, point)) + " " + " ".join(str(int(c) if whole else c) for c in colour)
            for point, colour in zip(mesh.vertices.tolist(), values, strict=True)
        ]
        rows += [f"3 {a} {b} {c}" for a, b, c in mesh.faces.tolist()]
        return (head + "\n".join(rows) + "\n").encode()
    corners = np.zeros(len(mesh.vertices), [("p", order + "f8", 3), ("c", order + CODES[kind], 3)])
    corners["p"], corners["c"] = mesh.vertices, values
    faces = np.zeros(len(mesh.faces), [("n", "u1"), ("f", order + "i4", 3)])
    faces["n"], faces["f"] = 3, mesh.faces
    return head.encode() + corners.tobytes() + faces.tobytes()


@pytest.mark.parametrize("kind", FULL)
@pytest.mark.parametrize("order", ["<", ">", ""])
def test_ply_colours(kind: str, order: str, box: Mesh, shares: Floats, tmp_path: Path) -> None:
    path = tmp_path / "piece.ply"
    path.write_bytes(coloured_ply(box, shares, kind, order))
    scan = read_scan(path)
    assert scan.colours is not None
    np.testing.assert_allclose(scan.colours, shares, atol=1e-7)
    np.testing.assert_array_equal(scan.vertices, box.vertices)


def coloured_obj(mesh: Mesh, shares: Floats) -> str:
    rows = np.hstack([mesh.vertices, shares]).tolist()
    lines = ["v " + " ".join(map(repr, row)) for row in rows]
    lines += ["f " + " ".join(str(i + 1) for i in face) for face in mesh.faces.tolist()]
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_obj_colours(ending: str, box: Mesh, shares: Floats, tmp_path: Path) -> None:
    path = tmp_path / "piece.obj"
    path.write_text(coloured_obj(box, shares), newline=ending)
    scan = read_scan(path)
    np.testing.assert_array_equal(scan.colours, shares)
    np.testing.assert_array_equal(scan.vertices, box.vertices)


def test_colours_of_some_points_alone_are_not_read(
    box: Mesh, shares: Floats, tmp_path: Path
) -> None:
    lines = coloured_obj(box, shares).splitlines()
    lines[3] = " ".join(lines[3].split()[:4])
    (tmp_path / "piece.obj").write_text("\n".join(lines))
    assert read_scan(tmp_path / "piece.obj").colours is None


def test_colours_beyond_white_are_refused(box: Mesh, shares: Floats, tmp_path: Path) -> None:
    (tmp_path / "piece.obj").write_text(coloured_obj(box, shares * 255.0))
    with pytest.raises(InputError, match=r"piece\.obj: .* colours run beyond 0 to 1; save"):
        read_scan(tmp_path / "piece.obj")


def test_paint_is_in_mm_and_leaves_out_loose_points(
    box: Mesh, shares: Floats, tmp_path: Path
) -> None:
    loose = Mesh(np.vstack([[[99.0, 99.0, 99.0]], box.vertices]), box.faces + 1)
    path = tmp_path / "piece.ply"
    path.write_bytes(coloured_ply(loose, np.vstack([[[0.5] * 3], shares]), "double", "<"))
    paint = load_rough(path, unit="cm").paint
    assert paint is not None
    np.testing.assert_array_equal(paint.points_mm, box.vertices * 10.0)
    np.testing.assert_array_equal(paint.srgb, shares)


def test_no_colours_no_paint(box: Mesh, tmp_path: Path) -> None:
    write_ply(tmp_path / "piece.ply", box)
    assert load_rough(tmp_path / "piece.ply").paint is None
