"""Everything that a kernel's machine code is made from, described as text.

Two kernels with the same text have the same machine code. Numba's own cache checks only whether
the kernel's own file has changed. A constant, a named tuple or a called kernel in another file may
have changed too, and then the old machine code would still run. So the text describes all of them
as they stand in memory: bytecode, constants, default values, named tuples and called kernels, down
to the last. A value of any other kind is refused, and machine code made from it isn't kept; to use
such a value in a kernel, describe it here first.
"""

import os
import sys
from collections.abc import Iterator
from functools import cache
from hashlib import sha256
from types import CodeType, ModuleType
from typing import Any

import llvmlite
import numba
import numpy as np
from numba.core.dispatcher import Dispatcher
from numba.core.types.abstract import Number
from numba.core.types.containers import BaseTuple, List
from numba.core.types.misc import NoneType, Omitted
from numba.core.types.npytypes import Array
from numba.core.types.scalars import Boolean

PACKAGE = __name__.partition(".")[0]
TYPES = (Array, Boolean, NoneType, Number, Omitted)
PLAIN = (bool, int, float, complex, str, bytes, type(None), np.generic)
# What a code object is made of, except its constants (see ``_constant``) and its place in the file.
CODE = (
    *("co_code", "co_exceptiontable", "co_names", "co_varnames", "co_freevars", "co_cellvars"),
    *("co_argcount", "co_posonlyargcount", "co_kwonlyargcount", "co_flags"),
)


def key_of(kernel: Any, argument_types: tuple[Any, ...], processor: tuple[str, ...]) -> str:
    """The key of ``kernel``'s machine code for those types on that ``processor``: 64 letters.

    Raises TypeError where the kernel uses a value that can't be described.
    """
    arguments = [_type(each) for each in argument_types]
    whole = _compiler(), processor, arguments, content(kernel)
    return sha256(repr(whole).encode()).hexdigest()


def content(kernel: Any) -> object:
    """All that ``kernel`` is made from, in plain tuples and numbers: their repr is the text."""
    return _kernel(kernel, set())


def _compiler() -> object:
    """What compiles the kernel: the versions of the libraries, and numba's settings."""
    versions = sys.version, numba.__version__, llvmlite.__version__, np.__version__
    named = {name: value for name, value in os.environ.items() if name.startswith("NUMBA_")}
    named.pop("NUMBA_CACHE_DIR", None)
    return versions, sorted(named.items())


def _type(numba_type: Any) -> object:
    """A type of numba's by its name, which lacks only the field names of a named tuple."""
    name = str(numba_type)
    if isinstance(numba_type, BaseTuple):
        names = _named_tuple(numba_type.instance_class) if hasattr(numba_type, "fields") else ()
        return name, names, [_type(each) for each in numba_type.types]
    if isinstance(numba_type, List):
        return name, _type(numba_type.dtype)
    if isinstance(numba_type, TYPES):
        return name
    raise TypeError(f"{__name__} can't describe the kernel argument {name}")


def _kernel(kernel: Any, met: set[int]) -> object:
    function = kernel.py_func
    name = f"{function.__module__}.{function.__qualname__}"
    if id(kernel) in met:
        return name
    met.add(id(kernel))
    code = function.__code__
    used = {name for each in _codes(code) for name in each.co_names}
    values = {name: function.__globals__[name] for name in used & function.__globals__.keys()}
    inner = [cell.cell_contents for cell in function.__closure__ or ()]
    defaults = function.__defaults__, tuple((function.__kwdefaults__ or {}).items())
    return (
        name,
        sorted(kernel.targetoptions.items()),
        _code(code),
        [_value(value, met) for value in (*defaults, *inner)],
        [(name, _value(values[name], met)) for name in sorted(values)],
    )


def _codes(code: CodeType) -> Iterator[CodeType]:
    """A function's code and the code of the functions defined inside it."""
    yield code
    for constant in code.co_consts:
        if isinstance(constant, CodeType):
            yield from _codes(constant)


@cache
def _code(code: CodeType) -> str:
    whole = [
        ([getattr(each, part) for part in CODE], [_constant(value) for value in each.co_consts])
        for each in _codes(code)
    ]
    return sha256(repr(whole).encode()).hexdigest()


def _constant(value: object) -> str:
    if isinstance(value, CodeType):
        return value.co_name
    return repr(sorted(map(repr, value)) if isinstance(value, frozenset) else value)


def _value(value: Any, met: set[int]) -> object:
    """A value that a kernel looks up by name, or the default of an argument."""
    if isinstance(value, Dispatcher):
        return _kernel(value, met)
    if isinstance(value, tuple):
        return _name(type(value)), [_value(each, met) for each in value]
    if isinstance(value, np.ndarray):
        layout = str(value.dtype), value.shape, value.strides
        return layout, sha256(value.tobytes()).hexdigest()
    if isinstance(value, PLAIN):
        return _name(type(value)), repr(value)
    if isinstance(value, type) and hasattr(value, "_fields"):
        return _named_tuple(value)
    if isinstance(value, ModuleType) and not _ours(value.__name__):
        return value.__name__
    if callable(value) and not _ours(value.__module__):
        return _name(value)
    raise TypeError(f"{__name__} can't describe {value!r}, which the kernel uses")


def _named_tuple(kind: Any) -> object:
    return _name(kind), kind._fields


def _name(named: Any) -> str:
    return f"{named.__module__}.{named.__qualname__}"


def _ours(module: str) -> bool:
    return module.partition(".")[0] == PACKAGE
