"""What must hold after every run, whatever it was given."""

import re
import signal
import unicodedata
from pathlib import Path

from benchmarks.fuzzing.case import ENDED, Case, Outcome
from benchmarks.fuzzing.desk import Seen, seen
from benchmarks.fuzzing.whole import lacks

LONGEST = 500  # letters of the one line
WROTE = (0, 3)  # statuses after which the out folder is whole
FAILED = (2, 4, 130, *ENDED)  # and those with one line on stderr
PROGRESS = re.compile(r"[^\n]* \d+/\d+(, best so far [^\n]*)?|stopping: [^\n]*|proving: [^\n]*")
UNSEEN = ("Cc", "Zl", "Zp", "Cs")  # control characters, other line ends, half characters


def faults(case: Case, outcome: Outcome, before: Seen, desk: Path) -> list[str]:
    """What did not hold of a run, one line each; ``before`` is the desk as it was laid."""
    return [
        *_ending(case, outcome),
        *([] if case.mute else _words(outcome)),
        *_surroundings(case, outcome, before, desk),
        *_results(case, outcome, before, desk),
    ]


def _ending(case: Case, outcome: Outcome) -> list[str]:
    limits, status = case.limits, outcome.status
    if outcome.still:
        return ["hangs: it waits, and takes no processor time"]
    if status in (-signal.SIGXCPU, -signal.SIGKILL) and outcome.cpu_s >= limits.cpu_s:
        return [f"takes more than {limits.cpu_s:g} s of processor time"]
    if outcome.memory_mb > limits.memory_mb:
        return [f"takes more than {limits.memory_mb:g} MB"]
    return [] if status in case.statuses else [f"exit status {status}"]


def _words(outcome: Outcome) -> list[str]:
    """What it said: on failure one line, never a traceback, nothing that drives a terminal."""
    told = outcome.told.decode("utf-8", "surrogateescape")
    if "Traceback" in told:
        return ["traceback: " + _last_line(told)]
    lines = [line for line in told.split("\n")[:-1] if not PROGRESS.fullmatch(line)]
    wrong = []
    if told and not told.endswith("\n"):
        wrong.append("stderr does not end with a line end")
    if outcome.status in FAILED and len(lines) != 1:
        wrong.append(f"{len(lines)} lines on stderr: {' / '.join(lines)[:200]!r}")
    if outcome.status in FAILED and outcome.said:
        wrong.append("stdout of a failure")
    foreign = [line for line in lines if not line.startswith("kerfwise: ")]
    wrong += [f"not the program's own line: {line[:200]!r}" for line in foreign[:1]]
    wrong += [f"a line of {len(line)} letters" for line in lines if len(line) > LONGEST]
    said = outcome.said.decode("utf-8", "surrogateescape")
    drives = [c for c in told + said if c != "\n" and unicodedata.category(c) in UNSEEN]
    return wrong + ([f"control character {drives[0]!r} in what it says"] if drives else [])


def _last_line(told: str) -> str:
    """The fault of the traceback, and the last line of our code that it passed."""
    places = re.findall(r'File "[^"]*/(optimizer/[^"]*)", line (\d+)', told)
    lines = [line for line in told.splitlines() if line and not line.startswith(" ")]
    where = f" ({places[-1][0]}:{places[-1][1]})" if places else ""
    return lines[-1][:200] + where


def _surroundings(case: Case, outcome: Outcome, before: Seen, desk: Path) -> list[str]:
    """Nothing but the out folder, and folders on the way to it, may be made, changed or deleted."""
    mine, after = _but(before, case.out), _but(seen(desk), case.out)
    if case.out is not None and outcome.status not in FAILED:
        for parent in list(Path(case.out).parents)[:-1]:
            mine.setdefault(str(parent), after.get(str(parent), ()))
    wrong = [f"deleted {name!r}" for name in mine if name not in after]
    told = outcome.told.decode("utf-8", "surrogateescape")
    named = {path.name for path in desk.iterdir() if f"{path}: can't be deleted" in told}
    wrong += [f"left behind {name!r}" for name in after if name not in mine and name not in named]
    both = mine.keys() & after.keys()
    return wrong + sorted(f"changed {name!r}" for name in both if mine[name] != after[name])


def under(all_seen: Seen, out: str) -> Seen:
    """The part that lies in the out folder, and that folder."""
    return {n: what for n, what in all_seen.items() if n == out or n.startswith(out + "/")}


def _but(all_seen: Seen, out: str | None) -> Seen:
    within = {} if out is None else under(all_seen, out)
    return {name: what for name, what in all_seen.items() if name not in within}


def _results(case: Case, outcome: Outcome, before: Seen, desk: Path) -> list[str]:
    """The out folder is whole after a success, as it was after a failure, and one of the two where
    a signal ended the run."""
    if case.out is None:
        return []
    if case.arguments[0] in ("plan", "check", "sawn"):
        missing = lacks(desk / case.out, case.arguments[0])
    else:
        missing = [] if (desk / case.out).is_file() else ["wrote nothing"]
    if outcome.status in WROTE or (outcome.status not in FAILED and not missing):
        return missing
    same = under(before, case.out) == under(seen(desk), case.out)
    return [] if same else ["failed, and the out folder is not as it was"]
