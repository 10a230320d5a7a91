"""Handlers of Ctrl-C, and cleanups that run however the process ends."""

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from optimizer.running.giving_up import cleanups


@contextmanager
def cleaned_up(clean_up: Callable[[], None]) -> Iterator[None]:
    """Call ``clean_up`` at the end of this context, or before the process gives up; only a kill
    prevents the call."""
    cleanups.append(clean_up)
    try:
        yield
    finally:
        clean_up()
        if clean_up in cleanups:
            cleanups.remove(clean_up)


# What asks a process to end: Ctrl-C, kill, and a terminal that closes, which Windows lacks.
ENDING = tuple(getattr(signal, n) for n in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, n))


@contextmanager
def undisturbed() -> Iterator[None]:
    """Inside this context no signal that asks the process to end is heeded."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = [signal.signal(one, signal.SIG_IGN) for one in ENDING]
    try:
        yield
    finally:
        for one, handler in zip(ENDING, before, strict=True):
            # None: set by a program that embeds Python, which can't be set again from here.
            signal.signal(one, signal.SIG_DFL if handler is None else handler)


@contextmanager
def interrupt_handled_by(handler: Callable[..., None]) -> Iterator[None]:
    """Inside this context ``handler`` handles Ctrl-C; afterwards the earlier handler does again."""
    if threading.current_thread() is not threading.main_thread():
        yield  # Ctrl-C reaches the main thread alone
        return
    before = signal.signal(signal.SIGINT, handler)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
