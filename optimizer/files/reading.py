"""Reading the user's files, all in one place: regular files only, of bounded size."""

import errno
import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from optimizer.errors import InputError
from optimizer.folder.input_guard import refuse_replaced_input
from optimizer.wording.file_kinds import file_kind

_MB, _GB = 10**6, 10**9


@dataclass(frozen=True)
class Kind:
    """A kind of file: its name in words, and the most bytes that one may have."""

    words: str
    most_bytes: int


SCAN = Kind("a scan", 4 * _GB)  # some 80 million triangles
SETTINGS = Kind("a TOML file", _MB)  # written by hand, or by kerfwise: some kB
PLAN = Kind("a plan.json", 100 * _MB)
PHOTO = Kind("a photo", 200 * _MB)
OUTLINE = Kind("an outline of points", _MB)


class NoSuchFileError(InputError):
    """There is no file of this name."""


def read_file(path: Path, kind: Kind) -> bytes:
    """The whole content of ``path``, which may be a link.

    Only a regular file is read, since a device or a pipe may give endless bytes or none, or do
    something when it is opened. Raises InputError where ``path`` is no regular file, is larger
    than ``kind`` may be, changes while it is read, doesn't fit into memory, or lies in a folder
    that this run is to replace; NoSuchFileError where there is no such file.
    """
    with _opened(path, kind) as file:
        return _whole(file, os.fstat(file.fileno()).st_size, path)


def read_start(path: Path, kind: Kind, count: int) -> bytes:
    """The first ``count`` bytes, or all where there are fewer. Raises as ``read_file`` does."""
    with _opened(path, kind) as file:
        return file.read(count) or b""


def file_size(path: Path, kind: Kind) -> int:
    """The file's size in bytes. Raises as ``read_file`` does, without reading the content."""
    with _readable_errors(path):
        found = os.stat(path)
        _refuse(found, path, kind)
        refuse_replaced_input(path)
        return found.st_size


@contextmanager
def _opened(path: Path, kind: Kind) -> Iterator[BinaryIO]:
    file_size(path, kind)
    # What the path names may change after this check, so the open file is checked again. It is
    # opened without waiting, since a pipe without a writer would block the program for ever.
    with _readable_errors(path), open(path, "rb", opener=_without_waiting) as file:
        _refuse(os.fstat(file.fileno()), path, kind)
        yield file


def _without_waiting(path: str, flags: int) -> int:
    return os.open(path, flags | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_NOCTTY", 0))


def _whole(file: BinaryIO, size: int, path: Path) -> bytes:
    try:
        data = file.read(size + 1)  # one more than there should be
    except MemoryError:
        raise InputError(
            f"{path}: has {size:,} bytes, more than the memory that is free; close other programs, "
            "or name a smaller file"
        ) from None
    if data is None or len(data) != size:  # None: the bytes would have to be waited for
        raise InputError(f"{path}: the file changed while it was read; wait until it is whole")
    return data


def _refuse(found: os.stat_result, path: Path, kind: Kind) -> None:
    """Raise InputError where ``path`` is no regular file, or is too large for its kind."""
    if stat.S_ISDIR(found.st_mode):
        raise InputError(f"{path}: is a folder; name a file in it")
    if not stat.S_ISREG(found.st_mode):
        thing = file_kind(found.st_mode)
        raise InputError(f"{path}: is a {thing}, not a file; save what it gives and name that file")
    if found.st_size > kind.most_bytes:
        raise InputError(
            f"{path}: has {found.st_size:,} bytes, more than the {kind.most_bytes:,} that "
            f"{kind.words} may have; name another"
        )


@contextmanager
def _readable_errors(path: Path) -> Iterator[None]:
    """Turn the system's errors about a path into InputErrors with a clear sentence."""
    try:
        yield
    except InputError:
        raise
    except (FileNotFoundError, NotADirectoryError):
        raise NoSuchFileError(f"{path}: there is no such file; check the path") from None
    except UnicodeEncodeError:
        raise InputError(f"{path}: has letters that no file name can have here") from None
    except ValueError:  # a NUL, which ends a name
        raise InputError(f"{path}: has a NUL character, which no file name can have") from None
    except OSError as error:
        reason = _REASONS.get(error.errno or 0, f"can't be read ({error.strerror})")
        raise InputError(f"{path}: {reason}; check the path") from None


_REASONS = {
    errno.ENAMETOOLONG: "the name is longer than a file name can be",
    errno.ELOOP: "is a link that leads back to itself",
}
