"""The JSON part of a GLB file, as far as shapes go (glTF 2.0 specification, Khronos Group)."""

from typing import Annotated, TypeVar

from pydantic import BaseModel, ConfigDict, Field, ValidationError
from pydantic.alias_generators import to_camel

from optimizer.errors import InputError

Index = Annotated[int, Field(ge=0)]
Item = TypeVar("Item")
ShortList = Annotated[list[Item], Field(max_length=100_000)]  # a scan has a handful of each
Number = Annotated[float, Field(allow_inf_nan=False)]


def _numbers(count: int) -> object:
    return Field(default=None, min_length=count, max_length=count)


class _GltfObject(BaseModel):
    """Any object of glTF; keys on which no shape depends are ignored."""

    model_config = ConfigDict(strict=True, frozen=True, alias_generator=to_camel)


class Asset(_GltfObject):
    """The version of glTF that the file keeps to."""

    version: str


class Buffer(_GltfObject):
    """Bytes, of which a .glb file brings its own."""

    uri: str | None = None
    byte_length: Index


class BufferView(_GltfObject):
    """A run of bytes of a buffer."""

    buffer: Index
    byte_offset: Index = 0
    byte_length: Index
    byte_stride: Index | None = None


class Accessor(_GltfObject):
    """How the bytes of a buffer view are read as numbers."""

    buffer_view: Index | None = None
    byte_offset: Index = 0
    component_type: int
    count: Index
    type: str
    normalized: bool = False
    sparse: object = None


class Primitive(_GltfObject):
    """Triangles, or what else ``mode`` says, by the accessors of their corners."""

    attributes: dict[str, Index]
    indices: Index | None = None
    mode: int = 4
    targets: object = None


class MeshPart(_GltfObject):
    """A mesh: the primitives that it is made of."""

    primitives: ShortList[Primitive]


class Node(_GltfObject):
    """A place in the scene, with a mesh or with nodes of its own."""

    mesh: Index | None = None
    skin: Index | None = None
    children: ShortList[Index] = []
    matrix: Annotated[list[Number] | None, _numbers(16)] = None
    translation: Annotated[list[Number] | None, _numbers(3)] = None
    rotation: Annotated[list[Number] | None, _numbers(4)] = None
    scale: Annotated[list[Number] | None, _numbers(3)] = None


class Scene(_GltfObject):
    """The nodes that are shown together."""

    nodes: ShortList[Index] = []


class Document(_GltfObject):
    """The whole JSON part of a file."""

    asset: Asset
    extensions_required: ShortList[str] = []
    buffers: ShortList[Buffer] = []
    buffer_views: ShortList[BufferView] = []
    accessors: ShortList[Accessor] = []
    meshes: ShortList[MeshPart] = []
    nodes: ShortList[Node] = []
    scenes: ShortList[Scene] = []
    scene: Index | None = None


def read_document(text: bytes, name: str) -> Document:
    """``text`` checked. Raises InputError at the first thing wrong."""
    try:
        return Document.model_validate_json(text)
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        place = ".".join(str(part)[:40] for part in first["loc"][:6])
        reason = " ".join(first["msg"].split())
        raise InputError(
            f"{name}: its JSON part is damaged ({place + ': ' if place else ''}{reason}); save the "
            "scan again"
        ) from None
