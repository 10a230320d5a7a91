"""Two folders change places."""

import ctypes
import os
from pathlib import Path

_HERE, _EXCHANGE = -100, 2  # AT_FDCWD and RENAME_EXCHANGE of Linux


def swap(one: Path, other: Path, aside: Path) -> Path:
    """Put ``one`` in the place of ``other``; return where ``other`` lies afterwards.

    In one step where the system can do that. Else by way of ``aside``, where a kill between the two
    renames leaves ``other``. Where OSError is raised, ``other`` is where it was.
    """
    if exchanged(one, other):
        return one
    os.rename(other, aside)
    try:
        os.rename(one, other)
    except BaseException:
        os.rename(aside, other)
        raise
    return aside


def exchanged(one: Path, other: Path) -> bool:
    """Exchange two names in one step, by Linux's renameat2; False where that isn't possible."""
    try:
        renameat2 = ctypes.CDLL(None).renameat2
    except (OSError, TypeError, AttributeError):  # another system
        return False
    paths = (os.fsencode(one), os.fsencode(other))
    return bool(renameat2(_HERE, paths[0], _HERE, paths[1], _EXCHANGE) == 0)
