"""A folder of results: complete or absent."""

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from optimizer.errors import InputError


def check_out(out: Path, replace: bool) -> None:
    """Raise InputError where ``out`` can't be written to: ask before a long search, too."""
    if out.exists() and not out.is_dir():
        raise InputError(f"{out}: is a file, not a folder; name another with --out")
    filled = out.is_dir() and any(out.iterdir())
    if filled and not replace:
        raise InputError(f"{out}: the folder is not empty; give --replace or name another")
    if filled and any(place.is_relative_to(out.resolve()) for place in (Path.cwd(), Path.home())):
        raise InputError(f"{out}: --replace would delete the folder you are in; name another")
    standing = next(parent for parent in out.absolute().parents if parent.exists())
    if not standing.is_dir() or not os.access(standing, os.W_OK):
        raise InputError(f"{out}: {standing} can't be written to; name another with --out")


@contextmanager
def whole_folder(out: Path, replace: bool) -> Iterator[Path]:
    """A temporary folder beside ``out`` to write in, renamed to ``out`` at the end.

    So ``out`` is complete or absent; with ``replace`` the old folder goes only once the new one is
    whole. Raises InputError where ``out`` exists and may not be replaced.
    """
    check_out(out, replace)
    out = out.absolute()
    out.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=f".{out.name}-", dir=out.parent) as workspace:
        fresh = Path(workspace) / "new"
        fresh.mkdir()
        yield fresh
        _swap(fresh, out, Path(workspace) / "old")


def _swap(fresh: Path, out: Path, aside: Path) -> None:
    """Put ``fresh`` in the place of ``out``, or leave ``out`` as it was."""
    if out.exists():
        out.rename(aside)
    try:
        fresh.rename(out)
    except BaseException:  # a second Ctrl-C just here must not lose the old folder either
        if aside.exists():
            aside.rename(out)
        raise
