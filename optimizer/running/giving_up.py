"""Ending the process when there is nothing to keep. It is imported first, so it loads nothing."""

import os

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Callable

STOPPED = 130  # the exit status after Ctrl-C: 128 and the signal's number, as shells have it
GIVEN_UP = "stopped before all was ready; nothing was written"

cleanups: "list[Callable[[], None]]" = []  # what to call before the end, the last one first


def give_up(number: int = STOPPED - 128, *_: object) -> None:
    """Run the cleanups, say so in one line and end the process, whatever its threads are doing.

    This function is itself the handler of SIGINT, SIGTERM and SIGHUP, since an exception raised in
    the middle of an import or of a compiler might be swallowed there, printed, or turned into
    another one.
    """
    while cleanups:
        cleanups.pop()()
    try:  # noqa: SIM105 - contextlib takes long to load
        os.write(
            2, f"kerfwise: {GIVEN_UP}\n".encode()
        )  # not by sys.stderr, which may be in the middle of a write
    except OSError:
        pass
    os._exit(128 + number)
