"""GLB: every kind of index and face, nodes, colours, and a line for whatever can't be read."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scan_writers import glb, glb_document, glb_of
from shapes import icosphere

from optimizer.errors import InputError
from optimizer.mesh import Mesh, volume
from optimizer.rough import load_rough
from optimizer.rough.formats.read import read_scan

Change = Callable[[dict[str, Any]], Any]


def test_corner_numbers_of_every_type(box: Mesh, tmp_path: Path) -> None:
    for code in ("<u1", "<u2", "<u4"):
        path = tmp_path / "piece.glb"
        path.write_bytes(glb_of(*glb_document(box, box.faces.reshape(-1), code=code)))
        scan = read_scan(path)
        np.testing.assert_array_equal(scan.vertices[scan.faces], box.triangles)


def test_a_tetrahedron_as_a_strip_and_as_fans(tmp_path: Path) -> None:
    """The strip 0 1 2 3 0 1 is wound all one way; three faces about a corner make a fan."""
    corners = np.array([[0, 0, 0], [6, 0, 0], [0, 6, 0], [0, 0, 6]], float)
    path = tmp_path / "piece.glb"
    none = np.empty((0, 3), np.int64)
    document, blob = glb_document(Mesh(corners, none), np.array([0, 2, 1, 3, 0, 2]), mode=5)
    path.write_bytes(glb_of(document, blob))
    scan = read_scan(path)
    assert volume(Mesh(scan.vertices, scan.faces)) == pytest.approx(36.0, rel=1e-15)
    document, blob = glb_document(Mesh(corners, none), np.array([3, 0, 1, 2, 0]), mode=6)
    path.write_bytes(glb_of(document, blob))
    assert read_scan(path).faces.tolist() == [[3, 0, 1], [3, 1, 2], [3, 2, 0]]


def test_a_strip_skips_flat_triangles_but_keeps_count(tmp_path: Path) -> None:
    """Repeated corners join strips; the turn of each triangle goes by its place in the strip."""
    corners = np.arange(18.0).reshape(6, 3)
    document, blob = glb_document(
        Mesh(corners, np.empty((0, 3), np.int64)), np.array([0, 1, 2, 2, 3, 3, 4, 5]), mode=5
    )
    (tmp_path / "a.glb").write_bytes(glb_of(document, blob))
    assert read_scan(tmp_path / "a.glb").faces.tolist() == [[0, 1, 2], [3, 5, 4]]


def test_without_corner_numbers_the_points_stand_in_order(box: Mesh, tmp_path: Path) -> None:
    soup = Mesh(box.triangles.reshape(-1, 3), np.empty((0, 3), np.int64))
    document, blob = glb_document(soup, np.zeros(1))
    del document["meshes"][0]["primitives"][0]["indices"]  # type: ignore[index]
    (tmp_path / "a.glb").write_bytes(glb_of(document, blob))
    scan = read_scan(tmp_path / "a.glb")
    np.testing.assert_array_equal(scan.vertices[scan.faces], box.triangles)


def test_rotation_scale_and_translation(box: Mesh, tmp_path: Path) -> None:
    """A quarter turn about z takes x to y: (x, y, z) becomes (5 − 3y, 2x, 4z)."""
    document, blob = glb_document(box, box.faces.reshape(-1))
    half = 0.5**0.5
    document["nodes"] = [
        {
            "mesh": 0,
            "translation": [5, 0, 0],
            "rotation": [0, 0, half, half],
            "scale": [2, 3, 4],
        }
    ]
    (tmp_path / "a.glb").write_bytes(glb_of(document, blob))
    x, y, z = box.vertices.T
    expected = np.column_stack([5 - 3 * y, 2 * x, 4 * z])
    np.testing.assert_allclose(read_scan(tmp_path / "a.glb").vertices, expected, atol=1e-12)


def test_linear_light_becomes_srgb(box: Mesh, tmp_path: Path) -> None:
    """IEC 61966-2-1: linear 0.21404 is sRGB one half, 0.0031308 the end of its straight part."""
    light = np.tile([0.2140411, 0.0031308, 1.0], (8, 1))
    document, blob = glb_document(box, box.faces.reshape(-1), colours=light)
    (tmp_path / "a.glb").write_bytes(glb_of(document, blob))
    colours = read_scan(tmp_path / "a.glb").colours
    np.testing.assert_allclose(colours, np.tile([0.5, 0.04045, 1.0], (8, 1)), atol=1e-6)


@pytest.mark.parametrize(
    ("unit", "scale", "said"),
    [
        (None, 1000.0, "no unit is stated: glTF counts in metres, and that is taken"),
        ("m", 1000.0, None),
        ("in", 25.4, "glTF counts in metres, but 25.4 mm a unit is stated: that is taken"),
    ],
)
def test_metres_unless_another_unit_is_stated(
    unit: str | None, scale: float, said: str | None, box: Mesh, tmp_path: Path
) -> None:
    path = tmp_path / "a.glb"
    path.write_bytes(glb(Mesh(box.vertices / scale, box.faces)))
    rough = load_rough(path, unit=unit)
    assert rough.mm_per_unit == scale
    assert rough.volume_mm3 == pytest.approx(480.0, rel=1e-5)
    about_unit = [warning for warning in rough.warnings if "metres" in warning]
    assert about_unit == ([said] if said else [])


def test_millimetres_in_a_glb_are_not_taken_for_metres(box: Mesh, tmp_path: Path) -> None:
    (tmp_path / "a.glb").write_bytes(glb(box))
    with pytest.raises(InputError, match=r"glTF counts in metres.*longest side 10,000 mm.*--unit"):
        load_rough(tmp_path / "a.glb")
    assert load_rough(tmp_path / "a.glb", unit="mm").volume_mm3 == pytest.approx(480.0, rel=1e-6)


def test_bare_lines_are_left_out_and_told(box: Mesh, tmp_path: Path) -> None:
    document, blob = glb_document(Mesh(box.vertices / 1000.0, box.faces), box.faces.reshape(-1))
    primitives = document["meshes"][0]["primitives"]  # type: ignore[index]
    primitives.append({"attributes": {"POSITION": 0}, "mode": 1})
    (tmp_path / "a.glb").write_bytes(glb_of(document, blob))
    warnings = load_rough(tmp_path / "a.glb").warnings
    assert "1 of its parts are bare points or lines: left out" in warnings


def _set(*path: Any, value: Any) -> Change:
    def change(document: dict[str, Any]) -> None:
        at: Any = document
        for key in path[:-1]:
            at = at[key]
        at[path[-1]] = value

    return change


PRIMITIVE = ("meshes", 0, "primitives", 0)
BAD: dict[str, tuple[Change, str]] = {
    "version": (_set("asset", "version", value="1.0"), "is glTF 1.0"),
    "packed": (
        _set("extensionsRequired", value=["KHR_draco_mesh_compression"]),
        "needs the extension KHR_draco_mesh_compression",
    ),
    "elsewhere": (_set("buffers", 0, "uri", value="x.bin"), "in another file"),
    "sparse": (_set("accessors", 0, "sparse", value={"count": 1}), "sparse accessors"),
    "empty": (_set("accessors", 0, value={
        "componentType": 5126, "count": 4_000_000, "type": "VEC3"}), "sparse accessors"),
    "huge": (_set("accessors", 0, "count", value=2**60), "more than 30,000,000"),
    "many": (_set("accessors", 0, "count", value=10**7), "claims 10,000,000 rows"),
    "none": (_set("accessors", 0, "count", value=0), "claims 0 rows"),
    "past": (_set("bufferViews", 0, "byteLength", value=2**62), "are not in the file"),
    "overlap": (_set("bufferViews", 0, "byteStride", value=4), "are not in the file"),
    "type": (_set("accessors", 0, "type", value="MAT4"), "of no known type"),
    "component": (_set("accessors", 0, "componentType", value=5130), "of no known type"),
    "flat": (_set("accessors", 0, "type", value="VEC2"), "POSITION has 2 numbers"),
    "floats": (_set("accessors", 1, "componentType", value=5126), "are not in the file"),
    "signed": (_set("accessors", 1, "componentType", value=5122), "no whole numbers"),
    "count": (_set("accessors", 1, "count", value=35), "35 corners of mode 4"),
    "mode": (_set(*PRIMITIVE, "mode", value=9), "mode 9 make no triangles"),
    "morph": (_set(*PRIMITIVE, "targets", value=[{}]), "morph targets"),
    "nowhere": (_set(*PRIMITIVE, "attributes", value={"NORMAL": 0}), "no POSITION"),
    "accessor": (_set(*PRIMITIVE, "indices", value=7), "names accessor 7, which it lacks"),
    "colour": (_set(*PRIMITIVE, "attributes", value={"POSITION": 0, "COLOR_0": 1}), "COLOR_0"),
    "mesh": (_set("nodes", 0, "mesh", value=3), "names mesh 3"),
    "scene": (_set("scene", value=2), "names scene 2"),
    "root": (_set("scenes", 0, "nodes", value=[5]), "names node 5"),
    "ring": (_set("nodes", 0, "children", value=[0]), "node 0 hangs on two nodes"),
    "skin": (_set("nodes", 0, "skin", value=0), "posed by a skeleton"),
    "turn": (_set("nodes", 0, "rotation", value=[1, 1, 1, 1]), "no unit quaternion"),
    "infinite": (_set("nodes", 0, "scale", value=[1e300] * 3), "1e+301 mm"),
    "word": (_set("nodes", 0, "mesh", value="zero"), "JSON part is damaged (nodes.0.mesh"),
    "negative": (_set("nodes", 0, "mesh", value=-1), "JSON part is damaged (nodes.0.mesh"),
    "matrix": (_set("nodes", 0, "matrix", value=[1, 2]), "JSON part is damaged (nodes.0.matrix"),
    "crowd": (_set("nodes", value=[{}] * 100_001), "at most 100000 items"),
    "copies": (_set("nodes", value=[{"mesh": 0}] * 10_001), "10,001 parts, more than 10,000"),
    "shapeless": (_set("scenes", 0, "nodes", value=[]), "no triangles"),
}  # fmt: skip


@pytest.mark.parametrize("fault", BAD)
def test_what_cannot_be_read_gets_one_line(fault: str, box: Mesh, tmp_path: Path) -> None:
    change, said = BAD[fault]
    document, blob = glb_document(Mesh(box.vertices / 1000.0, box.faces), box.faces.reshape(-1))
    change(document)
    if fault == "copies":
        del document["scenes"]
    (tmp_path / "a.glb").write_bytes(glb_of(document, blob))
    with pytest.raises(InputError) as error:
        load_rough(tmp_path / "a.glb")
    message = str(error.value)
    assert said in message
    assert message.startswith("a.glb: ")
    assert "\n" not in message


def test_one_shape_placed_very_often_is_not_built(tmp_path: Path) -> None:
    ball = icosphere(subdivisions=2)
    document, blob = glb_document(ball, ball.faces.reshape(-1))
    document["nodes"] = [{"mesh": 0}] * 1000
    document["scenes"] = [{"nodes": list(range(1000))}]
    (tmp_path / "a.glb").write_bytes(glb_of(document, blob))
    with pytest.raises(InputError, match="of 1,122 points and triangles are placed so often"):
        read_scan(tmp_path / "a.glb")


def test_deep_nesting_and_broken_frames_get_one_line(box: Mesh, tmp_path: Path) -> None:
    sound = glb(box)
    deep = b"[" * 200_000
    chunk = (len(deep)).to_bytes(4, "little") + b"JSON" + deep
    nested = b"glTF\2\0\0\0" + (12 + len(chunk)).to_bytes(4, "little") + chunk
    old = b"glTF\1\0\0\0" + sound[8:]
    for data in (nested, old, sound[:-1], sound + b"\0", sound[:20], sound[:4], sound[:12]):
        (tmp_path / "a.glb").write_bytes(data)
        with pytest.raises(InputError) as error:
            read_scan(tmp_path / "a.glb")
        assert "\n" not in str(error.value)
