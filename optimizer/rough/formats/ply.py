"""PLY scans (ASCII, binary little and big endian), and the writer of the project's own meshes."""

import hashlib
import struct
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from optimizer.errors import InputError
from optimizer.mesh import Floats, Ints, Mesh
from optimizer.rough.formats.polygons import fan
from optimizer.rough.formats.scan import FileUnit, Scan, srgb
from optimizer.rough.formats.text import numbers, plain, whole
from optimizer.rough.repair.edges import closed

_TYPES = {
    "char": "i1", "uchar": "u1", "short": "i2", "ushort": "u2", "int": "i4", "uint": "u4",
    "float": "f4", "double": "f8", "int8": "i1", "uint8": "u1", "int16": "i2", "uint16": "u2",
    "int32": "i4", "uint32": "u4", "float32": "f4", "float64": "f8",
}  # fmt: skip
_STRUCT = {"i1": "b", "u1": "B", "i2": "h", "u2": "H", "i4": "i", "u4": "I", "f4": "f", "f8": "d"}
_ORDERS = {"ascii": "<", "binary_little_endian": "<", "binary_big_endian": ">"}
_COLOURS = ("red", "green", "blue")
_NORMAL = ("nx", "ny", "nz")
_UNIT = FileUnit(1.0, "kerfwise wrote it in millimetres", firm=True)
_FIRST = "ply\nformat binary_little_endian 1.0\n"
_LONGEST_HEADER = 65536
_LONGEST_EVEN_LIST = 64

Columns = dict[str, Any]  # scalar property -> (n,) array; list property -> (n, k) array or n lists


@dataclass(frozen=True)
class _Property:
    name: str
    kind: str  # numpy type code
    count_kind: str = ""  # of a list: the type of its length


@dataclass(frozen=True)
class _Element:
    name: str
    rows: int
    properties: tuple[_Property, ...]

    @property
    def least_bytes(self) -> int:
        """The fewest bytes that the rows can take, with every list empty."""
        return self.rows * sum(np.dtype(p.count_kind or p.kind).itemsize for p in self.properties)


def read_ply(data: bytes, name: str) -> Scan:
    """Read the bytes of a PLY file. Raises InputError where it is cut short, garbled, or its header
    doesn't fit its data."""
    kind, elements, start = _header(data, name)
    body, stated = data[start:], elements
    if kind == "ascii":  # the same rows, with every number a double
        elements = tuple(_all_doubles(element) for element in elements)
        body = numbers(plain(body, name), name, "the data").astype("<f8").tobytes()
    tables, place = {}, 0
    for element in elements:
        if element.least_bytes > len(body) - place:
            raise _cut_short(element, name)
        tables[element.name], place = _rows(body, place, element, _ORDERS[kind], name)
    if body[place:].strip():
        raise InputError(
            f"{name}: the file goes on behind the rows that the header claims; it is damaged, save "
            "the scan again"
        )
    if "tristrips" in tables:
        raise InputError(f"{name}: the file holds triangle strips; save it with plain triangles")
    vertices = _points(tables.get("vertex", {}), name)
    faces, split = _triangles(tables.get("face", {}), name)
    corner = tables["vertex"]
    normals = None
    if not len(faces) and _single(_NORMAL, corner):
        normals = np.column_stack([np.asarray(corner[axis], np.float64) for axis in _NORMAL])
    colours = _colours(corner, stated, name)
    sealed = _sealed(data)
    unit = _UNIT if sealed else None
    return Scan(vertices, faces, split, colours, normals, unit, sealed=sealed)


def _cut_short(element: _Element, name: str) -> InputError:
    return InputError(
        f"{name}: the header claims {element.rows:,} rows of {element.name}, more than the file "
        "holds; it is cut short or damaged, save the scan again"
    )


