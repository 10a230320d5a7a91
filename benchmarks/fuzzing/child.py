"""Run a case in a child that has limits and may be killed."""

import os
import resource
import signal
import sys
import time
import traceback
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import count
from pathlib import Path
from typing import Any

from benchmarks.fuzzing.case import Case, Outcome
from benchmarks.tables import ROOT

STILL_S = 20.0  # without a tick of processor time while waiting: it hangs
TICK_S = 1.0 / os.sysconf("SC_CLK_TCK")
STARTING = (3.0, 400.0)  # seconds and megabytes that a fresh interpreter takes for its imports
SPARE_MB = 4000.0  # address space that is reserved and never touched: stacks, arenas, code
MOST_SAID = 1_000_000  # bytes that are looked at
SELF = "/proc/self/statm"
SMALL = "from benchmarks.fuzzing.small import shrink; shrink()"
ENTRY = "from optimizer.__main__ import main; main()"


def run(case: Case, desk: Path, beside: Path) -> Outcome:
    """Run ``case`` on ``desk``; its output goes to files in the folder ``beside``."""
    streams = [beside / "stdout", beside / "stderr"]
    sys.stdout.flush()
    sys.stderr.flush()
    base = _pages(SELF)[1] if case.start == "fork" else STARTING[1]
    child = os.fork()
    if not child:
        _be(case, desk, streams)
    status, used, still = _watch(child, case, base + case.limits.memory_mb)
    said, told = (_start(path) for path in streams)
    peak = max(0.0, used.ru_maxrss / 1000.0 - base)
    return Outcome(status, said, told, used.ru_utime + used.ru_stime, peak, still)


def _watch(child: int, case: Case, most_mb: float) -> tuple[int, Any, bool]:
    """Wait for the child, send it the case's signals, and kill it where it no longer moves or
    takes too much memory."""
    due, ticks, moved = list(case.signals), -1.0, time.monotonic()
    pause = 0.001
    still = False
    while True:
        ended, status, used = os.wait4(child, os.WNOHANG)
        if ended:
            return os.waitstatus_to_exitcode(status), used, still
        state, seconds = _state(child)
        if seconds > ticks or state == "R":
            ticks, moved = seconds, time.monotonic()
        while due and seconds >= due[0][0]:
            os.kill(child, due.pop(0)[1])
        still = time.monotonic() - moved > STILL_S
        if still or _pages(f"/proc/{child}/statm")[1] > most_mb:
            os.kill(child, signal.SIGKILL)
        time.sleep(pause)
        pause = min(0.005 if due else 0.05, pause * 1.5)


def _state(child: int) -> tuple[str, float]:
    """The child's state as the system has it, and its seconds of processor time."""
    words = Path(f"/proc/{child}/stat").read_text().rsplit(")", 1)[1].split()
    return words[0], (int(words[11]) + int(words[12])) * TICK_S


def _start(path: Path) -> bytes:
    with path.open("rb") as file:
        return file.read(MOST_SAID)


def _be(case: Case, desk: Path, streams: list[Path]) -> None:
    """Be the child: run the command and never return."""
    status = 1
    try:
        for number, path in enumerate(streams, 1):
            os.dup2(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC), number)
        os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
        os.chdir(desk)
        for name, value in case.environment.items():
            os.environ.pop(name, None) if value is None else os.environ.update({name: value})
        _limit(case)
        if case.prepare is not None:
            case.prepare()
        if case.start != "fork":
            os.environ["PYTHONPATH"] = str(ROOT)
            entry = ENTRY if case.start == "whole" else f"{SMALL}; {ENTRY}"
            os.execv(sys.executable, [sys.executable, "-c", entry, *case.arguments])
        status = _command(case)
    except BaseException:
        traceback.print_exc()
    finally:
        for stream in (sys.stdout, sys.stderr):
            stream.flush()
        os._exit(status)


def _limit(case: Case) -> None:
    own = (0.0, _pages(SELF)[0]) if case.start == "fork" else STARTING
    cpu_s = int(case.limits.cpu_s + own[0]) + 1
    resource.setrlimit(resource.RLIMIT_CPU, (cpu_s, cpu_s + 5))
    room = int((case.limits.memory_mb + own[1] + SPARE_MB) * 1e6)
    resource.setrlimit(resource.RLIMIT_AS, (room, room))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def _command(case: Case) -> int:
    from optimizer import progress
    from optimizer.__main__ import main

    sys.argv = ["kerfwise", *case.arguments]
    if case.reports is not None:
        progress.watched = _stopped_after(case.reports, progress.watched)
    try:
        main()
    except SystemExit as left:
        return left.code if isinstance(left.code, int) else 1
    return 0


def _stopped_after(reports: int, watched: Any) -> Any:
    """``watched``, with Ctrl-C at a report of progress."""
    from dataclasses import replace

    numbers = count()

    @contextmanager
    def stopped() -> Iterator[Any]:
        with watched() as watch:

            def tell(*report: Any) -> None:
                watch.progress(*report)
                if next(numbers) == reports:
                    os.kill(os.getpid(), signal.SIGINT)

            yield replace(watch, progress=tell)

    return stopped


def _pages(where: str) -> tuple[float, float]:
    """Megabytes of a process's address space, and what of them is in memory."""
    told = Path(where).read_text().split()  # zeros once it has ended
    size, resident = (int(pages) * resource.getpagesize() / 1e6 for pages in told[:2])
    return size, resident
