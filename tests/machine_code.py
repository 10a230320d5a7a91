"""Kernels compiled once for all processes of the tests: numba's cache, used in turn.

Numba itself may be shared among readers only. A save reads the function's index, takes the next
free number for its code, and writes index and code one after the other: two processes that save
for different argument types at once take the same number, and one reads the other's code for its
own (numba.core.caching.IndexDataCacheFile.save). So whoever compiles a function holds a lock of
the file system on it; who waits finds the code on the disk afterwards.
"""

import contextlib
import fcntl
import os
from collections.abc import Iterator
from pathlib import Path

from numba.core import sigutils
from numba.core.compiler_lock import global_compiler_lock
from numba.core.dispatcher import Dispatcher

_held: set[str] = set()  # locks of this process, read and changed under numba's own lock


@contextlib.contextmanager
def _locked(path: str) -> Iterator[None]:
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


def take_turns() -> None:
    """From here on this process compiles a function only when no other one does.

    Functions call one another in one direction only, and so do the locks that are waited for.
    Numba's lock of the process comes first: two threads never wait for each other's file.
    """
    alone = Dispatcher.compile

    def in_turn(self: Dispatcher, signature: object) -> object:
        known = tuple(sigutils.normalize_signature(signature)[0]) in self.overloads
        cache = getattr(self._cache, "_cache_file", None)
        if known or cache is None:
            return alone(self, signature)
        Path(cache._cache_path).mkdir(parents=True, exist_ok=True)
        with global_compiler_lock, _locked(f"{cache._index_path}.lock"):
            return alone(self, signature)

    Dispatcher.compile = in_turn
