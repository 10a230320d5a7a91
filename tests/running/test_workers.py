"""How many threads compute: as set, else as the system grants."""

import os
from threading import get_ident

import pytest

from optimizer.errors import InputError
from optimizer.running import workers
from optimizer.running.workers import SETTING, usable_cores, use_workers, worker_count


@pytest.fixture(autouse=True)
def unset(monkeypatch):
    monkeypatch.setenv(SETTING, "1")  # so that what a test sets is taken back
    monkeypatch.delenv(SETTING)


def quota(monkeypatch, tmp_path, **files):
    """Control group files of these contents, and 8 cores that the scheduler grants."""
    for name, text in files.items():
        path = tmp_path / name.replace("__", "/").replace("cpu_", "cpu.")
        path.parent.mkdir(exist_ok=True)
        path.write_text(text)
    monkeypatch.setattr(workers, "_QUOTAS", tmp_path)
    monkeypatch.setattr(os, "sched_getaffinity", lambda _: set(range(8)), raising=False)


@pytest.mark.parametrize(
    ("files", "cores"),
    [
        ({}, 8),
        ({"cpu_max": "max 100000\n"}, 8),
        ({"cpu_max": "300000 100000\n"}, 3),
        ({"cpu_max": "20000 100000\n"}, 1),
        ({"cpu_max": "9900000 100000\n"}, 8),
        ({"cpu__cpu_cfs_quota_us": "200000\n", "cpu__cpu_cfs_period_us": "100000\n"}, 2),
        ({"cpu__cpu_cfs_quota_us": "-1\n", "cpu__cpu_cfs_period_us": "100000\n"}, 8),
    ],
)
def test_cores_are_those_that_scheduler_and_container_grant(files, cores, monkeypatch, tmp_path):
    # The formats of cpu.max and cpu.cfs_quota_us: Linux kernel documentation, cgroup v2 and v1.
    quota(monkeypatch, tmp_path, **files)
    assert usable_cores() == worker_count() == cores


def test_the_setting_comes_before_the_cores(monkeypatch):
    use_workers(5)
    assert (os.environ[SETTING], worker_count()) == ("5", 5)
    with workers.workers() as pool:
        assert pool._max_workers == 5


@pytest.mark.parametrize("stated", ["0", "-1", "two", "1.5", "٣", "257", "9" * 5000])
def test_what_is_no_count_is_refused_in_a_line(stated, monkeypatch):
    monkeypatch.setenv(SETTING, stated)
    with pytest.raises(InputError, match=r"^--workers, or KERFWISE_WORKERS, must be a whole"):
        worker_count()


def test_jobs_side_by_side_keep_to_one_thread_each_and_their_order(monkeypatch):
    monkeypatch.setenv(SETTING, "3")

    def job(number: int) -> tuple[int, bool]:
        with workers.workers() as pool:
            own = list(pool.map(lambda _: get_ident(), range(4)))
        return number, own == [get_ident()] * 4

    assert workers.side_by_side(job, range(5)) == [(number, True) for number in range(5)]
    with workers.workers() as pool:
        assert pool.submit(get_ident).result() != get_ident()
