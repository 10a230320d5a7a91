"""A folder of results: complete or absent."""

import errno
import os
import signal
import stat
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from optimizer.errors import InputError
from optimizer.folder.one_file import writing
from optimizer.folder.own import LIST, reason_to_keep, sign
from optimizer.folder.spared import lies_in, sparing
from optimizer.folder.swap import swap
from optimizer.folder.workspace import ASIDE, PARTIAL, WHOLE, kept_beside, let_go, workspace
from optimizer.stopping import answering


@contextmanager
def whole_folder(out: Path, replace: bool) -> Iterator[Path]:
    """A temporary folder to write in, which takes the place of ``out`` at the end.

    So ``out`` is complete or absent. To be entered before long work: whatever stands in the way is
    found on entry, and raises InputError. An existing folder keeps its mode, a link its target. A
    folder with something in it is replaced only where ``replace`` is true and kerfwise wrote all
    of it; no file in it may be read meanwhile.
    """
    with ExitStack() as stack:
        with writing(out):
            place = _place(out)
            work = stack.enter_context(workspace(place, out))
            _refuse_filled(place, out, replace)
            fresh = _fresh(work, place, out)
        stack.enter_context(sparing(place))
        yield fresh
        with answering(signal.SIG_IGN):
            with writing(out):
                sign(fresh)
                _put(fresh, place, out, replace)
            stack.close()


def _place(out: Path) -> Path:
    """Where ``out`` truly lies, links followed."""
    place = Path(os.path.realpath(out))
    if os.path.lexists(place) and not place.is_dir():
        raise InputError(f"{out}: is a file, not a folder; name another with --out")
    if lies_in(Path(), place):
        raise InputError(f"{out}: is the folder you are in, or holds it; name another with --out")
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
        # No folder takes the place of one with something in it; but whatever else would be in the
        # way of a move is found first: mount points, rights, file systems that move no folders.
        os.rename(place, fresh)
    except FileNotFoundError:
        return fresh
    except OSError as error:
        if error.errno not in (errno.ENOTEMPTY, errno.EEXIST):
            raise InputError(
                f"{out}: can't be replaced ({error.strerror}); name another, or a folder in it"
            ) from None
    return fresh


def _put(fresh: Path, place: Path, out: Path, replace: bool) -> None:
    """Put ``fresh`` in its place; where that fails after all, beside it."""
    whole = fresh.rename(fresh.with_name(WHOLE))
    try:
        if place.exists():
            whole.chmod(stat.S_IMODE(place.stat().st_mode))
        if not replace or not place.exists():
            os.rename(whole, place)  # which an empty folder may have
            return
        old = swap(whole, place, whole.with_name(ASIDE))
    except OSError as error:
        kept = kept_beside(whole, place, "new")
        raise InputError(
            f"{out}: can't be written any more ({error.strerror}); all that belongs there lies "
            f"in {kept}"
        ) from None
    let_go(old, place, out)
