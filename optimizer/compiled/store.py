"""Machine code on the disk: a file an entry, in the user's own cache folder.

An entry is written whole under another name and then renamed, and starts with its checksum. So
processes read and write at once without a lock, and a damaged entry counts as none. A folder that
can't be used costs time and nothing else: what is compiled stays in memory, and one line says so.
"""

import os
import sys
import tempfile
from contextlib import suppress
from errno import EACCES
from functools import cache
from hashlib import sha256
from pathlib import Path

MOST_BYTES = 250_000_000  # of all entries, some twenty times all kernels; least used ones go first
TRUSTED = (0,)  # root may change anything anyway, and sets up machines for others
CHECKSUM = 32  # bytes at the start of an entry


class Store:
    """A folder of entries. After a first fault nothing more is written."""

    def __init__(self) -> None:
        self.folder: Path | None = None
        self.writable = True
        try:
            folder = _cache_home() / "kerfwise"
            self.folder = _own_folder(folder)
        except OSError as fault:
            self._give_up(f"in {folder}: {fault.strerror}")
        except RuntimeError:  # as Path.home says it
            self._give_up("since this user has no home folder")

    def read(self, name: str) -> bytes | None:
        """The entry of this name; None where there is no whole one."""
        if self.folder is None:
            return None
        path = self.folder / name
        try:
            whole = path.read_bytes()
        except OSError:
            return None
        with suppress(OSError):
            os.utime(path)  # used last: swept last
        checksum, entry = whole[:CHECKSUM], whole[CHECKSUM:]
        return entry if sha256(entry).digest() == checksum else None

    def write(self, name: str, entry: bytes) -> None:
        """Keep ``entry``, in the place of another of this name."""
        if self.folder is None or not self.writable:
            return
        try:
            _write_whole(self.folder / name, sha256(entry).digest() + entry)
        except OSError as fault:
            if self.read(name) is None:  # else another process has just written it
                self._give_up(f"in {self.folder}: {fault.strerror}")

    def _give_up(self, why: str) -> None:
        self.writable = False
        line = (
            f"kerfwise: compiled code can't be kept {why}; so each run compiles anew, which may "
            "take half a minute or more; NUMBA_CACHE_DIR may name another folder for it"
        )
        with suppress(OSError, ValueError):  # nobody listens
            print(line, file=sys.stderr, flush=True)


@cache
def store() -> Store:
    """The store of this process, opened and swept at its first use."""
    opened = Store()
    if opened.folder is not None:
        sweep(opened.folder, MOST_BYTES)
    return opened


def sweep(folder: Path, most_bytes: int) -> None:
    """Delete what was used the longest ago, until ``most_bytes`` are left.

    A process reads an entry whole, once: it never misses one that is deleted later.
    """
    with suppress(OSError):
        found = [(entry.stat(), entry.path) for entry in os.scandir(folder)]
        total = 0
        for stat, path in sorted(found, key=lambda pair: -pair[0].st_mtime):
            total += stat.st_size
            if total > most_bytes:
                os.unlink(path)


def _cache_home() -> Path:
    """The folder that the system, or NUMBA_CACHE_DIR, sets aside for what can be made again."""
    named = os.environ.get("NUMBA_CACHE_DIR")
    if named:
        return Path(named)
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Caches"
    named = os.environ.get("XDG_CACHE_HOME", "")
    return Path(named) if Path(named).is_absolute() else Path.home() / ".cache"


def _own_folder(folder: Path) -> Path:
    """Make ``folder`` where it is missing. Raises OSError where others may write in it: an entry
    is machine code, which is run unseen."""
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    if os.name == "posix":
        stat = folder.stat()
        if stat.st_uid not in (os.geteuid(), *TRUSTED) or stat.st_mode & 0o022:
            raise PermissionError(EACCES, "another user may write in it")
    return folder


def _write_whole(path: Path, content: bytes) -> None:
    handle, name = tempfile.mkstemp(dir=path.parent)
    try:
        with open(handle, "wb") as file:
            file.write(content)
        os.replace(name, path)
    except BaseException:
        with suppress(OSError):
            os.unlink(name)
        raise
