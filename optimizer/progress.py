"""Progress on stderr: a live line on a terminal, else one plain line every few seconds."""

import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from math import inf
from time import monotonic

from rich.console import Console
from rich.status import Status
from rich.text import Text

from optimizer.placement.search import Watch
from optimizer.running.giving_up import give_up
from optimizer.running.stopping import cleaned_up, interrupt_handled_by
from optimizer.running.streams import print_error
from optimizer.wording.visible import visible

PLAIN_EVERY_S = 5.0
STOPPING = (
    "stopping: nothing better is sought; the best stone so far, where there is one, is being sawn, "
    "audited and written (Ctrl-C again to give up)"
)


class _Line:
    """Shows the latest stage: on a terminal in one place, elsewhere as a line every few seconds."""

    def __init__(self, status: Status | None) -> None:
        self.status = status
        self.last_shown = monotonic()
        self.has_result = False  # whether the search has something that a stop would keep

    def keeps(self) -> None:
        """A stop would now keep something."""
        self.has_result = True

    def __call__(self, stage: str, done: int, total: int, best: float) -> None:
        text = f"{stage} {done}/{total}"
        if 0.0 < best < inf:
            self.has_result = True
            text += f", best so far about {best:.1f} mm wide"
        if self.status is not None:
            self.status.update(Text(visible(text)))  # no markup: titles may hold brackets
        elif monotonic() - self.last_shown >= PLAIN_EVERY_S:
            self.last_shown = monotonic()
            print_error(text)


@contextmanager
def watched() -> Iterator[Watch]:
    """A Watch whose ``stop`` turns true at the first Ctrl-C, which gets an answer at once. A second
    Ctrl-C, or a first one before there is anything to keep, ends the program at once."""
    pressed: list[object] = []
    console = Console(stderr=True, force_terminal=sys.stderr.isatty())  # whatever colours it has
    status = console.status("reading") if console.is_terminal else None
    line = _Line(status)

    def on_interrupt(*signal: object) -> None:
        pressed.append(signal)
        if len(pressed) > 1 or not line.has_result:
            give_up()
        print_error(STOPPING)

    def show(stage: str, done: int, total: int, best: float) -> None:
        if not pressed:  # else the line about the stop stays in sight
            line(stage, done, total, best)
        elif status is not None:
            status.update("stopping")

    with ExitStack() as stack:
        stack.enter_context(interrupt_handled_by(on_interrupt))
        if status is not None:
            stack.enter_context(cleaned_up(status.stop))
            status.start()
        yield Watch(lambda: bool(pressed), show, line.keeps)
