"""Scan files as bytes, written by hand from the formats' specifications."""

import io
import json
import zipfile

import numpy as np

from optimizer.mesh import Floats, Mesh

CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
RELATIONS = (
    '<?xml version="1.0"?><Relationships '
    'xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="r" '
    'Target="/3D/3dmodel.model" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/>'
    "</Relationships>"
)


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


def with_head_ended(data: bytes, ending: bytes) -> bytes:
    """A binary PLY file whose header lines end otherwise."""
    place = data.index(b"end_header\n") + len(b"end_header\n")
    return data[:place].replace(b"\n", ending) + data[place:]


def off(mesh: Mesh, kind: bytes = b"OFF", *, face_colour: bytes = b"") -> bytes:
    """``kind`` COFF or CNOFF puts the same normal and colour behind every point."""
    behind = (" 0 0 1" if b"N" in kind else "") + (" 255 128 0 255" if b"C" in kind else "")
    lines = [f"{len(mesh.vertices)} {len(mesh.faces)} 0"]
    lines += [f"{x!r} {y!r} {z!r}{behind}" for x, y, z in mesh.vertices.tolist()]
    lines += [f"3 {a} {b} {c}{face_colour.decode()}" for a, b, c in mesh.faces.tolist()]
    return kind + b"\n" + "\n".join(lines).encode() + b"\n"


def glb_of(document: dict[str, object], blob: bytes) -> bytes:
    """The two chunks, padded to four bytes as the specification wants."""
    text = json.dumps(document).encode()
    text += b" " * (-len(text) % 4)
    blob += bytes(-len(blob) % 4)
    chunks = len(text).to_bytes(4, "little") + b"JSON" + text
    chunks += len(blob).to_bytes(4, "little") + b"BIN\0" + blob
    return b"glTF" + (2).to_bytes(4, "little") + (12 + len(chunks)).to_bytes(4, "little") + chunks


def glb_document(
    mesh: Mesh, corners: Floats, *, code: str = "<u2", mode: int = 4, colours: Floats | None = None
) -> tuple[dict[str, object], bytes]:
    """One mesh: ``corners`` are the numbers in the index buffer, of the type ``code``."""
    kinds = {"<u1": 5121, "<u2": 5123, "<u4": 5125}
    blobs = [mesh.vertices.astype("<f4").tobytes(), np.asarray(corners).astype(code).tobytes()]
    blobs[1] += bytes(-len(blobs[1]) % 4)
    accessors = [
        {"bufferView": 0, "componentType": 5126, "count": len(mesh.vertices), "type": "VEC3"},
        {
            "bufferView": 1,
            "componentType": kinds[code],
            "count": np.size(corners),
            "type": "SCALAR",
        },
    ]
    attributes = {"POSITION": 0}
    if colours is not None:
        blobs.append(np.column_stack([colours, np.ones(len(colours))]).astype("<f4").tobytes())
        accessors.append(
            {"bufferView": 2, "componentType": 5126, "count": len(colours), "type": "VEC4"}
        )
        attributes["COLOR_0"] = 2
    starts = np.cumsum([0, *map(len, blobs)])
    document = {
        "asset": {"version": "2.0"},
        "buffers": [{"byteLength": int(starts[-1])}],
        "bufferViews": [
            {"buffer": 0, "byteOffset": int(start), "byteLength": len(blob)}
            for start, blob in zip(starts, blobs, strict=False)
        ],
        "accessors": accessors,
        "meshes": [{"primitives": [{"attributes": attributes, "indices": 1, "mode": mode}]}],
        "nodes": [{"mesh": 0}],
        "scenes": [{"nodes": [0]}],
        "scene": 0,
    }
    return document, b"".join(blobs)


def glb(mesh: Mesh, *, moved: bool = False) -> bytes:
    """``moved``: the mesh lies elsewhere and mirrored, and its nodes put it back."""
    if not moved:
        return glb_of(*glb_document(mesh, mesh.faces.reshape(-1)))
    step = np.array([1.0, 2.0, 3.0]) * np.abs(mesh.vertices).max()
    away = Mesh((mesh.vertices - step) * [0.5, -0.5, 0.5], mesh.faces[:, ::-1])
    document, blob = glb_document(away, away.faces.reshape(-1), code="<u4")
    document["nodes"] = [
        {"children": [1], "translation": step.tolist()},
        {"mesh": 0, "matrix": [2, 0, 0, 0, 0, -2, 0, 0, 0, 0, 2, 0, 0, 0, 0, 1]},
    ]
    return glb_of(document, blob)


def mesh_xml(mesh: Mesh) -> str:
    points = "".join(
        f'<vertex x="{x!r}" y="{y!r}" z="{z!r}"/>' for x, y, z in mesh.vertices.tolist()
    )
    faces = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in mesh.faces.tolist())
    return f"<mesh><vertices>{points}</vertices><triangles>{faces}</triangles></mesh>"


def threemf_of(model: str, relations: str = RELATIONS) -> bytes:
    """A package of a model part and what names it."""
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as package:
        package.writestr("_rels/.rels", relations)
        package.writestr("3D/3dmodel.model", model)
    return file.getvalue()


def model_xml(objects: str, build: str, attributes: str = "") -> str:
    return (
        f'<?xml version="1.0" encoding="UTF-8"?><model xmlns="{CORE}" {attributes}><metadata '
        f'name="Title">x</metadata><resources>{objects}</resources><build>{build}</build></model>'
    )


def threemf(mesh: Mesh, *, moved: bool = False, unit: str | None = None) -> bytes:
    """``moved``: the mesh lies elsewhere, and a component and the build put it back."""
    attributes = f'unit="{unit}"' if unit else ""
    if not moved:
        objects = f'<object id="1" type="model">{mesh_xml(mesh)}</object>'
        return threemf_of(model_xml(objects, '<item objectid="1"/>', attributes))
    # A row vector times the matrix: its first row says where x goes, here to z.
    away = Mesh((mesh.vertices - [1.0, 2.0, 3.0])[:, [2, 0, 1]] * 0.5, mesh.faces)
    objects = (
        f'<object id="1">{mesh_xml(away)}</object><object id="7"><components><component '
        'objectid="1" transform="0 0 1 1 0 0 0 1 0 0 0 0"/></components></object>'
    )
    build = '<item objectid="7" transform="2 0 0 0 2 0 0 0 2 1 2 3"/>'
    return threemf_of(model_xml(objects, build, attributes))
