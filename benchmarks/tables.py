"""What every benchmark shares: a clock, and pages of tables that say on what machine they arose.

Only the standard library is imported, so that a benchmark that measures memory stays small itself.
"""

import os
import platform
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
QUIET = 1.0  # a load above this before the start: others compute on the same cores
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


def load() -> float:
    """Processes that wanted the processor, averaged over the last minute."""
    return os.getloadavg()[0]


def processor() -> str:
    """The processor's name as the system gives it."""
    cpuinfo = Path("/proc/cpuinfo")
    text = cpuinfo.read_text(encoding="utf-8") if cpuinfo.exists() else ""
    names = [line.split(":", 1)[1].strip() for line in text.splitlines() if "model name" in line]
    return names[0] if names else platform.processor()


def machine(load_before: float) -> str:
    """A line on the processor, its load before and after, and the libraries."""
    libraries = ", ".join(f"{name} {version(name)}" for name in LIBRARIES)
    busy = BUSY if load_before > QUIET else ""
    return (
        f"{busy}{os.cpu_count()} cores, {processor()}; load {load_before:.1f} before and "
        f"{load():.1f} after; Python {platform.python_version()}, {libraries}."
    )


def write_page(name: str, intro: str, tables: Sequence[Table], load_before: float) -> None:
    """Write results/``name``.md and print its tables."""
    body = "\n\n".join(table.markdown() for table in tables)
    again = f"Made by `python -m benchmarks.{name}`."
    RESULTS.mkdir(exist_ok=True)
    text = f"# {name}\n\n{intro}\n\n{again} {machine(load_before)}\n\n{body}\n"
    (RESULTS / f"{name}.md").write_text(text, encoding="utf-8")
    print(body, flush=True)
