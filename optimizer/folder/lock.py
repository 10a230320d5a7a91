"""A lock on a folder, which the system takes back when its holder dies."""

import errno
import os
from pathlib import Path

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]


class BusyError(Exception):
    """Another holds the lock."""


class NoLocksError(Exception):
    """The system, or the file system, has no such locks."""


def locked(folder: Path) -> int:
    """The number of an open file that holds the lock: to be closed at the end.

    Raises BusyError, NoLocksError; FileNotFoundError where ``folder`` is not there any more.
    """
    if fcntl is None:
        raise NoLocksError
    number = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW)
    try:
        _lock(number)
        if not os.path.samestat(os.fstat(number), os.stat(folder)):
            raise FileNotFoundError  # its last holder deleted it; another is there by now
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
