"""The XML parts of a 3MF package, parsed as a stream that keeps nothing but numbers."""

from array import array
from collections.abc import Iterator
from dataclasses import dataclass, field
from xml.parsers import expat

import numpy as np

from optimizer.errors import InputError
from optimizer.mesh import Floats
from optimizer.rough.formats.parts import ScanPart, refuse_too_many

_CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02 "
_PACKAGE = "http://schemas.openxmlformats.org/package/2006/relationships "
# Extensions that leave a shape as it is, as long as it lies in one part.
_HARMLESS = (
    "http://schemas.microsoft.com/3dmanufacturing/material/",
    "http://schemas.microsoft.com/3dmanufacturing/production/",
)
_DEEPEST = 64  # elements, or components, one within the other
_LONGEST_TOKEN = 1 << 20  # bytes of one tag or text


@dataclass(frozen=True)
class ObjectUse:
    """An object by its id, and the matrix (4, 4) that places it."""

    shape: str
    matrix: Floats


@dataclass(frozen=True)
class ModelObject:
    """An object: a mesh of its own or components.

    ``parts`` meshes of ``size`` points and triangles in all, ``depth`` components deep.
    """

    mesh: ScanPart | None
    components: tuple[ObjectUse, ...]
    parts: int
    size: int
    depth: int


@dataclass
class Model:
    """The objects, build and unit that the stream has given so far."""

    unit: str | None = None
    shapes: dict[str, ModelObject] = field(default_factory=dict)
    items: list[ObjectUse] = field(default_factory=list)
    relations: list[tuple[str, str]] = field(default_factory=list)

    @property
    def held(self) -> int:
        """Points and triangles of all meshes, each counted once."""
        return sum(shape.size for shape in self.shapes.values() if shape.mesh is not None)


def parse(chunks: Iterator[bytes], name: str) -> Model:
    """A model or relationships part. Raises InputError or expat's error where it is bad."""
    reader = _Reader(name)
    parser = expat.ParserCreate(namespace_separator=" ")
    parser.StartElementHandler = reader.start
    parser.EndElementHandler = reader.end
    parser.StartDoctypeDeclHandler = reader.refuse_document_type
    parser.StartNamespaceDeclHandler = reader.namespaces.__setitem__
    fed = 0
    for chunk in chunks:
        parser.Parse(chunk, False)
        fed += len(chunk)
        if fed - parser.CurrentByteIndex > 2 * _LONGEST_TOKEN:
            raise InputError(f"{name}: its XML has a tag of over {_LONGEST_TOKEN:,} bytes")
    parser.Parse(b"", True)
    return reader.model


class _Reader:
    """Takes the elements as they come; elements outside the core namespaces are ignored."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.model = Model()
        self.path: list[str] = []
        self.namespaces: dict[str | None, str | None] = {}
        self.id = ""
        self.points = array("d")
        self.corners = array("q")
        self.components: list[ObjectUse] = []

    def start(self, tag: str, values: dict[str, str]) -> None:
        if len(self.path) >= _DEEPEST:
            raise InputError(f"{self.name}: its XML is nested deeper than {_DEEPEST} elements")
        above = self.path[-1] if self.path else ""
        local = tag.removeprefix(_CORE)
        self.path.append(local)
        try:
            self._take(above, local, values)
        except InputError:
            raise
        except (KeyError, ValueError, OverflowError):
            raise InputError(
                f'{self.name}: an element "{local[:40]}" lacks a number or has one that can\'t be '
                "read; the file is damaged, save the scan again"
            ) from None

    def _take(self, above: str, local: str, values: dict[str, str]) -> None:
        match above, local:
            case "vertices", "vertex":
                self.points.extend((float(values["x"]), float(values["y"]), float(values["z"])))
            case "triangles", "triangle":
                corners = (int(values["v1"]), int(values["v2"]), int(values["v3"]))
                self.corners.extend(corners)
            case "", "model":
                self.model.unit = values.get("unit")
                self._refuse_extensions(values.get("requiredextensions", ""))
            case "resources", "object":
                self.id = values["id"]
                self.points, self.corners, self.components = array("d"), array("q"), []
            case "components", "component":
                self.components.append(self._item(values))
            case "build", "item":
                self.model.items.append(self._item(values))
            case _, other if other == _PACKAGE + "Relationship":
                self.model.relations.append((values["Type"], values["Target"]))

    def end(self, _: str) -> None:
        if self.path.pop() == "object" and self.path[-1:] == ["resources"]:
            self._close_object()

    def refuse_document_type(self, *_: object) -> None:
        raise InputError(f"{self.name}: its XML declares a document type, which 3MF forbids")

    def _refuse_extensions(self, required: str) -> None:
        for prefix in required.split():
            if not str(self.namespaces.get(prefix)).startswith(_HARMLESS):
                raise InputError(
                    f"{self.name}: needs the 3MF extension {prefix[:60]}, which is not read here; "
                    "save a plain 3MF, or STL or PLY"
                )

    def _item(self, values: dict[str, str]) -> ObjectUse:
        if any(key.endswith(" path") for key in values):
            raise InputError(f"{self.name}: its shapes lie in several parts; save a plain 3MF")
        matrix = np.eye(4)
        if "transform" in values:  # a row vector times the matrix, row by row
            rows = np.array([float(x) for x in values["transform"].split()]).reshape(4, 3)
            matrix[:3] = rows.T
        return ObjectUse(values["objectid"], matrix)

    def _close_object(self) -> None:
        if self.id in self.model.shapes:
            raise InputError(f"{self.name}: two objects have the id {self.id[:40]}; save it again")
        if self.components:
            self.model.shapes[self.id] = self._composed()
            return
        points = np.array(self.points).reshape(-1, 3)
        faces = np.array(self.corners, np.int64).reshape(-1, 3)
        if faces.min(initial=0) < 0 or faces.max(initial=-1) >= len(points):
            raise InputError(
                f"{self.name}: a face of object {self.id[:40]} names a corner beyond its "
                f"{len(points):,}; the file is damaged, save the scan again"
            )
        size = len(points) + len(faces)
        self.model.shapes[self.id] = ModelObject(ScanPart(points, faces), (), 1, size, 0)

    def _composed(self) -> ModelObject:
        """The object's components joined. They may name earlier objects only, so that no object can
        contain itself."""
        missing = [c.shape for c in self.components if c.shape not in self.model.shapes]
        if missing:
            raise InputError(
                f"{self.name}: object {self.id[:40]} holds object {missing[0][:40]}, which does "
                "not stand before it; the file is damaged"
            )
        below = [self.model.shapes[c.shape] for c in self.components]
        depth = 1 + max(shape.depth for shape in below)
        if depth > _DEEPEST:
            raise InputError(f"{self.name}: its components are nested deeper than {_DEEPEST}")
        parts, size = sum(s.parts for s in below), sum(s.size for s in below)
        refuse_too_many(parts, size, self.model.held, self.name)
        return ModelObject(None, tuple(self.components), parts, size, depth)
