"""The rough stage: a scan or a rough file becomes a closed solid and what is known about it.

The names below load on first use, so that reading the data model costs nothing.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from optimizer.rough.check import describe as describe
    from optimizer.rough.flats.find import find_flats as find_flats
    from optimizer.rough.flats.find import with_flats as with_flats
    from optimizer.rough.formats.ply import write_ply as write_ply
    from optimizer.rough.load import load_rough as load_rough
    from optimizer.rough.rough_file.save import save_rough as save_rough

_HOMES = {
    "describe": "check",
    "find_flats": "flats.find",
    "load_rough": "load",
    "with_flats": "flats.find",
    "write_ply": "formats.ply",
    "save_rough": "rough_file.save",
}

__all__ = ["describe", "find_flats", "load_rough", "save_rough", "with_flats", "write_ply"]


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(import_module(f"optimizer.rough.{_HOMES[name]}"), name)
    raise AttributeError(f"module 'optimizer.rough' has no attribute {name!r}")
