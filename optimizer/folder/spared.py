"""Files that are read are spared: a folder that holds one of them is not replaced."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path

from optimizer.errors import InputError

_going: ContextVar[Path | None] = ContextVar("going", default=None)


@contextmanager
def sparing(out: Path) -> Iterator[None]:
    """Within, ``spare`` refuses files in the folder ``out``, which is to be replaced."""
    before = _going.set(out)
    try:
        yield
    finally:
        _going.reset(before)


def spare(path: Path) -> None:
    """Told of each file that is read. Raises InputError where it lies in a folder that is to be
    replaced."""
    out = _going.get()
    if out is not None and lies_in(path, out):
        raise InputError(
            f"{path}: is read, and --replace would delete it; name another folder with --out"
        )


def lies_in(path: Path, folder: Path) -> bool:
    """Whether ``path``, links followed, is ``folder`` or lies in it. False where one is absent."""
    real = Path(os.path.realpath(path))
    try:
        return any(place.samefile(folder) for place in (real, *real.parents))
    except OSError:
        return False
