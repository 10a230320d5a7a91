"""Scan files of every format, damaged: cut short, lying about their lengths, nested deep."""

import json
import struct
import zipfile
from functools import cache
from io import BytesIO
from pathlib import Path
from random import Random
from typing import Any

from benchmarks.fuzzing.case import Case
from benchmarks.fuzzing.odd_bytes import damaged

FORMATS = ("3mf", "glb", "obj", "off", "ply", "stl", "xyz")
WITHIN = 0.7  # of packages: damaged inside sound wrapping


def case(desk: Path, chance: Random) -> Case:
    """``check`` of one damaged file."""
    kind = chance.choice(FORMATS)
    swollen = kind in _SWOLLEN and chance.random() < 0.1
    data = _SWOLLEN[kind](chance) if swollen else _damaged(kind, chance)
    (desk / f"piece.{kind}").write_bytes(data)
    unit = chance.choice(((), (), ("--unit", "mm")))
    return Case(("check", f"piece.{kind}", *unit))


def _damaged(kind: str, chance: Random) -> bytes:
    data = chance.choice(_sound()[kind])
    if kind == "3mf" and chance.random() < WITHIN:
        with zipfile.ZipFile(BytesIO(data)) as package:
            return _package(damaged(package.read("3D/3dmodel.model"), chance))
    if kind == "glb" and chance.random() < WITHIN:
        return _damaged_glb(data, chance)
    return damaged(data, chance)


def _damaged_glb(data: bytes, chance: Random) -> bytes:
    """Its lengths are right around a damaged JSON part."""
    size = int.from_bytes(data[12:16], "little")
    return _glb(damaged(data[20 : 20 + size], chance), data[20 + size :])


def _glb(text: bytes, rest: bytes) -> bytes:
    head = b"glTF" + struct.pack("<II", 2, 20 + len(text) + len(rest))
    return head + struct.pack("<I", len(text)) + b"JSON" + text + rest


@cache
def _sound() -> dict[str, list[bytes]]:
    """By ending: files of a small ball that are read, written by trimesh and by hand."""
    import trimesh

    ball = _ball()
    points = "".join(f"{x} {y} {z}\n" for x, y, z in ball.vertices.tolist())
    exported = {
        kind: [_bytes(ball.export(file_type=kind))] for kind in ("stl", "obj", "off", "glb")
    }
    cloud = trimesh.creation.icosphere(4, 10.0)
    dots = "".join(f"{x} {y} {z}\n" for x, y, z in cloud.vertices.tolist())
    exported["stl"].append(_bytes(ball.export(file_type="stl_ascii")))
    exported["ply"] = [
        _bytes(ball.export(file_type="ply", encoding=e)) for e in ("ascii", "binary")
    ]
    return exported | {"xyz": [points.encode(), dots.encode()], "3mf": [_package(_model(ball))]}


def _ball() -> Any:
    import trimesh

    return trimesh.creation.icosphere(2, 10.0)


def _bytes(data: str | bytes) -> bytes:
    return data.encode() if isinstance(data, str) else data


def _model(ball: Any) -> bytes:
    points = "".join(f'<vertex x="{x}" y="{y}" z="{z}"/>' for x, y, z in ball.vertices.tolist())
    faces = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in ball.faces.tolist())
    core = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
    return (
        f'<model unit="millimeter" xmlns="{core}"><resources><object id="1"><mesh><vertices>'
        f"{points}</vertices><triangles>{faces}</triangles></mesh></object></resources>"
        '<build><item objectid="1"/></build></model>'
    ).encode()


def _many_items(chance: Random) -> bytes:
    """One shape, which the build names thousands of times."""
    model = _model(_ball())
    item = model[model.index(b"<item") : model.index(b"</build>")]
    return _package(model.replace(item, item * chance.choice((2, 1000, 30_000))))


def _many_nodes(chance: Random) -> bytes:
    """One shape, which thousands of nodes put in the scene."""
    data = _bytes(_ball().export(file_type="glb"))
    size = int.from_bytes(data[12:16], "little")
    document = json.loads(data[20 : 20 + size])
    bearing = next(k for k, node in enumerate(document["nodes"]) if "mesh" in node)
    times = chance.choice((2, 1000, 30_000))
    document["nodes"] += [document["nodes"][bearing]] * times
    first = len(document["nodes"]) - times
    document["scenes"][0]["nodes"] = list(range(first, first + times))
    text = json.dumps(document).encode()
    return _glb(text + b" " * (-len(text) % 4), data[20 + size :])


_SWOLLEN = {"3mf": _many_items, "glb": _many_nodes}


def _package(model: bytes) -> bytes:
    relations = (
        '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
        '<Relationship Id="a" Target="/3D/3dmodel.model" '
        'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>'
    )
    file = BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as package:
        package.writestr(_member("_rels/.rels"), relations)
        package.writestr(_member("3D/3dmodel.model"), model)
    return file.getvalue()


def _member(name: str) -> zipfile.ZipInfo:
    """Without the time of day, so that a case is the same bytes whenever it is made."""
    info = zipfile.ZipInfo(name)
    info.compress_type = zipfile.ZIP_DEFLATED
    return info
