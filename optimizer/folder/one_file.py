"""Writing a single new file, never over an existing one."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from optimizer.errors import InputError


@contextmanager
def writing(path: Path) -> Iterator[None]:
    """Turn the system's errors in writing ``path`` into InputErrors."""
    try:
        yield
    except FileExistsError:
        raise InputError(f"{path}: exists already; name another") from None
    except OSError as error:
        raise InputError(f"{path}: can't be written ({error.strerror}); name another") from None


def ask_new(path: Path) -> None:
    """Raise InputError where no new file ``path`` can be written. Called before long work."""
    write_new(path, b"")
    path.unlink()


def write_new(path: Path, data: bytes) -> None:
    """Write a new file, whole or not at all. Raises InputError, also where ``path`` exists."""
    with writing(path):
        file = path.open("xb")
        try:
            with file:
                file.write(data)
        except BaseException:
            os.unlink(path)
            raise
