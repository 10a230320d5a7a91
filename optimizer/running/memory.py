"""How much memory the work needs and how much there is, told before it runs out.

What is needed was measured: the greatest resident size of runs over scans of 20,000 to 1,300,000
triangles. Other pieces may need more, so that what is let through may still run out; then what is
known is told in a line.
"""

import errno
import re
import sys
from contextlib import suppress
from pathlib import Path

from optimizer.errors import InputError
from optimizer.wording.plain_number import plain

try:
    import resource
except ImportError:  # Windows has no such limits
    resource = None  # type: ignore[assignment]

_MB, _GB = 10**6, 10**9
_START = 200 * _MB  # libraries and what they compile
_READ_TIMES = 3  # a file's size: what the least greedy of the readers takes
_MEND_EACH, _PLAN_EACH = 650, 3500  # bytes a triangle
# Addresses are taken in larger blocks than memory, which counts where a limit is set to them.
_START_ADDRESSES = 600 * _MB
_MEND_EACH_ADDRESSES = 1000
_PLAN_ADDRESSES = 700 * _MB  # threads, compiler and writers
_FEWER = ", or save the scan with fewer triangles"
# What else goes wrong where no memory is left: starting a thread, loading a library.
_SIGNS = re.compile(r"can't start new thread|failed to map segment|[Cc]annot allocate memory")


def refuse_no_start() -> None:
    """Raise InputError where the memory doesn't hold what every command loads."""
    _refuse_need("the program needs", _START, _START_ADDRESSES)


def refuse_too_many(triangles: int, name: str, *, plan: bool = False) -> None:
    """Raise InputError where mending, or planning in, a surface of so many triangles needs more
    memory than there is."""
    what = f"{name}: {triangles:,} triangles need"
    if plan:
        need = _START + triangles * _PLAN_EACH
        _refuse_need(what, need, need + _PLAN_ADDRESSES, _FEWER)
    else:
        addresses = _START + triangles * _MEND_EACH_ADDRESSES
        _refuse_need(what, _START + triangles * _MEND_EACH, addresses, _FEWER)


def refuse_too_large(size: int, name: str) -> None:
    """Raise InputError where a file of ``size`` bytes takes more memory to read than there is."""
    need = _START + _READ_TIMES * size
    _refuse_need(f"{name}: to read its {size:,} bytes needs", need, need, _FEWER)


def _refuse_need(what: str, memory: float, addresses: float, remedy: str = "") -> None:
    resident = _status("VmRSS")
    room = min([resident + _meminfo(), *_container_limits()])
    if room < memory:
        raise InputError(
            f"{what} some {_in_words(memory)} of memory, and there is {_in_words(room)}; close "
            f"other programs{remedy}"
        )
    limit = _address_limit()
    lacking = addresses - (limit - _status("VmSize") + resident)
    if lacking > 0.0:
        raise InputError(
            f"{what} an address space of some {_in_words(limit + lacking)}, and its limit (ulimit "
            f"-v) is {_in_words(limit)}; raise that{remedy}"
        )


def lacks_memory(error: BaseException) -> bool:
    """Whether an error came of too little memory, whatever it calls itself."""
    if isinstance(error, MemoryError) or getattr(error, "errno", None) == errno.ENOMEM:
        return True
    is_sign = isinstance(error, OSError | ImportError | RuntimeError)
    return is_sign and _SIGNS.search(str(error)) is not None


def ran_out(error: BaseException) -> str:
    """What is known of an error that came of too little memory, in a sentence."""
    asked = re.search(r"Unable to allocate ([\d.]+ \w+)", str(error))  # numpy says it
    more = f"{asked[1]} more" if asked else "more"
    return (
        f"memory ran out{_most_held()}, when {more} was asked for, and nothing was written; close "
        f"other programs, raise a limit that is set (ulimit -v){_FEWER}"
    )


def _address_limit() -> float:
    limit = -1 if resource is None else resource.getrlimit(resource.RLIMIT_AS)[0]
    return float("inf") if limit < 0 else limit


def _most_held() -> str:
    if resource is None:
        return ""
    unit = 1 if sys.platform == "darwin" else 1024
    return f" after {_in_words(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit)}"


def _status(key: str) -> int:
    """Of this process, in bytes; 0 where the system doesn't tell."""
    return _kilobytes(Path("/proc/self/status"), key) or 0


def _meminfo() -> float:
    """What the system can still give, in bytes."""
    free, swap = (_kilobytes(Path("/proc/meminfo"), key) for key in ("MemAvailable", "SwapFree"))
    return float("inf") if free is None else free + (swap or 0)


def _kilobytes(table: Path, key: str) -> int | None:
    try:
        found = re.search(rf"^{key}:\s+(\d+) kB$", table.read_text(), re.M)
    except OSError:
        return None
    return int(found[1]) * 1024 if found else None


def _container_limits() -> list[float]:
    """The limits of a container that the process may run in."""
    limits = []
    for name in ("memory.max", "memory/memory.limit_in_bytes"):
        with suppress(OSError, ValueError):  # no such file; "max"
            limits.append(float(int(Path("/sys/fs/cgroup", name).read_text())))
    return limits


def _in_words(size: float) -> str:
    if size < _GB:
        return f"{plain(size / _MB, 2)} MB"
    return f"{plain(size / _GB, 2)} GB"
