"""3MF scans: the build of the package's model (3MF Core Specification 1.3, 3MF Consortium).

Colours and materials are not read.
"""

import io
import zipfile
import zlib
from xml.parsers import expat

import numpy as np

from optimizer.errors import InputError
from optimizer.mesh import Floats
from optimizer.rough.formats.parts import ScanPart, refuse_too_many, together
from optimizer.rough.formats.scan import FileUnit, Scan
from optimizer.rough.formats.threemf_model import Model, ModelObject, ObjectUse, parse

_RELATIONS = "_rels/.rels"
_MODEL_KIND = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
_UNITS = {
    "micron": 0.001, "millimeter": 1.0, "centimeter": 10.0, "inch": 25.4, "foot": 304.8,
    "meter": 1000.0,
}  # fmt: skip
_LOOSEST = 200  # greatest ratio of a part's size to its packed size; coordinates pack about 5 : 1
_ALWAYS_READ = 1_000_000  # bytes: a part no larger than this is read whatever its ratio
_CHUNK = 1 << 20
_BROKEN = (
    zipfile.BadZipFile, zlib.error, EOFError, OSError, ValueError, NotImplementedError,
    RuntimeError, OverflowError, KeyError, IndexError, expat.ExpatError, LookupError,
)  # fmt: skip


def read_3mf(data: bytes, name: str) -> Scan:
    """Read the bytes of a 3MF package. Raises InputError where it is damaged, swollen or unread."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as package:
            relations = _parsed(package, _RELATIONS, name)
            starts = [target for kind, target in relations.relations if kind == _MODEL_KIND]
            if len(starts) != 1:
                raise InputError(
                    f"{name}: names {len(starts)} models, not one; the file is damaged"
                )
            model = _parsed(package, starts[0].lstrip("/"), name)
    except InputError:
        raise
    except _BROKEN as error:
        reason = " ".join(str(error).split())[:100]
        raise InputError(
            f"{name}: the package cannot be read ({reason}); it is cut short or damaged, save the "
            "scan again"
        ) from None
    whole = together(_built(model, name))
    return Scan(whole.points, whole.faces, unit=_unit(model, name))


def _parsed(package: zipfile.ZipFile, path: str, name: str) -> Model:
    """A part of the package, read bit by bit, and never beyond its greatest allowed size."""
    if package.namelist().count(path) != 1:
        raise InputError(f"{name}: lacks the part {path[:80]}, or has it twice; save it again")
    entry = package.getinfo(path)
    if entry.file_size > max(_ALWAYS_READ, _LOOSEST * entry.compress_size):
        raise InputError(
            f"{name}: {path[:80]} swells to {entry.file_size:,} bytes from {entry.compress_size:,},"
            " as no scan does; it is not read"
        )
    with package.open(entry) as part:
        return parse(iter(lambda: part.read(_CHUNK), b""), name)


def _unit(model: Model, name: str) -> FileUnit:
    if model.unit is None:
        return FileUnit(1.0, "3MF counts in millimetres", firm=False)
    if model.unit not in _UNITS:
        raise InputError(f'{name}: the unit "{model.unit[:40]}" is none of {", ".join(_UNITS)}')
    return FileUnit(_UNITS[model.unit], f'the file states the unit "{model.unit}"', firm=True)


def _built(model: Model, name: str) -> list[ScanPart]:
    """The shapes of the build, where it puts them."""
    parts, triangles = 0, 0
    for item in model.items:
        shape = _shape(model, item, name)
        parts, triangles = parts + shape.parts, triangles + shape.size
    refuse_too_many(parts, triangles, model.held, name)
    return [part for item in model.items for part in _placed(model, item, np.eye(4), name)]


def _shape(model: Model, item: ObjectUse, name: str) -> ModelObject:
    if item.shape not in model.shapes:
        raise InputError(f"{name}: builds object {item.shape[:40]}, which it lacks; save it again")
    return model.shapes[item.shape]


def _placed(model: Model, item: ObjectUse, matrix: Floats, name: str) -> list[ScanPart]:
    """The item's own mesh and its components' under ``matrix`` (4, 4)."""
    shape = _shape(model, item, name)
    with np.errstate(over="ignore", invalid="ignore"):
        matrix = matrix @ item.matrix
    own = [shape.mesh.moved(matrix)] if shape.mesh is not None else []
    return own + [p for below in shape.components for p in _placed(model, below, matrix, name)]
