"""GLB scans: binary glTF 2.0 (Khronos Group), every mesh of the scene where its node puts it."""

import struct
from collections import deque
from collections.abc import Sequence
from typing import Any, TypeVar

import numpy as np

from optimizer.colours import encoded
from optimizer.errors import InputError
from optimizer.mesh import Floats, Ints
from optimizer.rough.formats.glb_document import Document, Node, Primitive, read_document
from optimizer.rough.formats.parts import ScanPart, refuse_too_many, together
from optimizer.rough.formats.scan import FileUnit, Scan, srgb

_UNIT = FileUnit(1000.0, "glTF counts in metres", firm=False)
_MOST_JSON = 8_000_000  # bytes; a scan's takes some thousand
_KINDS = {5120: "<i1", 5121: "<u1", 5122: "<i2", 5123: "<u2", 5125: "<u4", 5126: "<f4"}
_WIDTHS = {"SCALAR": 1, "VEC2": 2, "VEC3": 3, "VEC4": 4}
_TRIANGLES, _STRIP, _FAN = 4, 5, 6
# Required extensions that change nothing about the shape, by how their names begin.
_HARMLESS = ("KHR_materials_", "KHR_texture_", "EXT_texture_", "KHR_mesh_quantization")

Item = TypeVar("Item")


def read_glb(data: bytes, name: str) -> Scan:
    """Read the bytes of a GLB file, in its own axes, of which y is up.

    Raises InputError where it is cut short or garbled, or has shapes that are packed, posed by a
    skeleton or kept in another file.
    """
    text, blob = _chunks(data, name)
    document = read_document(text, name)
    _refuse_unread(document, name)
    primitives = [
        (primitive, matrix)
        for mesh, matrix in _placed(document, name)
        for primitive in _at(document.meshes, mesh, "mesh", name).primitives
    ]
    solid = [
        (primitive, matrix) for primitive, matrix in primitives if primitive.mode >= _TRIANGLES
    ]
    sizes = [_size(document, primitive, name) for primitive, _ in solid]
    held = {id(primitive): size for (primitive, _), size in zip(solid, sizes, strict=True)}
    refuse_too_many(len(primitives), sum(sizes), sum(held.values()), name)
    parts = [_part(document, primitive, blob, name).moved(matrix) for primitive, matrix in solid]
    whole, bare = together(parts), len(primitives) - len(solid)
    left_out = (f"{bare} of its parts are bare points or lines: left out",) if bare else ()
    return Scan(whole.points, whole.faces, colours=whole.colours, unit=_UNIT, left_out=left_out)


def _chunks(data: bytes, name: str) -> tuple[bytes, bytes]:
    """(the JSON text, the binary buffer)."""
    found = []
    if len(data) >= 12:
        _, version, length = struct.unpack_from("<4sII", data)
        if version != 2:
            raise InputError(f"{name}: is GLB version {version}; save version 2")
        place = 12
        while length == len(data) and place + 8 <= length:
            size, kind = struct.unpack_from("<I4s", data, place)
            found.append((kind, data[place + 8 : place + 8 + size]))
            place += 8 + size
        if found and place == length and found[0][0] == b"JSON":
            if len(found[0][1]) > _MOST_JSON:
                raise InputError(f"{name}: its JSON part is larger than {_MOST_JSON:,} bytes")
            second = found[1] if len(found) > 1 else (b"", b"")
            return found[0][1], second[1] if second[0] == b"BIN\0" else b""
    raise InputError(
        f"{name}: the lengths in the file do not agree with its {len(data):,} bytes; it is cut "
        "short or damaged, save the scan again"
    )


def _refuse_unread(document: Document, name: str) -> None:
    if not document.asset.version.startswith("2."):
        raise InputError(f"{name}: is glTF {document.asset.version[:20]}; save glTF 2.0")
    unread = [e for e in document.extensions_required if not e.startswith(_HARMLESS)]
    if unread:
        raise InputError(
            f"{name}: needs the extension {unread[0][:60]}, which is not read here; save without "
            "compression or other extensions"
        )
    if any(buffer.uri is not None for buffer in document.buffers):
        raise InputError(f"{name}: keeps its shape in another file; save one GLB file of all")


def _at(items: Sequence[Item], number: int, what: str, name: str) -> Item:
    if number >= len(items):
        raise InputError(f"{name}: names {what} {number}, which it lacks; the file is damaged")
    return items[number]


def _placed(document: Document, name: str) -> list[tuple[int, Floats]]:
    """Each mesh of the scene and the matrix (4, 4) from its own frame to the file's."""
    nodes = document.nodes
    if document.scenes:
        roots = _at(document.scenes, document.scene or 0, "scene", name).nodes
    else:
        below = {child for node in nodes for child in node.children}
        roots = [i for i in range(len(nodes)) if i not in below]
    found, seen = [], set()
    waiting = deque((number, np.eye(4)) for number in roots)
    while waiting:
        number, matrix = waiting.popleft()
        node = _at(nodes, number, "node", name)
        if number in seen:
            raise InputError(f"{name}: node {number} hangs on two nodes; the file is damaged")
        seen.add(number)
        with np.errstate(over="ignore", invalid="ignore"):
            matrix = matrix @ _matrix(node, number, name)
        if node.mesh is not None:
            if node.skin is not None:
                raise InputError(f"{name}: node {number} is posed by a skeleton; save a plain mesh")
            found.append((node.mesh, matrix))
        waiting.extend((child, matrix) for child in node.children)
    return found


