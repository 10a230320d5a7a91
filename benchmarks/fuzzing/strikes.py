"""Things that go wrong in a child of our own, at a place that can be named again."""

import os
import signal
import sys
from collections.abc import Callable
from itertools import count
from typing import Any

WRITING = ("os.mkdir", "os.rename", "os.remove", "os.rmdir", "os.chmod", "os.truncate")


def at_write(number: int, strike: Callable[[], None]) -> Callable[[], None]:
    """Strike just before the process changes its working folder's files for the nth time."""

    def prepare() -> None:
        home, numbers = os.getcwd(), count()

        def hook(event: str, given: tuple[Any, ...]) -> None:
            if _writes(event, given, home) and next(numbers) == number:
                strike()

        sys.addaudithook(hook)

    return prepare


def _writes(event: str, given: tuple[Any, ...], home: str) -> bool:
    if event == "open":
        changes = isinstance(given[1], str) and any(letter in given[1] for letter in "wax+")
    else:
        changes = event in WRITING
    return changes and _within(given[0], home)


def _within(path: Any, home: str) -> bool:
    return not isinstance(path, int) and os.path.abspath(os.fsdecode(path)).startswith(home)


def kill(number: int) -> Callable[[], None]:
    """Send this process a signal."""

    def strike() -> None:
        os.kill(os.getpid(), number)

    return strike


def refuse(number: int) -> Callable[[], None]:
    """Let the system refuse: no room, no right, a broken disk."""

    def strike() -> None:
        raise OSError(number, os.strerror(number))

    return strike


def unheard(*streams: int) -> Callable[[], None]:
    """Make streams pipes whose reader has left, and let progress be told all the time."""

    def prepare() -> None:
        from optimizer import progress

        progress.PLAIN_EVERY_S = 0.0
        for stream in streams:
            reader, writer = os.pipe()
            os.close(reader)
            os.dup2(writer, stream)

    return prepare


DIE = kill(signal.SIGKILL)
