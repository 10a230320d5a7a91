"""Progress on stderr: a live line on a terminal, else one plain line every few seconds."""

import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from math import inf
from time import monotonic
from types import FrameType

from rich.console import Console
from rich.status import Status
from rich.text import Text

from optimizer.placement.search import Watch

PLAIN_EVERY_S = 5.0


class _Line:
    """Shows the latest stage; on a terminal in place, else now and then."""

    def __init__(self, status: Status | None) -> None:
        self.status = status
        self.told = monotonic()

    def __call__(self, stage: str, done: int, total: int, best: float) -> None:
        text = f"{stage} {done}/{total}"
        if 0.0 < best < inf:
            text += f", best so far {best:.3f} mm"
        if self.status is not None:
            self.status.update(Text(text))  # not as markup: titles may hold brackets
        elif monotonic() - self.told >= PLAIN_EVERY_S:
            self.told = monotonic()
            print(text, file=sys.stderr, flush=True)


@contextmanager
def watched() -> Iterator[Watch]:
    """A Watch whose ``stop`` turns true at the first Ctrl-C; a second one ends the program."""
    pressed: list[int] = []

    def on_interrupt(number: int, frame: FrameType | None) -> None:
        if pressed:
            raise KeyboardInterrupt
        pressed.append(number)
        print("stopping: keeping the best so far (Ctrl-C again to give up)", file=sys.stderr)

    before = signal.signal(signal.SIGINT, on_interrupt)
    console = Console(stderr=True)
    status = console.status("reading") if console.is_terminal else None
    try:
        if status is not None:
            status.start()
        yield Watch(lambda: bool(pressed), _Line(status))
    finally:
        if status is not None:
            status.stop()
        signal.signal(signal.SIGINT, before)
