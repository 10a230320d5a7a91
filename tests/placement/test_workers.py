"""Threads that are not waited for once nobody needs them."""

from threading import Event

import pytest

from optimizer.running.workers import workers


def test_left_in_good_order_all_is_done():
    with workers() as pool:
        jobs = [pool.submit(pow, 2, k) for k in range(5)]
    assert [job.result() for job in jobs] == [1, 2, 4, 8, 16]


def test_left_by_an_exception_what_runs_is_not_waited_for_and_what_waits_is_dropped(monkeypatch):
    monkeypatch.setenv("KERFWISE_WORKERS", "1")
    begun, finish, later, jobs = Event(), Event(), [], []

    def runs() -> bool:
        begun.set()
        return finish.wait(30.0)

    def broken_off() -> None:
        with workers() as pool:
            jobs.append(pool.submit(runs))
            pool.submit(later.append, 1)
            assert begun.wait(30.0)
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        broken_off()
    assert jobs[0].running()  # had it been waited for, it would have ended
    finish.set()
    assert jobs[0].result()
    assert later == []
