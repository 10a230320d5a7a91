"""The cache that numba asks for a kernel's machine code before it compiles the kernel."""

import pickle
import warnings
from typing import Any

from numba.core.compiler import CompileResult
from numba.core.serialize import dumps
from numba.core.sigutils import normalize_signature

from optimizer.compiled.content import key_of
from optimizer.compiled.store import store


def attach_cache(kernel: Any) -> None:
    """Keep ``kernel``'s machine code for the next run, and load what an earlier run kept."""
    kernel._cache = _KernelCache(kernel)


class _KernelCache:
    """The machine code of one kernel, with the methods that numba's dispatcher calls."""

    cache_path = None

    def __init__(self, kernel: Any) -> None:
        self.kernel = kernel

    def load_overload(self, signature: Any, target: Any) -> Any:
        """The kept result for these argument types; None where none was kept."""
        target.refresh()
        name = self._name(signature, target.codegen())
        kept = store().read(name) if name else None
        return None if kept is None else CompileResult._rebuild(target, *pickle.loads(kept))

    def save_overload(self, signature: Any, result: Any) -> None:
        """Keep ``result``, unless it holds addresses that are valid only in this process (numba
        puts the addresses of large arrays into machine code)."""
        name = self._name(signature, result.library.codegen)
        if name and not result.library.has_dynamic_globals and not result.lifted:
            store().write(name, dumps(result._reduce()))

    def _name(self, signature: Any, codegen: Any) -> str | None:
        """The entry's name; None, with a warning, where the kernel uses what can't be described."""
        arguments, _ = normalize_signature(signature)
        function = self.kernel.py_func
        try:
            key = key_of(self.kernel, arguments, codegen.magic_tuple())
        except TypeError as fault:
            warnings.warn(
                f"{function.__qualname__} is compiled anew in each run: {fault}", stacklevel=2
            )
            return None
        return f"{function.__name__}-{key}"
