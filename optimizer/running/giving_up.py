"""The end of the process where there is nothing to keep. Loads at once, since it comes first."""

import os

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Callable

STOPPED = 130  # the exit status
GIVEN_UP = "stopped before all was ready; nothing was written"

cleanups: "list[Callable[[], None]]" = []  # what to call before the end, the last one first


def give_up(*_: object) -> None:
    """Tidy up, say so in one line and end, whatever threads are doing. It answers SIGINT as it is:
    an exception that arose in the middle of an import or of a compiler might be swallowed there,
    printed, or turned into another."""
    while cleanups:
        cleanups.pop()()
    try:  # noqa: SIM105 - contextlib takes long to load
        os.write(
            2, f"kerfwise: {GIVEN_UP}\n".encode()
        )  # the stream may be in the middle of a write
    except OSError:
        pass
    os._exit(STOPPED)
