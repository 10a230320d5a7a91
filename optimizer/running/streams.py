"""The streams stdout and stderr: a write that fails is kept in mind, and never stops the work."""

import errno
import io
import os
import select
import sys
from contextlib import suppress
from typing import Any, TextIO

from optimizer.wording.visible import visible

LONGEST_ERROR = 490  # letters of a line on stderr, which is to be taken in at one look


class _RobustWriter(io.RawIOBase):
    """Writes to ``raw``, and takes what can't be written for written."""

    def __init__(self, raw: io.RawIOBase) -> None:
        self.raw = raw
        self.write_error: OSError | None = None

    def write(self, data: Any) -> int:
        try:
            while (written := self.raw.write(data)) is None:  # a pipe that is full, not broken
                select.select([], [self.raw], [])
        except OSError as error:
            self.write_error = error
            return len(data)
        return written

    def writable(self) -> bool:
        return True

    def fileno(self) -> int:
        return self.raw.fileno()

    def isatty(self) -> bool:
        return self.raw.isatty()


def make_streams_robust() -> None:
    """Make stdout and stderr steady. A closed one swallows what is said; letters that a terminal
    lacks show as question marks."""
    _fill_closed()
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115
        elif stream is getattr(sys, f"__{name}__"):  # no stand-in
            setattr(sys, name, _made_robust(stream))
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


def _made_robust(stream: TextIO) -> TextIO:
    stream.flush()
    raw: Any = getattr(stream.buffer, "raw", stream.buffer)  # PYTHONUNBUFFERED: without a buffer
    buffer = io.BufferedWriter(_RobustWriter(raw))
    return io.TextIOWrapper(buffer, stream.encoding, "replace", line_buffering=True)


def write_error(stream: TextIO) -> str | None:
    """Why not all that was said on a stream could be written; None where it was, or where the
    reader has left, as ``head`` does."""
    writer = getattr(getattr(stream, "buffer", None), "raw", None)
    error = writer.write_error if isinstance(writer, _RobustWriter) else None
    return None if error is None or error.errno == errno.EPIPE else error.strerror


def print_lines(*lines: str) -> None:
    """Print lines, or texts of several, on stdout."""
    told = (visible(line) for text in lines for line in text.split("\n"))
    print("\n".join(told), flush=True)


def print_error(line: str) -> None:
    """Say a line on stderr, which is lost where it can't be written."""
    with suppress(OSError, ValueError, RuntimeError):  # failed, closed, in the middle of a write
        print(visible(line, LONGEST_ERROR), file=sys.stderr, flush=True)
