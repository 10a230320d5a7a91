"""Machine code on disk: one file for each entry, in the user's own cache folder.

An entry starts with its checksum, is written under another name and then renamed. So processes can
read and write at once without a lock, and a damaged entry counts as missing. Where the folder can't
be used, machine code stays in memory, which costs only time, and one line says so.
"""

import os
import sys
import tempfile
from contextlib import suppress
from errno import EACCES
from functools import cache
from hashlib import sha256
from pathlib import Path

from optimizer.wording.visible import visible

MOST_BYTES = 250_000_000  # of all entries, about twenty times what one version's kernels take
TRUSTED = (0,)  # root, who can change anything anyway and sets up machines for others
CHECKSUM = 32  # bytes at the start of an entry


class Store:
    """A folder of entries. After the first fault in writing, nothing more is written."""

    def __init__(self) -> None:
        self.folder: Path | None = None
        self.writable = True
        try:
            folder = _cache_home() / "kerfwise"
            self.folder = _own_folder(folder)
        except OSError as fault:
            self._give_up(f"in {folder}: {fault.strerror}")
        except RuntimeError:  # from Path.home
            self._give_up("because this user has no home folder")

    def read(self, name: str) -> bytes | None:
        """The entry of this name; None where it is missing or damaged."""
        if self.folder is None:
            return None
        path = self.folder / name
        try:
            whole = path.read_bytes()
        except OSError:
            return None
        with suppress(OSError):
            os.utime(path)  # what was used last is swept last
        checksum, entry = whole[:CHECKSUM], whole[CHECKSUM:]
        return entry if sha256(entry).digest() == checksum else None

    def write(self, name: str, entry: bytes) -> None:
        """Keep ``entry`` under this name, in place of any entry already there."""
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
            f"kerfwise: compiled code can't be kept {why}; so each run compiles it anew, which may "
            "take half a minute or more; to keep it, set NUMBA_CACHE_DIR to another folder"
        )
        with suppress(OSError, ValueError):  # stderr may be closed
            print(visible(line), file=sys.stderr, flush=True)


@cache
def store() -> Store:
    """The one store of this process, opened and swept at its first use."""
    opened = Store()
    if opened.folder is not None:
        sweep(opened.folder, MOST_BYTES)
    return opened


def sweep(folder: Path, most_bytes: int) -> None:
    """Delete the entries used longest ago, until no more than ``most_bytes`` are left.

    A process reads an entry once and whole, so it never misses one that is deleted later.
    """
    with suppress(OSError):
        found = [(entry.stat(), entry.path) for entry in os.scandir(folder)]
        total = 0
        for stat, path in sorted(found, key=lambda pair: -pair[0].st_mtime):
            total += stat.st_size
            if total > most_bytes:
                os.unlink(path)


def _cache_home() -> Path:
    """The system's folder for caches, or the one that NUMBA_CACHE_DIR names."""
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
    """Make ``folder`` where it is missing. Raises OSError where other users may write in it, since
    entries are machine code, which runs unchecked."""
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
