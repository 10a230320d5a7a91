"""How many threads compute side by side, and the pools that they run in.

Compiled kernels release Python's lock, so threads use every core. What they compute is taken in the
order of the jobs, so that results don't depend on how many there are.
"""

import os
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from threading import local
from typing import Any, TypeVar

from optimizer.errors import InputError

Item = TypeVar("Item")
Result = TypeVar("Result")

SETTING = "KERFWISE_WORKERS"
MOST = 256  # more threads than this are a slip of the keyboard
_QUOTAS = Path("/sys/fs/cgroup")
_THIS_THREAD = local()


class _OneThread(ThreadPoolExecutor):
    """A pool whose jobs run in the thread that submits them."""

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        done: Future[Any] = Future()
        done.set_result(fn(*args, **kwargs))
        return done


def side_by_side(job: Callable[[Item], Result], items: Iterable[Item]) -> list[Result]:
    """``job`` of every item, in order. Each job keeps to one thread, also in the pools that it
    opens itself: so for many long jobs, which would spread their own short ones badly."""

    def alone(item: Item) -> Result:
        _THIS_THREAD.alone = True
        return job(item)

    with workers() as pool:
        return list(pool.map(alone, items))


@contextmanager
def workers() -> Iterator[ThreadPoolExecutor]:
    """A pool of ``worker_count`` threads. Left by an exception, as a second Ctrl-C is, it drops the
    jobs that wait and does not stay for those that run."""
    alone = getattr(_THIS_THREAD, "alone", False)
    pool = _OneThread(1) if alone else ThreadPoolExecutor(worker_count())
    try:
        yield pool
    except BaseException:
        pool.shutdown(wait=False, cancel_futures=True)
        raise
    pool.shutdown()


def use_workers(count: int | None) -> None:
    """Set KERFWISE_WORKERS for this run; None leaves it as it is. Raises InputError as
    ``worker_count`` does."""
    if count is not None:
        os.environ[SETTING] = str(count)
    worker_count()


def worker_count() -> int:
    """The number that KERFWISE_WORKERS sets; without it, one for each core this process may use.

    Raises InputError where KERFWISE_WORKERS is no whole number from 1 to ``MOST``.
    """
    stated = os.environ.get(SETTING, "")
    if not stated:
        return usable_cores()
    if not stated.isascii() or not stated.isdecimal() or not 1 <= int(stated[:9]) <= MOST:
        raise InputError(
            f"--workers, or {SETTING}, must be a whole number from 1 to {MOST}; leave it out for "
            "every core"
        )
    return int(stated)


def usable_cores() -> int:
    """How many cores the scheduler and the container's quota let this process use, 1 at least."""
    if hasattr(os, "sched_getaffinity"):
        cores = len(os.sched_getaffinity(0))
    else:
        cores = os.cpu_count() or 1
    return max(1, min(cores, _quota(), MOST))


def _quota() -> int:
    """The whole cores that a Linux control group grants; ``MOST`` where it sets no limit."""
    try:
        limit, span = (_QUOTAS / "cpu.max").read_text().split()
        return round(int(limit) / int(span))
    except (OSError, ValueError):  # no control group of version 2, or "max"
        pass
    try:
        quota, period = (
            int((_QUOTAS / f"cpu/cpu.cfs_{name}_us").read_text()) for name in ("quota", "period")
        )
        return round(quota / period) if quota > 0 else MOST
    except (OSError, ValueError):
        return MOST