def _header(data: bytes, name: str) -> tuple[str, tuple[_Element, ...], int]:
    """(format, elements in file order, where the body starts)."""
    ending = _line_ending(data)
    end = data.find(b"end_header", 0, _LONGEST_HEADER)
    line_end = data.find(ending, end)
    if end < 0 or line_end < 0:
        raise InputError(f"{name}: the PLY header has no end; the file is cut short or damaged")
    kind, elements = "", []
    for line in data[:end].replace(b"\r", b"\n").decode("ascii", "replace").split("\n")[1:]:
        line = "".join(c if c.isprintable() else " " for c in line)
        words = line.split()
        match words:
            case [] | ["comment" | "obj_info", *_]:
                pass
            case ["format", "ascii" | "binary_little_endian" | "binary_big_endian" as kind, _]:
                pass
            case ["element", element, rows] if rows.isdecimal() and len(rows) < 16:
                elements.append(_Element(element, int(rows), ()))
            case ["property", *rest] if elements and (found := _property(rest)):
                last = elements[-1]
                elements[-1] = _Element(last.name, last.rows, (*last.properties, found))
            case _:
                raise InputError(f'{name}: PLY header line "{line.strip()[:60]}" is not understood')
    if not kind:
        raise InputError(f"{name}: the PLY header states no format; the file is damaged")
    return kind, tuple(elements), line_end + len(ending)


def _line_ending(data: bytes) -> bytes:
    """The first line's ending. The last line's can't be told from a binary body, which may begin
    with any byte."""
    first = data[: data.find(b"ply") + 5]
    return b"\r\n" if first.endswith(b"\r\n") else b"\r" if b"\r" in first else b"\n"


def _property(words: list[str]) -> _Property | None:
    match words:
        case ["list", count_kind, kind, name] if count_kind in _TYPES and kind in _TYPES:
            return _Property(name, _TYPES[kind], _TYPES[count_kind])
        case [kind, name] if kind in _TYPES:
            return _Property(name, _TYPES[kind])
    return None


def _all_doubles(element: _Element) -> _Element:
    doubles = (_Property(p.name, "f8", p.count_kind and "f8") for p in element.properties)
    return _Element(element.name, element.rows, tuple(doubles))


def _rows(body: bytes, place: int, element: _Element, order: str, name: str) -> tuple[Columns, int]:
    """The element's columns from byte ``place`` on, and where the next element starts."""
    if not element.rows or not element.properties:
        return {}, place
    lengths = _one_row(body, place, element, order, name)[1]
    if max(lengths) <= _LONGEST_EVEN_LIST:
        row = _row_type(element, lengths, order)
        if row.itemsize * element.rows <= len(body) - place:
            blob = np.frombuffer(body, row, element.rows, place)
            if _even(blob, element, lengths):
                columns = {p.name: blob[f"{i}"] for i, p in enumerate(element.properties)}
                return columns, place + row.itemsize * element.rows
    return _ragged_rows(body, place, element, order, name)


def _row_type(element: _Element, lengths: list[int], order: str) -> np.dtype[Any]:
    """The type of a row whose lists have the lengths given; field "#i" is the length of list i."""
    fields: list[Any] = []
    for i, (p, length) in enumerate(zip(element.properties, lengths, strict=True)):
        if p.count_kind:
            fields.append((f"#{i}", order + p.count_kind))
        fields.append((f"{i}", order + p.kind, (length,) if p.count_kind else ()))
    return np.dtype(fields)


def _even(blob: Any, element: _Element, lengths: list[int]) -> bool:
    lists = [i for i, p in enumerate(element.properties) if p.count_kind]
    return all(bool((blob[f"#{i}"] == lengths[i]).all()) for i in lists)


def _ragged_rows(
    body: bytes, place: int, element: _Element, order: str, name: str
) -> tuple[Columns, int]:
    """As ``_rows``, for lists of differing lengths: one row at a time."""
    columns: Columns = {p.name: [] for p in element.properties}
    for _ in range(element.rows):
        values, _, place = _one_row(body, place, element, order, name)
        for p, value in zip(element.properties, values, strict=True):
            columns[p.name].append(value if p.count_kind else value[0])
    return columns, place


def _one_row(
    body: bytes, place: int, element: _Element, order: str, name: str
) -> tuple[list[tuple[Any, ...]], list[int], int]:
    """(values of each property, their number, where the next row starts)."""
    values, lengths = [], []
    try:
        for p in element.properties:
            length = count = 1
            if p.count_kind:
                count = struct.unpack_from(order + _STRUCT[p.count_kind], body, place)[0]
                length, place = int(count), place + np.dtype(p.count_kind).itemsize
            width = np.dtype(p.kind).itemsize
            if length != count or not 0 <= length <= (len(body) - place) // width:
                raise _cut_short(element, name)
            values.append(struct.unpack_from(f"{order}{length}{_STRUCT[p.kind]}", body, place))
            lengths.append(length)
            place += length * width
    except (struct.error, ValueError, OverflowError):  # past the end, or a length of NaN
        raise _cut_short(element, name) from None
    return values, lengths, place


