"""Every format reads the same piece; damaged files are refused with one line, whatever is wrong."""

from pathlib import Path

import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scan_writers import ascii_stl, binary_stl, glb, obj, off, ply, threemf, with_head_ended

from optimizer.errors import InputError
from optimizer.mesh import Mesh, volume
from optimizer.rough.formats.ply import write_ply
from optimizer.rough.formats.read import read_mesh, read_scan

QUAD_OBJ = """# a unit cube with quads
v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nv 0 0 1\nv 1 0 1\nv 1 1 1\nv 0 1 1
f 4 3 2 1\nf 5 6 7 8\nf 1 2 6 5\nf 2 3 7 6\nf 3 4 8 7\nf 4 1 5 8
"""


WRITERS = {
    "ascii.stl": ascii_stl,
    "mac.stl": lambda m: ascii_stl(m).replace(b"\n", b"\r"),
    "dos.stl": lambda m: ascii_stl(m).replace(b"\n", b"\r\n"),
    "tabs.stl": lambda m: ascii_stl(m).replace(b" ", b"\t").replace(b"vertex", b"\tVERTEX"),
    "mac.ply": lambda m: ply(m, "ascii").replace(b"\n", b"\r"),
    "marked.ply": lambda m: b"\xef\xbb\xbf" + ply(m, "ascii").replace(b"\n", b"\r\n"),
    "dos_head.ply": lambda m: with_head_ended(ply(m, "binary_little_endian"), b"\r\n"),
    "mac_head.ply": lambda m: with_head_ended(ply(m, "binary_big_endian"), b"\r"),
    "mac.obj": lambda m: obj(m).replace(b"\n", b"\r"),
    "marked.obj": lambda m: b"\xef\xbb\xbf" + obj(m).replace(b"\n", b"\r\n"),
    "tabs.obj": lambda m: b"# v 1 2\n" + obj(m).replace(b" ", b"\t").replace(b"\n", b" # x\n"),
    "piece.off": off,
    "one_line.off": lambda m: off(m).replace(b"OFF\n", b"OFF ", 1),
    "remarks.off": lambda m: b"# a\n\n" + off(m).replace(b"\n", b" # b\r\n\r\n"),
    "coloured.off": lambda m: off(m, b"COFF"),
    "normals.off": lambda m: off(m, b"CNOFF", face_colour=b" 0.1 0.2 0.3"),
    "piece.glb": glb,
    "nodes.glb": lambda m: glb(m, moved=True),
    "piece.3mf": threemf,
    "components.3mf": lambda m: threemf(m, moved=True),
    "binary.stl": binary_stl,
    "ascii.ply": lambda m: ply(m, "ascii"),
    "little.ply": lambda m: ply(m, "binary_little_endian"),
    "big.ply": lambda m: ply(m, "binary_big_endian"),
    "ascii_more.ply": lambda m: ply(m, "ascii", extra=True),
    "little_more.ply": lambda m: ply(m, "binary_little_endian", extra=True),
    "big_more.ply": lambda m: ply(m, "binary_big_endian", extra=True),
    "piece.obj": obj,
    "behind.obj": lambda m: obj(m, from_behind=True),
    "UPPER.OBJ": obj,
}


@pytest.mark.parametrize("name", WRITERS)
def test_every_format_reads_the_same_triangles(name: str, box: Mesh, tmp_path: Path) -> None:
    path = tmp_path / name
    path.write_bytes(WRITERS[name](box))
    scan = read_mesh(path)
    np.testing.assert_array_equal(scan.vertices[scan.faces], box.triangles)


@pytest.mark.parametrize("kind", ["stl", "ply", "obj"])
def test_reads_what_another_library_writes(kind: str, tmp_path: Path) -> None:
    """The outside check: trimesh's writers."""
    theirs = trimesh.creation.capsule(height=5.0, radius=3.0, count=(16, 16))
    path = tmp_path / f"capsule.{kind}"
    theirs.export(path)
    scan = read_scan(path)
    assert len(scan.faces) == len(theirs.faces)
    assert volume(Mesh(scan.vertices, scan.faces)) == pytest.approx(theirs.volume, rel=1e-6)


def test_quads_are_split_and_counted(tmp_path: Path) -> None:
    path = tmp_path / "cube.obj"
    path.write_text(QUAD_OBJ)
    scan = read_scan(path)
    assert scan.polygons_split == 6
    assert volume(Mesh(scan.vertices, scan.faces)) == pytest.approx(1.0, abs=1e-15)


def test_mixed_polygons_in_binary_ply(tmp_path: Path) -> None:
    header = (
        "ply\nformat binary_big_endian 1.0\nelement vertex 5\nproperty float x\nproperty float y\n"
        "property float z\nelement face 2\nproperty list uchar uint vertex_indices\nend_header\n"
    )
    points = np.arange(15, dtype=">f4").tobytes()
    faces = b"\x03" + np.array([0, 1, 2], ">u4").tobytes()
    faces += b"\x04" + np.array([0, 2, 3, 4], ">u4").tobytes()
    path = tmp_path / "mixed.ply"
    path.write_bytes(header.encode() + points + faces)
    scan = read_scan(path)
    assert scan.faces.tolist() == [[0, 1, 2], [0, 2, 3], [0, 3, 4]]
    assert scan.polygons_split == 1


