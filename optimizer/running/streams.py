"""The streams stdout and stderr: a failed write is remembered, and never stops the work."""

import errno
import io
import os
import select
import sys
from contextlib import suppress
from typing import Any, TextIO

from optimizer.wording.visible import visible

LONGEST_ERROR = 490  # letters of a line on stderr, so that it is read at one glance


class _RobustWriter(io.RawIOBase):
    """Writes to ``raw``; remembers a failed write and reports it as done."""

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
    """Make stdout and stderr robust: writes to a closed stream are dropped, and letters that the
    terminal lacks are shown as question marks."""
    _fill_closed()
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115
        elif stream is getattr(sys, f"__{name}__"):  # not a test's replacement
            setattr(sys, name, _made_robust(stream))
        elif hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")


def _fill_closed() -> None:
    """Open the null device in place of closed standard streams. Else the next file opened would get
    a stream's number, and with it whatever libraries print to that stream."""
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
    """Why a write to the stream failed; None where all writes succeeded, or where the reader closed
    the pipe, as ``head`` does."""
    writer = getattr(getattr(stream, "buffer", None), "raw", None)
    error = writer.write_error if isinstance(writer, _RobustWriter) else None
    return None if error is None or error.errno == errno.EPIPE else error.strerror


def print_lines(*lines: str) -> None:
    """Print lines, or texts of several lines, on stdout."""
    printed = (visible(line) for text in lines for line in text.split("\n"))
    print("\n".join(printed), flush=True)


def print_error(line: str) -> None:
    """Print a line on stderr; it is dropped where it can't be written."""
    text = visible(line, LONGEST_ERROR)
    with suppress(OSError, ValueError):  # failed, closed
        try:
            print(text, file=sys.stderr, flush=True)
        except RuntimeError:  # a signal handler, while the stream was in the middle of a write
            os.write(sys.stderr.fileno(), f"{text}\n".encode(errors="replace"))
