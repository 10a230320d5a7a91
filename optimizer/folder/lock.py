"""A lock on a folder, which the system releases when the process that holds it dies."""

import errno
import os
from pathlib import Path

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]


class BusyError(Exception):
    """Another process holds the lock."""


class NoLocksError(Exception):
    """The system, or the file system, has no such locks."""


def lock_folder(folder: Path) -> int:
    """Lock ``folder``; return the file descriptor that holds the lock. The caller closes it.

    Raises BusyError, NoLocksError, and FileNotFoundError where ``folder`` no longer exists.
    """
    if fcntl is None:
        raise NoLocksError
    number = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW)
    try:
        _lock(number)
        if not os.path.samestat(os.fstat(number), os.stat(folder)):
            raise FileNotFoundError  # its last holder deleted it, and another folder has its name
    except BaseException:
        os.close(number)
        raise
    return number


def _lock(number: int) -> None:
    try:
        fcntl.flock(number, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        busy = error.errno in (errno.EWOULDBLOCK, errno.EACCES)
        raise (BusyError if busy else NoLocksError) from None
