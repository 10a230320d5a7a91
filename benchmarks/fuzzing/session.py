"""Cases of one subject, one after the other, and what is kept of those that fail."""

import shutil
import signal
import tempfile
from collections import Counter
from dataclasses import dataclass, field, replace
from itertools import count
from pathlib import Path
from random import Random
from time import perf_counter

from benchmarks.fuzzing.case import Case, Outcome
from benchmarks.fuzzing.child import run
from benchmarks.fuzzing.desk import seen
from benchmarks.fuzzing.full_disk import unmount
from benchmarks.fuzzing.subjects import SUBJECTS
from benchmarks.fuzzing.verdict import WROTE, faults, under
from benchmarks.fuzzing.whole import lacks, rough_files
from benchmarks.tables import ROOT

KEPT = ROOT / ".fuzz"  # failing cases
MOST_ALIKE = 3  # of those that fail in the same words
DEADLY = tuple(-number for number in (signal.SIGKILL, signal.SIGTERM, signal.SIGHUP))
READ_BACK = 2  # rough files of each folder that was written, at most


@dataclass
class Tally:
    """What became of a subject's cases."""

    subject: str
    seed: int
    statuses: Counter[int] = field(default_factory=Counter)
    failed: Counter[str] = field(default_factory=Counter)  # by their first fault
    worst_s: float = 0.0
    worst_mb: float = 0.0

    def add(self, number: int, outcome: Outcome, wrong: list[str]) -> None:
        """Count a case, and keep it where something is wrong with it."""
        self.statuses[outcome.status] += 1
        self.worst_s = max(self.worst_s, outcome.cpu_s)
        self.worst_mb = max(self.worst_mb, outcome.memory_mb)
        if wrong:
            self.failed[wrong[0]] += 1
            if self.failed[wrong[0]] <= MOST_ALIKE:
                _keep(self.subject, self.seed, number, outcome, wrong)
                command = again(self.subject, self.seed, number)
                print(f"{self.subject} {number}: {wrong[0]}\n  {command}", flush=True)


def fuzz(subject: str, seed: int, seconds: float, cases: int | None) -> Tally:
    """So many cases; None: as many as the clock lets begin."""
    tally, started = Tally(subject, seed), perf_counter()
    for number in count() if cases is None else range(cases):
        if cases is None and perf_counter() - started > seconds:
            break
        with tempfile.TemporaryDirectory(prefix="fuzz-", ignore_cleanup_errors=True) as folder:
            tally.add(number, *_attempt(subject, seed, number, Path(folder)))
            unmount(Path(folder) / "desk")
    return tally


def lay(subject: str, seed: int, number: int, desk: Path) -> Case:
    """Lay a case's desk: the same whenever and wherever it is laid."""
    desk.mkdir()
    return SUBJECTS[subject](desk, Random(f"{subject} {seed} {number}"))


def _attempt(subject: str, seed: int, number: int, folder: Path) -> tuple[Outcome, list[str]]:
    desk = folder / "desk"
    case = lay(subject, seed, number, desk)
    before = seen(desk)
    outcome, wrong = run(case, desk, folder), []
    if case.mortal and outcome.status in DEADLY:
        assert case.out is not None
        whole = not lacks(desk / case.out, case.arguments[0])
        if not whole and under(seen(desk), case.out) != under(before, case.out):
            wrong = ["ended, and the out folder is neither whole nor as it was"]
        if whole and "--replace" not in case.arguments:
            return outcome, wrong  # it ended when all was done
        case = _afresh(case)
        outcome = run(case, desk, folder)
    wrong += faults(case, outcome, before, desk)
    if not wrong and outcome.status in WROTE and case.out is not None:
        wrong = _read_back(desk, case.out, folder)
    return outcome, wrong


def _afresh(case: Case) -> Case:
    """The run after the one that was ended: it succeeds, and clears away what that one left."""
    return replace(case, prepare=None, signals=(), mortal=False, statuses=frozenset(WROTE))


def _read_back(desk: Path, out: str, folder: Path) -> list[str]:
    """What was written is read again: ``check`` takes every rough file of it."""
    wrong: list[str] = []
    for path in rough_files(desk / out)[-READ_BACK:]:
        name, before = str(path.relative_to(desk)), seen(desk)
        case = Case(("check", f"./{name}"), statuses=frozenset({0}))
        found = faults(case, run(case, desk, folder), before, desk)
        wrong += [f"{name} can't be read back: {fault}" for fault in found]
    return wrong


def show(subject: str, seed: int, number: int) -> int:
    """Run one case and print what became of it; 1 where it failed."""
    with tempfile.TemporaryDirectory(prefix="fuzz-", ignore_cleanup_errors=True) as folder:
        outcome, wrong = _attempt(subject, seed, number, Path(folder))
        unmount(Path(folder) / "desk")
    _keep(subject, seed, number, outcome, wrong)
    print((KEPT / f"{subject}-{seed}-{number}" / "case.txt").read_text("utf-8", "replace"))
    return 1 if wrong else 0


def again(subject: str, seed: int, number: int) -> str:
    """The command that repeats a case."""
    return f"python -m benchmarks.fuzz --seed {seed} --case {number} {subject}"


def _keep(subject: str, seed: int, number: int, outcome: Outcome, wrong: list[str]) -> None:
    """The desk as it was laid, and what was said, for whoever mends it."""
    home = KEPT / f"{subject}-{seed}-{number}"
    shutil.rmtree(home, ignore_errors=True)
    home.mkdir(parents=True)
    case = lay(subject, seed, number, home / "desk")
    unmount(home / "desk")
    lines = [again(subject, seed, number), repr(case), "", *wrong, "", f"status {outcome.status}"]
    text = "\n".join([*lines, f"{outcome.cpu_s:.1f} s, {outcome.memory_mb:.0f} MB", "", ""])
    told = outcome.told + b"\n--- stdout\n" + outcome.said
    (home / "case.txt").write_bytes(text.encode("utf-8", "backslashreplace") + told)
