"""A folder that holds an input file of this run is not replaced."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path

from optimizer.errors import InputError

_going: ContextVar[Path | None] = ContextVar("going", default=None)


@contextmanager
def inputs_guarded(out: Path) -> Iterator[None]:
    """Inside this context ``refuse_replaced_input`` refuses files in the folder ``out``, which is
    to be replaced."""
    before = _going.set(out)
    try:
        yield
    finally:
        _going.reset(before)


def refuse_replaced_input(path: Path) -> None:
    """Called with each file that is read. Raises InputError where the file lies in the folder that
    is to be replaced."""
    out = _going.get()
    if out is not None and lies_in(path, out):
        raise InputError(
            f"{path}: this run reads it, and --replace would delete it; name another folder with "
            "--out"
        )


def lies_in(path: Path, folder: Path) -> bool:
    """Whether ``path``, with links followed, is ``folder`` or lies in it. False where either is
    missing."""
    real = Path(os.path.realpath(path))
    try:
        return any(place.samefile(folder) for place in (real, *real.parents))
    except OSError:
        return False
