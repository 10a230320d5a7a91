"""Ctrl-C: what answers it, and what is tidied up whatever comes."""

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from optimizer.running.leaving import tidying


@contextmanager
def tidied(tidy: Callable[[], None]) -> Iterator[None]:
    """``tidy`` is called at the end, however that comes: a kill alone prevents it."""
    tidying.append(tidy)
    try:
        yield
    finally:
        tidy()
        if tidy in tidying:
            tidying.remove(tidy)


@contextmanager
def answering(answer: Callable[..., None] | signal.Handlers) -> Iterator[None]:
    """Ctrl-C is answered by ``answer``, which signal.SIG_IGN may be; then as it was before."""
    if threading.current_thread() is not threading.main_thread():
        yield  # Ctrl-C reaches the main thread alone
        return
    before = signal.signal(signal.SIGINT, answer)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
