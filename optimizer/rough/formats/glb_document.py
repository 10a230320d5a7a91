"""The JSON part of a GLB file, as far as shapes go (glTF 2.0 specification, Khronos Group)."""

from typing import Annotated, TypeVar

from pydantic import BaseModel, ConfigDict, Field, ValidationError
from pydantic.alias_generators import to_camel

from optimizer.errors import InputError

Index = Annotated[int, Field(ge=0)]
Item = TypeVar("Item")
Few = Annotated[list[Item], Field(max_length=100_000)]  # a scan has a handful of each
Number = Annotated[float, Field(allow_inf_nan=False)]


def _numbers(count: int) -> object:
    return Field(default=None, min_length=count, max_length=count)


class _Part(BaseModel):
    """Keys that no shape depends on are passed over."""

    model_config = ConfigDict(strict=True, frozen=True, alias_generator=to_camel)


class Asset(_Part):
    version: str


class Buffer(_Part):
    uri: str | None = None
    byte_length: Index


class BufferView(_Part):
    buffer: Index
    byte_offset: Index = 0
    byte_length: Index
    byte_stride: Index | None = None


class Accessor(_Part):
    buffer_view: Index | None = None
    byte_offset: Index = 0
    component_type: int
    count: Index
    type: str
    normalized: bool = False
    sparse: object = None


class Primitive(_Part):
    attributes: dict[str, Index]
    indices: Index | None = None
    mode: int = 4
    targets: object = None


class MeshPart(_Part):
    primitives: Few[Primitive]


class Node(_Part):
    mesh: Index | None = None
    skin: Index | None = None
    children: Few[Index] = []
    matrix: Annotated[list[Number] | None, _numbers(16)] = None
    translation: Annotated[list[Number] | None, _numbers(3)] = None
    rotation: Annotated[list[Number] | None, _numbers(4)] = None
    scale: Annotated[list[Number] | None, _numbers(3)] = None


class Scene(_Part):
    nodes: Few[Index] = []


class Document(_Part):
    asset: Asset
    extensions_required: Few[str] = []
    buffers: Few[Buffer] = []
    buffer_views: Few[BufferView] = []
    accessors: Few[Accessor] = []
    meshes: Few[MeshPart] = []
    nodes: Few[Node] = []
    scenes: Few[Scene] = []
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
