"""Numba's way in: where a kernel looks for its machine code and where it leaves it."""

import pickle
import warnings
from typing import Any

from numba.core.compiler import CompileResult
from numba.core.serialize import dumps
from numba.core.sigutils import normalize_signature

from optimizer.compiled.content import key_of
from optimizer.compiled.store import store


def keep(kernel: Any) -> None:
    """From here on keep what is compiled of ``kernel`` for the next run."""
    kernel._cache = _KernelCache(kernel)


class _KernelCache:
    """The machine code of one kernel, in the words that numba's dispatcher asks for it."""

    cache_path = None

    def __init__(self, kernel: Any) -> None:
        self.kernel = kernel

    def load_overload(self, signature: Any, target: Any) -> Any:
        """The kept result for these argument types; None: there is none."""
        target.refresh()
        name = self._name(signature, target.codegen())
        kept = store().read(name) if name else None
        return None if kept is None else CompileResult._rebuild(target, *pickle.loads(kept))

    def save_overload(self, signature: Any, result: Any) -> None:
        """Keep ``result`` unless it holds addresses of this process (numba: large arrays)."""
        name = self._name(signature, result.library.codegen)
        if name and not result.library.has_dynamic_globals and not result.lifted:
            store().write(name, dumps(result._reduce()))

    def _name(self, signature: Any, codegen: Any) -> str | None:
        """The name of the entry; None, with a warning, where not all that makes it can be told."""
        arguments, _ = normalize_signature(signature)
        function = self.kernel.py_func
        try:
            key = key_of(self.kernel, arguments, codegen.magic_tuple())
        except TypeError as fault:
            warnings.warn(f"{function.__qualname__} is compiled anew: {fault}", stacklevel=2)
            return None
        return f"{function.__name__}-{key}"