@given(
    points=arrays(
        np.float64, st.tuples(st.integers(3, 12), st.just(3)),
        elements=st.floats(allow_nan=False, allow_infinity=False),
    )
)  # fmt: skip
def test_our_ply_survives_bit_for_bit(
    points: np.ndarray, tmp_path_factory: pytest.TempPathFactory
) -> None:
    faces = np.array([[0, 1, 2], [2, 1, len(points) - 1]], np.int64)
    path = tmp_path_factory.getbasetemp() / "bits.ply"
    write_ply(path, Mesh(points, faces))
    scan = read_scan(path)
    assert scan.vertices.tobytes() == points.tobytes()
    np.testing.assert_array_equal(scan.faces, faces)


def test_our_ply_is_read_alike_by_another_library(box: Mesh, tmp_path: Path) -> None:
    """The outside check: trimesh's reader."""
    write_ply(tmp_path / "box.ply", box)
    theirs = trimesh.load_mesh(tmp_path / "box.ply", process=False)
    np.testing.assert_array_equal(theirs.vertices, box.vertices)
    np.testing.assert_array_equal(theirs.faces, box.faces)


LYING_PLY = (
    b"ply\nformat %s 1.0\nelement vertex 2000000000\nproperty double x\nproperty double y\n"
    b"property double z\nelement face 2000000000\nproperty list uchar int vertex_indices\n"
    b"end_header\n1 2 3\n4 5 6\n"
)
BAD = {
    "empty.stl": (b"", "empty"),
    "lying.stl": (bytes(80) + b"\xff\xff\xff\x7f" + bytes(100), "2,147,483,647 triangles"),
    "short.stl": (b"solid", "too few"),
    "no_triangles.stl": (bytes(84), "no triangles"),
    "cut.stl": (
        b"solid a\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\n" + b" " * 80,
        "cut short"),
    "words.stl": (
        b"solid a\nfacet normal 0 0 1\nouter loop\nvertex 0 0 zero\nvertex 1 0 0\nvertex 0 1 0\n"
        b"endloop\nendfacet\nendsolid a\n", "not a number"),
    "lying.ply": (LYING_PLY % b"binary_little_endian", "2,000,000,000 rows"),
    "lying_text.ply": (LYING_PLY % b"ascii", "2,000,000,000 rows"),
    "huge_count.ply": (
        b"ply\nformat ascii 1.0\nelement vertex " + b"9" * 5000 + b"\nend_header\n",
        "not understood"),
    "endless.ply": (b"ply\nformat ascii 1.0\n" + b"comment x\n" * 10, "no end"),
    "formatless.ply": (b"ply\nelement vertex 0\nend_header\n", "no format"),
    "strange.ply": (
        b"ply\nformat ascii 1.0\nelement vertex 1\nproperty half x\nend_header\n0\n",
        "property half x"),
    "longer.ply": (
        b"ply\nformat ascii 1.0\nelement vertex 1\nproperty float x\nproperty float y\n"
        b"property float z\nend_header\n0 0 0\n1 1 1\n", "goes on behind"),
    "strips.ply": (
        b"ply\nformat ascii 1.0\nelement vertex 1\nproperty float x\nproperty float y\n"
        b"property float z\nelement tristrips 1\nproperty list int int vertex_indices\n"
        b"end_header\n0 0 0\n1 0\n", "triangle strips"),
    "two_corners.ply": (
        b"ply\nformat ascii 1.0\nelement vertex 1\nproperty float x\nproperty float y\n"
        b"property float z\nelement face 2\nproperty list uchar int vertex_indices\n"
        b"end_header\n0 0 0\n3 0 0 0\n2 0 0\n", "face number 1, counted from 0, has fewer"),
    "flat_ended.ply": (b"solid a\n", "is no PLY file"),
    "ply_inside.stl": (b"ply\nformat ascii 1.0\nend_header\n", "holds PLY data"),
    "binary.obj": (b"v 1 2 3\0\0\0", "binary"),
    "words.obj": (b"v 1 2 3\nv 1 2 x\nv 0 0 1\nf 1 2 3\n", "not a number"),
    "short_point.obj": (b"v 1 2 3\nv 1 2\nv 0 0 1\nf 1 2 3\n", "1 of 3 point lines"),
    "short_face.obj": (b"v 1 2 3\nv 1 2 4\nf 1 2\n", "fewer than three"),
    "zero.obj": (b"v 1 2 3\nv 1 2 4\nv 0 0 1\nf 0 1 2\n", "corner 0"),
    "beyond.obj": (b"v 1 2 3\nv 1 2 4\nv 0 0 1\nf 1 2 9\n", "corner 8"),
    "before.obj": (b"v 1 2 3\nv 1 2 4\nv 0 0 1\nf -1 -2 -9\n", "names corner -"),
    "half.obj": (b"v 1 2 3\nv 1 2 4\nv 0 0 1\nf 1 2 2.5\n", "names an impossible corner"),
    "back.obj": (b"v 1 2 3\nv 1 2 4\nv 0 0 1\nf -1 -2 1e99\n", "an impossible corner"),
    "faceless.obj": (b"v 1 2 3\n", "no triangles"),
    "nan.obj": (b"v 1 2 3\nv nan 2 4\nv 0 inf 1\nf 1 2 3\n", "finite numbers (2 are not"),
    "piece.pcd": (b"1 2 3\n", "no scan format"),
    "piece": (b"1 2 3\n", "no ending that tells the scan format"),
    "wide.obj": (b"\xff\xfev\0 \0", "UTF-16"),
    "uneven.stl": (
        b"solid a\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nendloop\nendfacet\n"
        b"facet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nvertex 0 0 0\nvertex 1 0 0\n"
        b"endloop\nendfacet\nendsolid a\n", "0 of them with three corners, of 6"),
    "other.off": (b"4OFF\n1 1 0\n", "does not begin with OFF"),
    "binary.off": (b"OFF BINARY\n\0\0", "binary data"),
    "short.off": (b"OFF\n3 1 0\n0 0 0\n1 0 0\n0 1 0\n", "3 points and 1 faces but has 3 lines"),
    "long.off": (b"OFF\n3 0 0\n0 0 0\n1 0 0\n0 1 0\n3 0 1 2\n", "3 points and 0 faces but has 4"),
    "lying.off": (b"OFF\n999999999999999 999999999999999 0\n0 0 0\n", "has 1 lines"),
    "narrow.off": (b"OFF\n3 1 0\n0 0 0\n1 0\n0 1 0 0\n3 0 1 2\n", "has 3 numbers"),
    "bare.off": (b"COFF\n3 1 0\n0 0 0\n1 0 0\n0 1 0\n3 0 1 2\n", "has 6 or 7 numbers"),
    "face.off": (b"OFF\n3 1 0\n0 0 0\n1 0 0\n0 1 0\n4 0 1 2\n", "as many corners as it begins"),
    "nan_face.off": (b"OFF\n3 1 0\n0 0 0\n1 0 0\n0 1 0\nnan 0 1 2\n", "as many corners"),
    "cloud.off": (b"OFF\n3 0 0\n0 0 0\n1 0 0\n0 1 0\n", "no triangles"),
}  # fmt: skip


