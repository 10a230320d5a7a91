"""Exchanging two folders."""

import ctypes
import os
from pathlib import Path

_HERE, _EXCHANGE = -100, 2  # AT_FDCWD and RENAME_EXCHANGE of Linux


def swap(one: Path, other: Path, aside: Path) -> Path:
    """Put ``one`` in the place of ``other``; return where ``other`` lies afterwards.

    This is one step where the system can exchange names. Else ``other`` is first renamed to
    ``aside``, and stays there if the process is killed between the two renames. Where OSError is
    raised, ``other`` is back in its place.
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
    """Exchange two names in one step by Linux's renameat2; False where that isn't possible."""
    try:
        renameat2 = ctypes.CDLL(None).renameat2
    except (OSError, TypeError, AttributeError):  # another system
        return False
    paths = (os.fsencode(one), os.fsencode(other))
    return bool(renameat2(_HERE, paths[0], _HERE, paths[1], _EXCHANGE) == 0)
