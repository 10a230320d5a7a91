"""scene.glb: the named layers as one binary glTF 2.0 file, whose unit is the metre.

After the Khronos Group's glTF 2.0 specification; the numbers that name types are its own.
"""

import json
import struct
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optimizer.mesh import Floats
from optimizer.view.layer import Colours, Layer, rgb

METRES_PER_MM = 0.001
_BYTES, _INTS, _FLOATS = 5121, 5125, 5126  # types of numbers
_CORNERS, _INDICES = 34962, 34963  # what a part of the buffer holds
_LINES, _TRIANGLES = 1, 4  # how corners are joined
_OPAQUE, _TRANSLUCENT = 0, 1  # the numbers of the materials
_MATERIALS = [
    {
        "alphaMode": mode,
        "doubleSided": True,
        "pbrMetallicRoughness": {"metallicFactor": 0.0, "roughnessFactor": 0.9},
    }
    for mode in ("OPAQUE", "BLEND")
]


def scene_glb(layers: tuple[Layer, ...]) -> bytes:
    """One node for each mesh or set of lines, named after its layer; lengths in metres."""
    file = _File()
    for layer in layers:
        for index, part in enumerate(layer.parts):
            name = f"{layer.key}/{index + 1}"
            indices = part.mesh.faces.astype("<u4").reshape(-1, 1)
            file.add(name, part.mesh.vertices, part.colours, layer.opacity, indices)
        for index, lines in enumerate(layer.lines):
            ends = lines.ends.reshape(-1, 3)
            colours = np.tile(rgb(lines.colour), (len(ends), 1))
            file.add(f"{layer.key}/lines-{index + 1}", ends, colours, 1.0)
    return file.packed()


@dataclass
class _File:
    """The file as it grows: its records, and the buffer that they lead into."""

    buffer: bytearray = field(default_factory=bytearray)
    views: list[dict[str, Any]] = field(default_factory=list)
    arrays: list[dict[str, Any]] = field(default_factory=list)
    meshes: list[dict[str, Any]] = field(default_factory=list)

    def add(
        self,
        name: str,
        points_mm: Floats,
        colours: Colours,
        opacity: float,
        indices: NDArray[np.uint32] | None = None,
    ) -> None:
        """Add triangles between points (n, 3) of colours (n, 3), or lines, where there are no
        ``indices``: each from one point to the next. Nothing is added without points."""
        if not len(points_mm):
            return
        points = (points_mm * METRES_PER_MM).astype("<f4")
        alpha = np.full((len(points), 1), round(255 * opacity), np.uint8)
        shape: dict[str, Any] = {
            "attributes": {
                "POSITION": self._array(points, "VEC3", _FLOATS, _CORNERS),
                "COLOR_0": self._array(np.hstack([colours, alpha]), "VEC4", _BYTES, _CORNERS),
            },
            "mode": _LINES if indices is None else _TRIANGLES,
            "material": _OPAQUE if opacity == 1.0 else _TRANSLUCENT,
        }
        if indices is not None:
            shape["indices"] = self._array(indices, "SCALAR", _INTS, _INDICES)
        self.meshes.append({"name": name, "primitives": [shape]})

    def _array(self, values: NDArray[Any], kind: str, number: int, target: int) -> int:
        """The number of a new array (n, c); single bytes count as shares of 255."""
        content = values.tobytes()  # a multiple of four bytes, as the format wants them
        view = {"buffer": 0, "byteOffset": len(self.buffer), "byteLength": len(content)}
        self.views.append({**view, "target": target})
        self.buffer += content
        array: dict[str, Any] = {
            "bufferView": len(self.views) - 1,
            "componentType": number,
            "count": len(values),
            "type": kind,
        }
        if number == _BYTES:
            array["normalized"] = True
        if number == _FLOATS:
            array |= {"min": values.min(axis=0).tolist(), "max": values.max(axis=0).tolist()}
        self.arrays.append(array)
        return len(self.arrays) - 1

    def packed(self) -> bytes:
        """The whole file."""
        nodes = [{"name": mesh["name"], "mesh": k} for k, mesh in enumerate(self.meshes)]
        document = {
            "asset": {"version": "2.0", "generator": "kerfwise"},
            "scene": 0,
            "scenes": [{"nodes": list(range(len(nodes)))}],
            "nodes": nodes,
            "meshes": self.meshes,
            "materials": _MATERIALS,
            "accessors": self.arrays,
            "bufferViews": self.views,
            "buffers": [{"byteLength": len(self.buffer)}],
        }
        text = json.dumps(document, separators=(",", ":")).encode()
        text += b" " * (-len(text) % 4)
        chunks = struct.pack("<I4s", len(text), b"JSON") + text
        chunks += struct.pack("<I4s", len(self.buffer), b"BIN\0") + bytes(self.buffer)
        return struct.pack("<4sII", b"glTF", 2, 12 + len(chunks)) + chunks
