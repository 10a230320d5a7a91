"""Which files of a folder kerfwise wrote, by the list that it leaves in each folder it writes.

A folder without that list is never replaced: nothing tells whether its files were changed.
"""

import hashlib
import os
from collections.abc import Iterator
from pathlib import Path

LIST = ".kerfwise"
_HEAD = "# Written by kerfwise, which by this list knows its files again: SHA-256, name."
_EMPTY = "# empty folder:"  # in place of a digest; sha256sum skips such lines
_MOST_BYTES = 10_000_000
_LITTER = {".DS_Store", "Thumbs.db", "desktop.ini"}  # left by programs that show folders


def write_file_list(folder: Path) -> None:
    """Write the list of all files and of all empty folders in ``folder`` into it."""
    names = sorted(name for name in _names(folder) if name != LIST)
    files = [name for name in names if not name.endswith("/")]
    empty = [name for name in names if name.endswith("/")]
    lines = [_HEAD, *(f"{_digest(folder / name)}  {name}" for name in files)]
    lines += [f"{_EMPTY}  {name}" for name in empty]
    (folder / LIST).write_text("\n".join(lines) + "\n", encoding="utf-8")


def reason_to_keep(folder: Path) -> str | None:
    """Why ``folder`` must not be deleted: it has a file or an empty folder that kerfwise didn't
    write, or a file that was changed since, or it lacks the list that tells them. None where there
    is no reason. A folder whose files on the list were all taken out counts as kerfwise's."""
    known = _on_the_list(folder)
    for name in sorted(_names(folder)):
        if name.endswith("/"):
            if known is None or not any(one.startswith(name) for one in known):
                return f"the empty folder {name[:-1]} in it is not kerfwise's"
            continue
        if name == LIST or name.rsplit("/", 1)[-1] in _LITTER:
            continue
        if known is None:
            return f"{name} in it is not kerfwise's, or the list ({LIST}) that would say so is gone"
        path = folder / name
        if path.is_symlink() or not path.is_file() or name not in known:
            return f"{name} in it is not kerfwise's"
        if known[name] != _digest(path):
            return f"{name} in it was changed since kerfwise wrote it"
    return None


def _on_the_list(folder: Path) -> dict[str, str] | None:
    """The digest of each file on the folder's list, by name; None without a sound list."""
    path = folder / LIST
    if path.is_symlink() or not path.is_file() or path.stat().st_size > _MOST_BYTES:
        return None
    lines = path.read_text(encoding="utf-8", errors="replace").splitlines()
    if not lines or lines[0] != _HEAD:
        return None
    parts = (line.partition("  ") for line in lines[1:])
    return {name: digest for digest, _, name in parts}


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _names(folder: Path) -> Iterator[str]:
    """The relative paths of everything in ``folder``, at any depth, that is not a folder; and of
    folders that are empty, with a stroke at the end."""
    waiting = [""]
    while waiting:
        within, empty = waiting.pop(), True
        with os.scandir(folder / within) as entries:
            for entry in entries:
                empty, name = False, within + entry.name
                if entry.is_dir(follow_symlinks=False):
                    waiting.append(name + "/")
                else:
                    yield name
        if empty and within:
            yield within
