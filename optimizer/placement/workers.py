"""Threads for compiled work, which runs two jobs at once without Python's lock."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager


@contextmanager
def workers(count: int) -> Iterator[ThreadPoolExecutor]:
    """A pool of ``count`` threads. Left by an exception, as a second Ctrl-C is, it drops the jobs
    that wait and does not stay for those that run."""
    pool = ThreadPoolExecutor(count)
    try:
        yield pool
    except BaseException:
        pool.shutdown(wait=False, cancel_futures=True)
        raise
    pool.shutdown()