def _matrix(node: Node, number: int, name: str) -> Floats:
    """From the node's frame to that of the node it hangs on, (4, 4)."""
    if node.matrix is not None:
        return np.array(node.matrix).reshape(4, 4).T  # stored column by column
    matrix = np.eye(4)
    if node.rotation is not None:
        length = float(np.linalg.norm(node.rotation))
        if not abs(length - 1.0) < 0.01:
            raise InputError(f"{name}: the rotation of node {number} is no unit quaternion")
        x, y, z, w = np.array(node.rotation) / length
        matrix[:3, :3] = [
            [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
            [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
            [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
        ]
    if node.scale is not None:
        matrix[:3, :3] *= np.array(node.scale)
    if node.translation is not None:
        matrix[:3, 3] = node.translation
    return matrix


def _size(document: Document, primitive: Primitive, name: str) -> int:
    """The number of points and triangles, counted before any of them is made."""
    accessors = document.accessors
    points = _at(accessors, _position(primitive, name), "accessor", name).count
    if primitive.indices is None:
        return 2 * points
    return points + _at(accessors, primitive.indices, "accessor", name).count


def _position(primitive: Primitive, name: str) -> int:
    if "POSITION" not in primitive.attributes:
        raise InputError(f"{name}: a part has no POSITION; the file is damaged")
    return primitive.attributes["POSITION"]


def _part(document: Document, primitive: Primitive, blob: bytes, name: str) -> ScanPart:
    if primitive.targets is not None:
        raise InputError(f"{name}: a part has morph targets; save a plain mesh")
    points = _shares(document, _position(primitive, name), blob, name)
    if points.shape[1] != 3:
        raise InputError(f"{name}: POSITION has {points.shape[1]} numbers; the file is damaged")
    if primitive.indices is None:
        corners = np.arange(len(points), dtype=np.int64)
    else:
        given = _values(document, primitive.indices, blob, name)
        if given.shape[1] != 1 or given.dtype.kind != "u":
            raise InputError(f"{name}: corner numbers are no whole numbers; the file is damaged")
        corners = given[:, 0].astype(np.int64)
    faces = _triangles(corners, primitive.mode, name)
    if faces.max(initial=-1) >= len(points):
        raise InputError(
            f"{name}: a face names corner {faces.max()} of {len(points):,}; the file is damaged"
        )
    return ScanPart(points, faces, _colours(document, primitive, blob, len(points), name))


def _triangles(corners: Ints, mode: int, name: str) -> Ints:
    """Triangles (m, 3). Every other triangle of a strip is turned, and the degenerate triangles
    that join strips are dropped."""
    if mode == _TRIANGLES and len(corners) % 3 == 0:
        return corners.reshape(-1, 3)
    if mode == _STRIP and len(corners) >= 3:
        rows = np.column_stack([corners[:-2], corners[1:-1], corners[2:]])
        rows[1::2, 1:] = rows[1::2, :0:-1]
    elif mode == _FAN and len(corners) >= 3:
        first = np.full(len(corners) - 2, corners[0])
        rows = np.column_stack([first, corners[1:-1], corners[2:]])
    else:
        raise InputError(f"{name}: {len(corners):,} corners of mode {mode} make no triangles")
    a, b, c = rows.T
    return np.asarray(rows[(a != b) & (b != c) & (c != a)], np.int64)


def _values(document: Document, number: int, blob: bytes, name: str) -> Any:
    """An accessor's rows, (count, width), in its own number type."""
    accessor = _at(document.accessors, number, "accessor", name)
    if accessor.sparse is not None or accessor.buffer_view is None:
        raise InputError(
            f"{name}: has sparse accessors, which are not read here; save a plain mesh"
        )
    if accessor.component_type not in _KINDS or accessor.type not in _WIDTHS:
        raise InputError(f"{name}: accessor {number} is of no known type; the file is damaged")
    view = _at(document.buffer_views, accessor.buffer_view, "buffer view", name)
    kind, width = np.dtype(_KINDS[accessor.component_type]), _WIDTHS[accessor.type]
    row = kind.itemsize * width
    stride = view.byte_stride or row
    end = accessor.byte_offset + stride * (accessor.count - 1) + row
    within = end <= view.byte_length and view.byte_offset + view.byte_length <= len(blob)
    if not accessor.count or not within or stride < row or view.buffer != 0:
        raise InputError(
            f"{name}: accessor {number} claims {accessor.count:,} rows, which are not in the file; "
            "it is cut short or damaged, save the scan again"
        )
    start = view.byte_offset + accessor.byte_offset
    return np.ndarray((accessor.count, width), kind, blob, start, (stride, kind.itemsize))


def _shares(document: Document, number: int, blob: bytes, name: str) -> Floats:
    """As ``_values``, in float64; whole numbers that stand for shares of 1 are divided."""
    values = _values(document, number, blob, name)
    given = values.astype(np.float64)
    if not document.accessors[number].normalized or values.dtype.kind not in "iu":
        return np.asarray(given)
    return np.asarray(np.maximum(given / float(np.iinfo(values.dtype).max), -1.0))


def _colours(
    document: Document, primitive: Primitive, blob: bytes, count: int, name: str
) -> Floats | None:
    """The points' sRGB colours, from glTF's linear light (sRGB's curve: IEC 61966-2-1)."""
    if "COLOR_0" not in primitive.attributes:
        return None
    light = _shares(document, primitive.attributes["COLOR_0"], blob, name)
    if len(light) != count or light.shape[1] < 3:
        raise InputError(f"{name}: COLOR_0 does not fit POSITION; the file is damaged")
    light = srgb(light[:, :3], 1.0, name)
    return encoded(light)
