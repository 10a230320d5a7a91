"""What every benchmark shares: a clock, and pages of tables that say on what machine they arose.

Only the standard library is imported, so that a benchmark that measures memory stays small itself.
"""

import os
import platform
import resource
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from time import perf_counter
from typing import TypeVar

Result = TypeVar("Result")

ROOT = Path(__file__).resolve().parent.parent
RESULTS = Path(__file__).resolve().parent / "results"
QUIET = 0.1  # cores that others may take on average before times stop being worth keeping
BUSY = "**A trial: made while others computed on the machine, so that times are too long.** "
LIBRARIES = ("numpy", "scipy", "numba", "manifold3d", "trimesh")


@dataclass(frozen=True)
class Table:
    """A title, column heads, rows of text, and a sentence on how to read them."""

    title: str
    columns: Sequence[str]
    rows: Sequence[Sequence[str]]
    note: str = ""

    def markdown(self) -> str:
        """The table as Markdown."""
        lines = [f"## {self.title}", "", _row(self.columns), _row(["---"] * len(self.columns))]
        lines += [_row(row) for row in self.rows]
        return "\n".join([*lines, *(["", self.note] if self.note else [])])


def _row(cells: Sequence[str]) -> str:
    return "| " + " | ".join(cell.replace("|", "/") for cell in cells) + " |"


def timed(job: Callable[[], Result]) -> tuple[Result, float]:
    """What ``job`` returns, and its wall time in seconds."""
    started = perf_counter()
    result = job()
    return result, perf_counter() - started


@contextmanager
def on_one_core() -> Iterator[None]:
    """This thread, and threads that it starts, kept on one core (Linux)."""
    before = os.sched_getaffinity(0)
    os.sched_setaffinity(0, {min(before)})
    try:
        yield
    finally:
        os.sched_setaffinity(0, before)


@dataclass(frozen=True)
class Clocks:
    """Seconds: the wall's, and of the processors what all processes took at usual priority and at
    low priority, and what this benchmark took."""

    wall: float
    usual: float
    low: float
    own: float

    @classmethod
    def now(cls) -> "Clocks":
        """Read them; a system that doesn't tell (no /proc/stat) counts nothing for others."""
        parts = (
            resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
        )
        own = sum(part.ru_utime + part.ru_stime for part in parts)
        stat = Path("/proc/stat")
        if not stat.exists():
            return cls(perf_counter(), own, 0.0, own)
        user, nice, system, _, _, irq, soft = map(int, stat.read_text().split()[1:8])
        tick = 1.0 / os.sysconf("SC_CLK_TCK")
        return cls(perf_counter(), (user + system + irq + soft) * tick, nice * tick, own)


_STARTED = Clocks.now()  # each benchmark is a process of its own


def others() -> tuple[float, float]:
    """Processor cores that other processes took on average since this benchmark began, at usual
    priority and at low priority, where they get what nobody else wants."""
    now = Clocks.now()
    wall = now.wall - _STARTED.wall
    usual = (now.usual - _STARTED.usual) - (now.own - _STARTED.own)
    return max(0.0, usual / wall), (now.low - _STARTED.low) / wall


def processor() -> str:
    """The processor's name as the system gives it."""
    cpuinfo = Path("/proc/cpuinfo")
    text = cpuinfo.read_text(encoding="utf-8") if cpuinfo.exists() else ""
    names = [line.split(":", 1)[1].strip() for line in text.splitlines() if "model name" in line]
    return names[0] if names else platform.processor()


def machine() -> str:
    """A line on the processor, what others took of it, and the libraries."""
    libraries = ", ".join(f"{name} {version(name)}" for name in LIBRARIES)
    usual, low = others()
    busy = BUSY if usual > QUIET else ""
    return (
        f"{busy}{os.cpu_count()} cores, {processor()}, of which others took {usual:.2f}, and "
        f"{low:.2f} more at low priority; Python {platform.python_version()}, {libraries}."
    )


def write_page(name: str, intro: str, tables: Sequence[Table]) -> None:
    """Write results/``name``.md and print its tables."""
    body = "\n\n".join(table.markdown() for table in tables)
    again = f"Made by `python -m benchmarks.{name}`."
    RESULTS.mkdir(exist_ok=True)
    text = f"# {name}\n\n{intro}\n\n{again} {machine()}\n\n{body}\n"
    (RESULTS / f"{name}.md").write_text(text, encoding="utf-8")
    print(body, flush=True)
