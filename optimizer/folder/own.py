"""Which files of a folder kerfwise wrote, by the list that it leaves in each folder it writes."""

import hashlib
import os
import re
from collections.abc import Iterator
from pathlib import Path

LIST = ".kerfwise"
_HEAD = "# Written by kerfwise, which by this list knows its files again: SHA-256, name."
_MOST_BYTES = 10_000_000
_LITTER = {".DS_Store", "Thumbs.db", "desktop.ini"}  # left by programs that show folders

# Kerfwise's files in folders that were written before there were lists, or that lost their list.
_USUAL = re.compile(
    r"((plans|alternatives)/\d+/)*"
    r"(plan\.json|order\.toml|report\.html|scene\.glb|sawn\.(json|toml)|marking\.html|check\.png"
    r"|rough\.toml|rough(-flaw-\d+)?\.ply"
    r"|(stones|pieces|offcuts|flaws|face-up)/\d+(-flaw-\d+|-label)?\.(ply|toml|svg|png))"
)
_TOKENS = (("plan.json", b'"kerfwise-plan/'), ("sawn.json", b'"kerfwise-sawn/'))


def write_file_list(folder: Path) -> None:
    """Write the list of all files in ``folder`` into it."""
    names = sorted(name for name in _names(folder) if name != LIST)
    lines = [_HEAD, *(f"{_digest(folder / name)}  {name}" for name in names)]
    (folder / LIST).write_text("\n".join(lines) + "\n", encoding="utf-8")


def reason_to_keep(folder: Path) -> str | None:
    """Why ``folder`` must not be deleted: it has a file that kerfwise didn't write, or one that was
    changed since. None where there is no reason."""
    known = _on_the_list(folder) or _known_by_name(folder)
    for name in sorted(_names(folder)):
        if name == LIST or name.rsplit("/", 1)[-1] in _LITTER:
            continue
        path = folder / name
        if path.is_symlink() or not path.is_file() or name not in known:
            return f"{name} in it is not kerfwise's"
        if known[name] not in ("", _digest(path)):
            return f"{name} in it was changed since kerfwise wrote it"
    return None


def _on_the_list(folder: Path) -> dict[str, str]:
    """The digest of each file on the folder's list, by name; empty where there is no list."""
    path = folder / LIST
    if path.is_symlink() or not path.is_file() or path.stat().st_size > _MOST_BYTES:
        return {}
    lines = path.read_text(encoding="utf-8", errors="replace").splitlines()
    if not lines or lines[0] != _HEAD:
        return {}
    parts = (line.partition("  ") for line in lines[1:])
    return {name: digest for digest, _, name in parts}


def _known_by_name(folder: Path) -> dict[str, str]:
    """The files that look like kerfwise's in a folder without a list, each with an empty digest."""
    if not _looks_like_one(folder):
        return {}
    return {name: "" for name in _names(folder) if _USUAL.fullmatch(name)}


def _looks_like_one(folder: Path) -> bool:
    """Whether ``folder`` has the main file of a plan, of a real cut taken in, or of a check."""
    for name, token in _TOKENS:
        if (folder / name).is_file():
            with (folder / name).open("rb") as file:
                return token in file.read(100)
    return (folder / "marking.html").is_file() and (folder / "check.png").is_file()


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _names(folder: Path) -> Iterator[str]:
    """The relative paths of everything in ``folder``, at any depth, that is not a folder."""
    waiting = [""]
    while waiting:
        within = waiting.pop()
        with os.scandir(folder / within) as entries:
            for entry in entries:
                name = within + entry.name
                if entry.is_dir(follow_symlinks=False):
                    waiting.append(name + "/")
                else:
                    yield name
