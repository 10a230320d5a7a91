"""Processes of the tests take turns at compiling: the second finds what the first has compiled.

For two users at once that would only be a wait. Two test processes that start without machine
code would both spend a minute of the two cores on the same kernels.
"""

import contextlib
import fcntl
import os
from collections.abc import Iterator
from pathlib import Path

from numba.core import sigutils
from numba.core.caching import NullCache
from numba.core.compiler_lock import global_compiler_lock
from numba.core.dispatcher import Dispatcher

_held: set[Path] = set()  # locks of this process, read and changed under numba's own lock


@contextlib.contextmanager
def _locked(path: Path) -> Iterator[None]:
    if path in _held:
        yield
        return
    file = os.open(path, os.O_CREAT | os.O_RDWR)
    fcntl.flock(file, fcntl.LOCK_EX)
    _held.add(path)
    try:
        yield
    finally:
        _held.discard(path)
        os.close(file)  # the lock goes with it, as it does when a process is killed


def take_turns(folder: Path) -> None:
    """From here on this process compiles a kernel only when no other one does; the locks lie in
    ``folder``.

    Kernels call one another in one direction only, and so do the locks that are waited for.
    Numba's lock of the process comes first: two threads never wait for each other's file.
    """
    folder.mkdir(parents=True, exist_ok=True)
    alone = Dispatcher.compile

    def in_turn(self: Dispatcher, signature: object) -> object:
        known = tuple(sigutils.normalize_signature(signature)[0]) in self.overloads
        if known or isinstance(self._cache, NullCache):  # numba's own functions are never kept
            return alone(self, signature)
        name = f"{self.py_func.__module__}.{self.py_func.__name__}.lock"
        with global_compiler_lock, _locked(folder / name):
            return alone(self, signature)

    Dispatcher.compile = in_turn