def _single(names: Sequence[str], table: Columns) -> bool:
    """Whether the columns are there, and none of them a list."""
    return all(name in table and np.ndim(table[name][0]) == 0 for name in names)


def _points(table: Columns, name: str) -> Floats:
    if not _single("xyz", table):
        raise InputError(f"{name}: the file holds no corner points (vertex x, y, z)")
    return np.column_stack([np.asarray(table[axis], np.float64) for axis in "xyz"])


def _colours(table: Columns, stated: tuple[_Element, ...], name: str) -> Floats | None:
    """The points' sRGB colours; whole numbers are divided by the largest that their type holds."""
    if not _single(_COLOURS, table):
        return None
    kinds = {p.name: np.dtype(p.kind) for e in stated if e.name == "vertex" for p in e.properties}
    kind = kinds[_COLOURS[0]]
    full = float(np.iinfo(kind).max) if kind.kind in "iu" else 1.0
    columns = [np.asarray(table[colour], np.float64) for colour in _COLOURS]
    return srgb(np.column_stack(columns), full, name)


def _triangles(table: Columns, name: str) -> tuple[Ints, int]:
    """(triangles, polygons split); no triangles where the file holds points alone."""
    corners = table.get("vertex_indices", table.get("vertex_index"))
    if corners is None:
        return np.empty((0, 3), np.int64), 0
    if isinstance(corners, np.ndarray):
        if corners.ndim == 2 and corners.shape[1] == 3:
            return _whole(corners), 0
        lengths = np.full(len(corners), np.size(corners[0]))
        return fan(_whole(corners.reshape(-1)), lengths, name)
    lengths = np.array([np.size(row) for row in corners])
    flat = np.concatenate([np.atleast_1d(np.array(row)) for row in corners])
    return fan(_whole(flat), lengths, name)


def _whole(corners: Any) -> Ints:
    given = np.asarray(corners)
    return given.astype(np.int64) if given.dtype.kind in "iu" else whole(given)


def write_ply(path: Path, mesh: Mesh) -> None:
    """Write binary little-endian PLY with double coordinates, which ``read_scan`` reads back bit
    for bit."""
    Path(path).write_bytes(_header_of(mesh) + _body_of(mesh))


def write_solid(path: Path, mesh: Mesh) -> None:
    """Write a closed solid as ``write_ply`` does, with a seal: a checksum of the whole file.

    A scan is judged by its size and by the usual length of its edges, so a part of it might be
    judged differently. An unbroken seal says that this is a solid as it was planned in, which needs
    no judging. Raises ValueError where the surface is not closed.
    """
    if not closed(mesh):
        raise ValueError(f"{Path(path).name}: not every edge has two triangles")
    header, body = _header_of(mesh), _body_of(mesh)
    Path(path).write_bytes(
        header[: len(_FIRST)] + _seal(header + body) + header[len(_FIRST) :] + body
    )


def _header_of(mesh: Mesh) -> bytes:
    return (
        f"{_FIRST}comment millimetres\n"
        f"element vertex {len(mesh.vertices)}\n"
        "property double x\nproperty double y\nproperty double z\n"
        f"element face {len(mesh.faces)}\nproperty list uchar int vertex_indices\nend_header\n"
    ).encode("ascii")


def _body_of(mesh: Mesh) -> bytes:
    rows = np.empty(len(mesh.faces), [("count", "u1"), ("corners", "<i4", 3)])
    rows["count"], rows["corners"] = 3, mesh.faces
    return np.ascontiguousarray(mesh.vertices, "<f8").tobytes() + rows.tobytes()


def _seal(rest: bytes) -> bytes:
    """The header line that vouches for the rest of a file."""
    return f"comment solid {hashlib.sha256(rest).hexdigest()}\n".encode("ascii")


def _sealed(data: bytes) -> bool:
    """Whether a file has a seal and was not changed since."""
    start, end = len(_FIRST), len(_FIRST) + len(_seal(b""))
    if not data.startswith(_FIRST.encode("ascii") + b"comment solid "):
        return False
    return data[start:end] == _seal(data[:start] + data[end:])
