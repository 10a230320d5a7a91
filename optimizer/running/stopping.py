"""Ctrl-C: what answers it, and what is tidied up whatever comes."""

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from optimizer.running.giving_up import cleanups


@contextmanager
def cleaned_up(clean_up: Callable[[], None]) -> Iterator[None]:
    """``clean_up`` is called at the end, however that comes: a kill alone prevents it."""
    cleanups.append(clean_up)
    try:
        yield
    finally:
        clean_up()
        if clean_up in cleanups:
            cleanups.remove(clean_up)


@contextmanager
def interrupt_handled_by(handler: Callable[..., None] | signal.Handlers) -> Iterator[None]:
    """Ctrl-C is answered by ``handler``, which signal.SIG_IGN may be; then as it was before."""
    if threading.current_thread() is not threading.main_thread():
        yield  # Ctrl-C reaches the main thread alone
        return
    before = signal.signal(signal.SIGINT, handler)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
