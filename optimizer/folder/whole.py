"""A folder of results: complete or absent."""

import errno
import os
import stat
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from optimizer.errors import InputError
from optimizer.folder.input_guard import inputs_guarded, lies_in
from optimizer.folder.one_file import writing
from optimizer.folder.own import LIST, reason_to_keep, write_file_list
from optimizer.folder.swap import swap
from optimizer.folder.workspace import ASIDE, PARTIAL, WHOLE, discard, move_beside, workspace
from optimizer.running.stopping import undisturbed
from optimizer.wording.file_kinds import file_kind


@contextmanager
def whole_folder(out: Path, replace: bool) -> Iterator[Path]:
    """A temporary folder to write in, which takes the place of ``out`` at the end.

    So ``out`` is complete or absent. Enter the context before long work: on entry it raises
    InputError for whatever would prevent the writing. An existing folder keeps its mode, and a link
    its target. A folder that is not empty is replaced only where ``replace`` is true and kerfwise
    wrote every file in it, and this run reads none of these files.
    """
    with ExitStack() as stack:
        with writing(out):
            place = _resolved(out)
            work = stack.enter_context(workspace(place, out))
            _refuse_filled(place, out, replace)
            fresh = _fresh(work, place, out)
        stack.enter_context(inputs_guarded(place))
        yield fresh
        with undisturbed():
            with writing(out):
                write_file_list(fresh)
                _install(fresh, place, out, replace)
            stack.close()


def _resolved(out: Path) -> Path:
    """The path of ``out`` with links followed."""
    place = Path(os.path.realpath(out))
    if os.path.islink(place):  # realpath follows every link but this one
        raise InputError(f"{out}: is a link that leads back to itself; name another with --out")
    if os.path.lexists(place) and not place.is_dir():
        kind = file_kind(place.stat().st_mode)
        raise InputError(f"{out}: is a {kind}, not a folder; name another with --out")
    if lies_in(Path(), place):
        raise InputError(f"{out}: is your current folder, or one above it; name another with --out")
    return place


def _refuse_filled(place: Path, out: Path, replace: bool) -> None:
    if not place.exists() or not any(place.iterdir()):
        return
    if not replace:
        raise InputError(f"{out}: the folder is not empty; give --replace or name another")
    if reason := reason_to_keep(place):
        raise InputError(
            f"{out}: {reason}, and --replace would delete it; move it away, or name another"
        )


def _fresh(work: Path, place: Path, out: Path) -> Path:
    """The folder to write in. Raises InputError where it can't take the place of ``out``."""
    fresh = work / PARTIAL
    fresh.mkdir()
    (fresh / LIST).touch()
    try:
        # This rename fails anyway, since ``fresh`` is not empty. But the system reports first any
        # other obstacle: mount points, rights, file systems that can't move folders.
        os.rename(place, fresh)
    except FileNotFoundError:
        return fresh
    except OSError as error:
        if error.errno not in (errno.ENOTEMPTY, errno.EEXIST):
            raise InputError(
                f"{out}: can't be replaced ({error.strerror}); name another, or one inside it"
            ) from None
    return fresh


def _install(fresh: Path, place: Path, out: Path, replace: bool) -> None:
    """Move ``fresh`` to ``place``; where that fails, keep it beside ``place``."""
    whole = fresh.rename(fresh.with_name(WHOLE))
    try:
        if place.exists():
            whole.chmod(stat.S_IMODE(place.stat().st_mode))
        if not replace or not place.exists():
            os.rename(whole, place)  # also over an empty folder
            return
        old = swap(whole, place, whole.with_name(ASIDE))
    except OSError as error:
        kept = move_beside(whole, place, "new")
        raise InputError(
            f"{out}: can't be written any more ({error.strerror}); everything that belongs there "
            f"lies in {kept}"
        ) from None
    discard(old, place, out)
