"""The streams stdout and stderr: a write that fails is kept in mind, and never stops the work."""

import errno
import io
import os
import select
import sys
from contextlib import suppress
from typing import Any, TextIO

from optimizer.wording.visible import visible

MOST_TOLD = 490  # letters of a line on stderr, which is to be taken in at one look


class _Steady(io.RawIOBase):
    """Writes to ``raw``, and takes what can't be written for written."""

    def __init__(self, raw: io.RawIOBase) -> None:
        self.raw = raw
        self.trouble: OSError | None = None

    def write(self, data: Any) -> int:
        try:
            while (written := self.raw.write(data)) is None:  # a pipe that is full, not broken
                select.select([], [self.raw], [])
        except OSError as error:
            self.trouble = error
            return len(data)
        return written

    def writable(self) -> bool:
        return True

    def fileno(self) -> int:
        return self.raw.fileno()

    def isatty(self) -> bool:
        return self.raw.isatty()


def ready_streams() -> None:
    """Make stdout and stderr steady. A closed one swallows what is said; letters that a terminal
    lacks show as question marks."""
    _fill_closed()
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115
        elif stream is getattr(sys, f"__{name}__"):  # no stand-in
            setattr(sys, name, _steady(stream))
        elif hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")


def _fill_closed() -> None:
    """Else the next file to be opened gets the number of a closed stream, and what a library says
    there."""
    for number in (0, 1, 2):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # takes the least free number


def _steady(stream: TextIO) -> TextIO:
    stream.flush()
    raw: Any = getattr(stream.buffer, "raw", stream.buffer)  # PYTHONUNBUFFERED: without a buffer
    buffer = io.BufferedWriter(_Steady(raw))
    return io.TextIOWrapper(buffer, stream.encoding, "replace", line_buffering=True)


def trouble(stream: TextIO) -> str | None:
    """Why not all that was said on a stream could be written; None where it was, or where the
    reader has left, as ``head`` does."""
    steady = getattr(getattr(stream, "buffer", None), "raw", None)
    error = steady.trouble if isinstance(steady, _Steady) else None
    return None if error is None or error.errno == errno.EPIPE else error.strerror


def say(*lines: str) -> None:
    """Print lines, or texts of several, on stdout."""
    told = (visible(line) for text in lines for line in text.split("\n"))
    print("\n".join(told), flush=True)


def tell(line: str) -> None:
    """Say a line on stderr, which is lost where it can't be written."""
    with suppress(OSError, ValueError, RuntimeError):  # failed, closed, in the middle of a write
        print(visible(line, MOST_TOLD), file=sys.stderr, flush=True)
