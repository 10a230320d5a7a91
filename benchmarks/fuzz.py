"""Give the program bad input, faults and signals: never a traceback, a hang or a loss.

python -m benchmarks.fuzz [--minutes M] [--seed S] [subject ...]    without a subject: all
python -m benchmarks.fuzz [--seed S] subject:N ...                  so many cases, and no clock
python -m benchmarks.fuzz [--seed S] --case K subject               one case again

Cases run in forks of this process, which has the program loaded, and some in processes of their
own. Those that fail are kept in .fuzz/, each with what was said and the command that repeats it.
"""

import argparse
import os
import sys
import warnings
from typing import TYPE_CHECKING

os.environ["OPENBLAS_NUM_THREADS"] = "1"  # before numpy: a process with threads forks badly

from benchmarks.fuzzing.subjects import SUBJECTS
from benchmarks.tables import Table, write_page

if TYPE_CHECKING:
    from benchmarks.fuzzing.session import Tally

SEED = 4
MINUTES = 60.0
COLUMNS = ("subject", "cases", "exit statuses", "failed", "worst CPU s", "most MB")

INTRO = """\
Seeded cases of bad input, faults and signals, each a whole run of the command. After each: an exit
status as documented; on failure one line on stderr, without control characters and of at most 500
letters; never a traceback; within limits of processor time and memory; nothing made, changed or
deleted but the out folder, and that one whole or as it was; what was written is read back."""


def main() -> int:
    """Fuzz; 1 where a case failed."""
    asked = _asked()
    _be_ready()
    from benchmarks.fuzzing.session import fuzz, show

    if asked.case is not None:
        return max(show(name, asked.seed, asked.case) for name, _ in asked.subject)
    seconds = 60.0 * asked.minutes / len(asked.subject)
    tallies: list[Tally] = []
    for name, cases in asked.subject:
        tallies.append(fuzz(name, asked.seed, seconds, cases))
        print("  ".join(_row(tallies[-1])), flush=True)
    if all(cases is None for _, cases in asked.subject):
        note = f"{asked.minutes:g} minutes in all, seed {asked.seed}, on {os.cpu_count()} cores."
        write_page("fuzz", INTRO, [Table("Cases", COLUMNS, [_row(t) for t in tallies], note)])
    return 1 if any(tally.failed for tally in tallies) else 0


def _asked() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m benchmarks.fuzz")
    parser.add_argument("--minutes", type=float, default=MINUTES, help="in all")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--case", type=int, help="this one alone, by its number")
    parser.add_argument("subject", nargs="*", type=_subject, default=[(n, None) for n in SUBJECTS])
    return parser.parse_args()


def _subject(text: str) -> tuple[str, int | None]:
    """A subject, and how many of its cases: ``paths`` or ``paths:20``."""
    name, _, cases = text.partition(":")
    if name not in SUBJECTS:
        raise argparse.ArgumentTypeError(f"{name} is none of {', '.join(SUBJECTS)}")
    return name, int(cases) if cases else None


def _be_ready() -> None:
    """Load and compile once what every fork then has."""
    from pathlib import Path
    from tempfile import TemporaryDirectory

    from benchmarks.fuzzing.signals import lay
    from benchmarks.fuzzing.small import load, shrink

    warnings.filterwarnings("ignore", message=".*fork.*", category=DeprecationWarning)
    shrink()
    with TemporaryDirectory(prefix="fuzz-") as folder:
        lay(Path(folder))
        load(Path(folder))


def _row(tally: "Tally") -> list[str]:
    statuses = ", ".join(f"{status}: {n:,}" for status, n in sorted(tally.statuses.items()))
    return [
        tally.subject, f"{sum(tally.statuses.values()):,}", statuses,
        str(sum(tally.failed.values())), f"{tally.worst_s:.1f}", f"{tally.worst_mb:.0f}",
    ]  # fmt: skip


if __name__ == "__main__":
    sys.exit(main())
