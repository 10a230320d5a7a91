"""Kernels: functions that numba compiles, once for each set of argument types.

The machine code is kept for the next run (``kernel_cache.py``) under a key that covers all it was
made from (``content.py``), so code made from other sources never runs. A kernel releases the
interpreter's lock, so threads can run kernels side by side.
"""

from collections.abc import Callable
from typing import Any, ParamSpec, TypeVar, overload

from numba import njit

from optimizer.compiled.kernel_cache import attach_cache

P = ParamSpec("P")
R = TypeVar("R")


@overload
def compiled(function: Callable[P, R]) -> Callable[P, R]: ...


@overload
def compiled(
    *, error_model: str = "python", inline: str = "never"
) -> Callable[[Callable[P, R]], Callable[P, R]]: ...


def compiled(function: Callable[..., Any] | None = None, **options: str) -> Callable[..., Any]:
    """Make ``function`` a kernel.

    ``error_model="numpy"``: division by zero gives inf or nan instead of an exception.
    ``inline="always"``: the kernel becomes part of each kernel that calls it.
    """

    def kernel_of(function: Callable[..., Any]) -> Callable[..., Any]:
        kernel = njit(nogil=True, **options)(function)
        attach_cache(kernel)
        return kernel  # type: ignore[no-any-return]

    return kernel_of if function is None else kernel_of(function)
