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
    """Lock ``folder``; return the descriptor of the open file that holds the lock, for the caller
    to close at the end.

    Raises BusyError, NoLocksError; FileNotFoundError where ``folder`` is not there any more.
    """
    if fcntl is None:
        raise NoLocksError
    number = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW)
    try:
        _lock(number)
        if not os.path.samestat(os.fstat(number), os.stat(folder)):
            raise FileNotFoundError  # its last holder deleted it, and a new folder is there by now
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
