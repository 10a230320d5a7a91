"""Every format reads the same piece; damaged files are refused with one line, whatever is wrong."""

from pathlib import Path

import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from optimizer.errors import InputError
from optimizer.mesh import Mesh, volume
from optimizer.rough.ply import write_ply
from optimizer.rough.scan_file import read_scan

QUAD_OBJ = """# a unit cube with quads
v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nv 0 0 1\nv 1 0 1\nv 1 1 1\nv 0 1 1
f 4 3 2 1\nf 5 6 7 8\nf 1 2 6 5\nf 2 3 7 6\nf 3 4 8 7\nf 4 1 5 8
"""


def ascii_stl(mesh: Mesh) -> bytes:
    lines = ["solid vertex facet"]  # a hostile name
    for triangle in mesh.triangles:
        lines += ["facet normal 0 0 0", "outer loop"]
        lines += ["vertex " + " ".join(repr(float(x)) for x in corner) for corner in triangle]
        lines += ["endloop", "endfacet"]
    return ("\n".join([*lines, "endsolid vertex facet"]) + "\n").encode()


def binary_stl(mesh: Mesh) -> bytes:
    rows = np.zeros(len(mesh.faces), [("n", "<f4", 3), ("c", "<f4", (3, 3)), ("x", "<u2")])
    rows["c"] = mesh.triangles
    return b"solid in name only".ljust(80) + np.uint32(len(rows)).tobytes() + rows.tobytes()


def ply(mesh: Mesh, kind: str, *, extra: bool = False) -> bytes:
    """Any of the three kinds; ``extra`` puts more properties and elements around the ones read."""
    order = ">" if kind == "binary_big_endian" else "<"
    head = [f"ply\nformat {kind} 1.0\ncomment a comment"]
    if extra:
        head.append("element lens 2\nproperty float focus\nproperty list uchar short marks")
    head.append(f"element vertex {len(mesh.vertices)}")
    head.append("property double x\nproperty double y\nproperty double z")
    head += ["property uchar red"] if extra else []
    head.append(f"element face {len(mesh.faces)}\nproperty list uchar int vertex_index")
    head += ["property float quality"] if extra else []
    head.append("end_header\n")
    out = "\n".join(head).encode()

    def put(value: float, code: str) -> bytes:
        if kind == "ascii":
            return (repr(float(value)) if code[0] == "f" else str(int(value))).encode() + b" "
        return np.array(value, order + code).tobytes()

    end = b"\n" if kind == "ascii" else b""
    if extra:
        out += put(1.5, "f4") + put(2, "u1") + put(7, "i2") + put(8, "i2") + end
        out += put(2.5, "f4") + put(0, "u1") + end
    for vertex in mesh.vertices:
        out += b"".join(put(x, "f8") for x in vertex) + (put(9, "u1") if extra else b"") + end
    for face in mesh.faces:
        out += put(3, "u1") + b"".join(put(i, "i4") for i in face)
        out += (put(0.5, "f4") if extra else b"") + end
    return out


def obj(mesh: Mesh, *, from_behind: bool = False) -> bytes:
    lines = [f"v {x!r} {y!r} {z!r}" for x, y, z in mesh.vertices.tolist()]
    lines += ["vt 0.5 0.5", "vn 0 0 1", "g group", "usemtl none"]
    back = len(mesh.vertices) if from_behind else -1  # from behind, -1 is the last point
    lines += ["f " + " ".join(f"{i - back}/1/1" for i in face) for face in mesh.faces.tolist()]
    return ("\n".join(lines) + "\n").encode()


WRITERS = {
    "ascii.stl": ascii_stl,
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
    scan = read_scan(path)
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
    "points.ply": (
        b"ply\nformat ascii 1.0\nelement vertex 1\nproperty float x\nproperty float y\n"
        b"property float z\nend_header\n0 0 0\n", "no triangles"),
    "flat_ended.ply": (b"solid a\n", "does not begin"),
    "ply_inside.stl": (b"ply\nformat ascii 1.0\nend_header\n", "holds PLY data"),
    "binary.obj": (b"v 1 2 3\0\0\0", "binary"),
    "words.obj": (b"v 1 2 3\nv 1 2 x\nv 0 0 1\nf 1 2 3\n", "not a number"),
    "short_point.obj": (b"v 1 2 3\nv 1 2\nv 0 0 1\nf 1 2 3\n", "1 of 3 point lines"),
    "short_face.obj": (b"v 1 2 3\nv 1 2 4\nf 1 2\n", "fewer than three"),
    "zero.obj": (b"v 1 2 3\nv 1 2 4\nv 0 0 1\nf 0 1 2\n", "corner 0"),
    "beyond.obj": (b"v 1 2 3\nv 1 2 4\nv 0 0 1\nf 1 2 9\n", "corner 8"),
    "before.obj": (b"v 1 2 3\nv 1 2 4\nv 0 0 1\nf -1 -2 -9\n", "names corner -"),
    "faceless.obj": (b"v 1 2 3\n", "no triangles"),
    "nan.obj": (b"v 1 2 3\nv nan 2 4\nv 0 inf 1\nf 1 2 3\n", "finite numbers (2 are not"),
    "piece.xyz": (b"1 2 3\n", "no scan format"),
    "piece": (b"1 2 3\n", "no scan format"),
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
    kind=st.sampled_from(["stl", "ply", "obj"]),
    head=st.sampled_from(
        [b"", b"ply\n", b"solid x\nfacet", b"ply\nformat ascii 1.0\n", b"v 1 2 3\n"]
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
        assert scan.faces.min() >= 0
        assert scan.faces.max() < len(scan.vertices)
