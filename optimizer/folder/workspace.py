"""The hidden folder beside a result folder, in which a run works while no other may write there."""

import errno
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from optimizer.errors import InputError
from optimizer.folder.lock import BusyError, NoLocksError, lock_folder
from optimizer.folder.own import reason_to_keep
from optimizer.running.stopping import cleaned_up
from optimizer.running.streams import print_error

# The folders in a workspace: partial, a folder being written or deleted; whole, a finished one, or
# the old one after the exchange; aside, the old one between two renames.
PARTIAL, WHOLE, ASIDE = "partial", "whole", "aside"


@contextmanager
def workspace(place: Path, out: Path) -> Iterator[Path]:
    """A folder beside ``place`` that only this run uses; it is deleted at the end.

    First, whatever a killed run left in it is restored or deleted. Missing parents of ``place`` are
    made, and deleted again if they stay empty. ``out`` is the user's name for ``place``. Raises
    OSError, InputError.
    """
    missing = [parent for parent in place.parents if not parent.exists()]
    work = place.parent / f".{place.name}.kerfwise"
    with cleaned_up(lambda: _remove_empty(missing)):
        _make(place.parent)
        lock = _locked_workspace(work, out)
        try:
            _recover(work, place, out)
            with cleaned_up(lambda: _delete(work)):
                yield work
        finally:
            if lock is not None:
                os.close(lock)


def _make(parent: Path) -> None:
    try:
        parent.mkdir(parents=True, exist_ok=True)
    except FileExistsError:  # a file of that name
        raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR)) from None


def _delete(work: Path) -> None:
    """Delete the workspace. Where the system refuses, say so: the next run with the same folder
    deletes it."""
    try:
        shutil.rmtree(work)
    except OSError as error:
        if os.path.lexists(work):
            print_error(
                f"kerfwise: {work}: can't be deleted ({error.strerror}); the next run with this "
                "--out deletes it, or delete it by hand"
            )


def _remove_empty(folders: list[Path]) -> None:
    """Remove ``folders``, the innermost first, as long as they are empty."""
    for folder in folders:
        try:
            folder.rmdir()
        except OSError:
            return


def _locked_workspace(work: Path, out: Path) -> int | None:
    """Make ``work``, or take over the one that a killed run left; return its lock, None where the
    system has no locks."""
    while True:
        made = _created(work)
        try:
            return lock_folder(work)
        except FileNotFoundError:
            continue  # the run that held it has just ended
        except BusyError:
            raise InputError(
                f"{out}: another run is writing there; wait until it ends, or name another folder"
            ) from None
        except NoLocksError:
            if made:
                return None
            raise InputError(
                f"{work}: belongs to another run, or was left by one that was killed; if no other "
                "run is writing there, delete it"
            ) from None


def _created(work: Path) -> bool:
    try:
        work.mkdir(mode=0o700)
    except FileExistsError:
        return False
    return True


def _recover(work: Path, place: Path, out: Path) -> None:
    """Put back the folder that a killed run was replacing, and delete the rest that it left."""
    if not {path.name for path in work.iterdir()} <= {PARTIAL, WHOLE, ASIDE}:
        raise InputError(f"{work}: holds files that kerfwise didn't write; move them away")
    if (work / ASIDE).exists() and not os.path.lexists(place):
        os.rename(work / ASIDE, place)
        print_error(
            f"kerfwise: {out}: put back as it was; a run was killed while replacing the folder"
        )
    for name in (PARTIAL, WHOLE, ASIDE):
        if (work / name).exists():
            discard(work / name, place, out)


def discard(folder: Path, place: Path, out: Path) -> None:
    """Delete a folder of a workspace. A replaced folder with files that kerfwise didn't write is
    kept beside ``place`` instead."""
    partial = folder.with_name(PARTIAL)
    reason = reason_to_keep(folder) if folder != partial else None
    if reason:
        kept = move_beside(folder, place, "before")
        print_error(f"kerfwise: {out}: {reason}, so the old folder is kept as {kept}")
        return
    if folder != partial:
        os.rename(folder, partial)  # a half-deleted folder would look like someone else's
    try:
        shutil.rmtree(partial)
    except OSError as error:
        print_error(f"kerfwise: {partial}: can't be deleted ({error.strerror}); delete it by hand")


def move_beside(folder: Path, place: Path, word: str) -> Path:
    """Move ``folder`` to a free name beside ``place``; return its new path."""
    names = (f"{place.name}-{word}{number}" for number in ("", *map(str, range(2, 1000))))
    free = next(path for name in names if not os.path.lexists(path := place.with_name(name)))
    os.rename(folder, free)
    return free