@pytest.mark.parametrize("name", BAD)
def test_bad_files_get_one_clear_line(name: str, tmp_path: Path) -> None:
    content, said = BAD[name]
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(InputError) as error:
        read_scan(path)
    message = str(error.value)
    assert said in message
    assert name in message
    assert "\n" not in message


def test_a_missing_file_and_a_folder_are_named(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"gone\.stl: there is no such file"):
        read_scan(tmp_path / "gone.stl")
    (tmp_path / "folder.stl").mkdir()
    with pytest.raises(InputError, match=r"folder\.stl: is a folder"):
        read_scan(tmp_path / "folder.stl")


@given(
    name=st.sampled_from(sorted(WRITERS)),
    cut=st.integers(0, 2000),
    changes=st.lists(st.tuples(st.integers(0, 2000), st.integers(0, 255)), max_size=6),
)
def test_mutated_files_are_read_or_refused(
    name: str, cut: int, changes: list[tuple[int, int]], tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Any other exception than InputError fails; so does more than one line."""
    mesh = Mesh(*(lambda s: (np.array(s.vertices), np.array(s.faces)))(trimesh.creation.box()))
    data = bytearray(WRITERS[name](mesh))
    for place, value in changes:
        data[place % len(data)] = value
    path = tmp_path_factory.getbasetemp() / f"mutated_{name}"
    path.write_bytes(bytes(data[: len(data) - cut % 200 if cut % 3 == 0 else len(data)]))
    _read_or_refuse(path)


@given(
    kind=st.sampled_from(["stl", "ply", "obj", "off", "glb", "3mf", "xyz"]),
    head=st.sampled_from(
        [
            b"",
            b"ply\n",
            b"solid x\nfacet",
            b"ply\nformat ascii 1.0\n",
            b"v 1 2 3\n",
            b"OFF\n1 1\n",
            b"glTF\2\0\0\0",
            b"PK\3\4",
            b"1 2 3\n",
        ]
    ),
    body=st.binary(max_size=400),
)
def test_random_bytes_are_read_or_refused(
    kind: str, head: bytes, body: bytes, tmp_path_factory: pytest.TempPathFactory
) -> None:
    path = tmp_path_factory.getbasetemp() / f"random.{kind}"
    path.write_bytes(head + body)
    _read_or_refuse(path)


def _read_or_refuse(path: Path) -> None:
    try:
        scan = read_scan(path)
    except InputError as error:
        assert "\n" not in str(error)  # noqa: PT017
    else:
        assert np.isfinite(scan.vertices).all()
        assert scan.faces.min(initial=0) >= 0
        assert scan.faces.max(initial=-1) < len(scan.vertices)
