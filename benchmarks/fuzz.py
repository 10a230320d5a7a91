"""Give the readers of scan files damaged, lying and random bytes: never a traceback, never a hang.

Each format is fuzzed in a process of its own, whose peak memory is what the system says of it.
"""

import json
import os
import random
import re
import resource
import struct
import sys
import tempfile
import warnings
import zipfile
from io import BytesIO
from multiprocessing import get_context
from pathlib import Path
from time import perf_counter, process_time
from typing import Any

from benchmarks.tables import Table, write_page

SEED = 4
SECONDS = 30.0  # a format, unless the command line says otherwise
LEAST_NUMBERS = (0, 1, 255, 65535, 2**31 - 1, 2**31, 2**32 - 1)
COLUMNS = ("format", "cases", "refused", "read", "other errors", "worst CPU s", "peak MB")

INTRO = """\
Sound files of a small ball in every format, damaged at random: cut short, bytes changed, runs
copied, numbers in text made absurd, headers kept before random bytes, JSON and XML nested deep;
packages are also packed anew around damaged text. A case counts as refused where `read_scan` gives
one line, as read where it gives triangles or points; anything else is an error of ours."""


def sound_files() -> dict[str, list[bytes]]:
    """By ending: files that are read, written by trimesh and by hand."""
    import trimesh

    ball = trimesh.creation.icosphere(2, 10.0)
    points = "".join(f"{x} {y} {z}\n" for x, y, z in ball.vertices.tolist())
    exported = {
        kind: [_bytes(ball.export(file_type=kind))] for kind in ("stl", "obj", "off", "glb")
    }
    exported["stl"].append(_bytes(ball.export(file_type="stl_ascii")))
    exported["ply"] = [
        _bytes(ball.export(file_type="ply", encoding=e)) for e in ("ascii", "binary")
    ]
    return exported | {"xyz": [points.encode()], "3mf": [_package(_model(ball))]}


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


def _package(model: bytes) -> bytes:
    relations = (
        '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
        '<Relationship Id="a" Target="/3D/3dmodel.model" '
        'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>'
    )
    file = BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as package:
        package.writestr("_rels/.rels", relations)
        package.writestr("3D/3dmodel.model", model)
    return file.getvalue()


def damaged(data: bytes, chance: random.Random) -> bytes:
    """``data`` with one to four kinds of damage."""
    for _ in range(chance.randint(1, 4)):
        data = chance.choice(DAMAGES)(data, chance)
    return data


def _cut(data: bytes, chance: random.Random) -> bytes:
    return data[: chance.randint(0, len(data))]


def _change(data: bytes, chance: random.Random) -> bytes:
    changed = bytearray(data)
    for _ in range(min(len(changed), chance.choice((1, 4, 64)))):
        changed[chance.randrange(len(changed))] = chance.randrange(256)
    return bytes(changed)


def _early_change(data: bytes, chance: random.Random) -> bytes:
    """In the header, where counts and lengths stand."""
    return _change(data[:400], chance) + data[400:]


def _copy(data: bytes, chance: random.Random) -> bytes:
    start, end = sorted(chance.randint(0, len(data)) for _ in range(2))
    place = chance.randint(0, len(data))
    return data[:place] + data[start:end] + data[place:]


def _absurd_binary(data: bytes, chance: random.Random) -> bytes:
    place = chance.randint(0, min(len(data), 400))
    return data[:place] + struct.pack("<I", chance.choice(LEAST_NUMBERS)) + data[place + 4 :]


def _absurd_text(data: bytes, chance: random.Random) -> bytes:
    """One of the first numbers in the text becomes absurd."""
    found = list(re.finditer(rb"-?\d+(\.\d+)?", data[:4000]))
    if not found:
        return data
    number = chance.choice(found)
    absurd = chance.choice((b"-1", b"0", b"1e999", b"nan", b"9" * 15, b"9" * 6000, b"2147483648"))
    return data[: number.start()] + absurd + data[number.end() :]


def _random_behind(data: bytes, chance: random.Random) -> bytes:
    return data[: chance.randint(0, 400)] + chance.randbytes(chance.randint(0, 4000))


def _nested(data: bytes, chance: random.Random) -> bytes:
    what = chance.choice((b"[", b"{", b"<a>", b"(", b'{"a":[', b"<x:a xmlns:x='y'>"))
    place = chance.randint(0, len(data))
    return data[:place] + what * chance.choice((100, 100_000)) + data[place:]


DAMAGES = (
    _cut, _change, _early_change, _copy, _absurd_binary, _absurd_text, _random_behind, _nested,
)  # fmt: skip


def case(sound: list[bytes], kind: str, chance: random.Random) -> bytes:
    """One damaged file: packages are damaged within, or as a whole."""
    data = chance.choice(sound)
    if kind == "3mf" and chance.random() < 0.7:
        with zipfile.ZipFile(BytesIO(data)) as package:
            return _package(damaged(package.read("3D/3dmodel.model"), chance))
    if kind == "glb" and chance.random() < 0.7:
        return _damaged_within(data, chance)
    return damaged(data, chance)


def _damaged_within(data: bytes, chance: random.Random) -> bytes:
    """A GLB file whose lengths are right around a damaged JSON part."""
    size = int.from_bytes(data[12:16], "little")
    text, rest = damaged(data[20 : 20 + size], chance), data[20 + size :]
    total = struct.pack("<I", 20 + len(text) + len(rest))
    return data[:8] + total + struct.pack("<I", len(text)) + b"JSON" + text + rest


def fuzz(kind: str, seconds: float) -> list[str]:
    """The row of one format."""
    from optimizer.errors import InputError
    from optimizer.rough.scan_file import read_scan

    warnings.simplefilter("error")
    sound, chance = sound_files()[kind], random.Random(SEED)
    counts, worst, other = {"refused": 0, "read": 0}, 0.0, {}
    with tempfile.TemporaryDirectory() as folder:
        path, started = Path(folder) / f"piece.{kind}", perf_counter()
        while perf_counter() - started < seconds:
            data = case(sound, kind, chance)
            path.write_bytes(data)
            begun = process_time()
            try:
                read_scan(path)
                counts["read"] += 1
            except InputError as error:
                counts["refused"] += 1
                if "\n" in str(error):
                    other["more than one line"] = data
            except Exception as error:
                other[f"{type(error).__name__}: {error}"[:200]] = data
            worst = max(worst, process_time() - begun)
    for said in other:
        print(f"{kind}: {said}", file=sys.stderr, flush=True)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000.0
    cases = sum(counts.values()) + len(other)
    return [
        f".{kind}", f"{cases:,}", f"{counts['refused']:,}", f"{counts['read']:,}",
        str(len(other)), f"{worst:.2f}", f"{peak:.0f}",
    ]  # fmt: skip


def main(seconds: float) -> int:
    """Fuzz every format; 1 where one did anything but read or refuse."""
    rows = []
    for kind in sorted(sound_files()):
        with get_context("spawn").Pool(1) as pool:
            rows.append(pool.apply(fuzz, (kind, seconds)))
        print(json.dumps(rows[-1]), flush=True)
    note = f"{seconds:g} s a format, seed {SEED}, on {os.cpu_count()} cores."
    write_page("fuzz", INTRO, [Table("Damaged files", COLUMNS, rows, note)])
    return 1 if any(row[4] != "0" for row in rows) else 0


if __name__ == "__main__":
    sys.exit(main(float(sys.argv[1]) if len(sys.argv) > 1 else SECONDS))
