"""Numba's way in: where a kernel looks for its machine code and where it leaves it."""

import pickle
from typing import Any

from numba.core.compiler import CompileResult
from numba.core.serialize import dumps
from numba.core.sigutils import normalize_signature

from optimizer.compiled.content import key_of
from optimizer.compiled.store import store


def keep(kernel: Any) -> None:
    """From here on keep what is compiled of ``kernel`` for the next run."""
    kernel._cache = _Kept(kernel)


class _Kept:
    """The machine code of one kernel, in the words that numba's dispatcher asks for it."""

    cache_path = None

    def __init__(self, kernel: Any) -> None:
        self.kernel = kernel

    def load_overload(self, signature: Any, target: Any) -> Any:
        """The kept result for these argument types; None: there is none."""
        target.refresh()
        kept = store().read(self._name(signature, target.codegen()))
        return None if kept is None else CompileResult._rebuild(target, *pickle.loads(kept))

    def save_overload(self, signature: Any, result: Any) -> None:
        """Keep ``result`` unless it holds addresses of this process (numba: large arrays)."""
        if not result.library.has_dynamic_globals and not result.lifted:
            name = self._name(signature, result.library.codegen)
            store().write(name, dumps(result._reduce()))

    def _name(self, signature: Any, codegen: Any) -> str:
        arguments, _ = normalize_signature(signature)
        key = key_of(self.kernel, arguments, codegen.magic_tuple())
        return f"{self.kernel.py_func.__name__}-{key}"
