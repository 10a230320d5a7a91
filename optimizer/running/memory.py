"""How much memory the work needs and how much there is, checked before it runs out.

The need was measured: the greatest resident size of runs on scans of 20,000 to 1,300,000 triangles,
on clouds of 20,000 and 60,000 points, and on photos of 2 and 16 million dots. Other pieces may need
more, so memory may still run out after the check; then one line says what is known.
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
_READ_TIMES = 3  # memory over file size, of the reader that needs least
_MEND_EACH, _PLAN_EACH = 650, 3500  # bytes a triangle
_CLOUD_EACH, _PHOTO_EACH = 5500, 32  # bytes a point, bytes a dot
# The address space is larger than the memory used, which matters where it has a limit.
_START_ADDRESSES = 600 * _MB
_MEND_EACH_ADDRESSES = 1000
_PLAN_ADDRESSES = 700 * _MB  # threads, compiler and writers
_FEWER = ", or save the scan with fewer triangles"
# Messages of other failures for want of memory: starting a thread, loading a library.
_SIGNS = re.compile(r"can't start new thread|failed to map segment|[Cc]annot allocate memory")


def refuse_no_start() -> None:
    """Raise InputError where there is too little memory to load what every command needs."""
    _refuse_need("the program needs", _START, _START_ADDRESSES)


def refuse_too_many(triangles: int, name: str, *, plan: bool = False) -> None:
    """Raise InputError where repairing, or planning in, a surface of so many triangles needs more
    memory than there is."""
    what = f"{name}: {triangles:,} triangles need"
    if plan:
        need = _START + triangles * _PLAN_EACH
        _refuse_need(what, need, need + _PLAN_ADDRESSES, _FEWER)
    else:
        addresses = _START + triangles * _MEND_EACH_ADDRESSES
        _refuse_need(what, _START + triangles * _MEND_EACH, addresses, _FEWER)


def refuse_large_cloud(points: int, name: str) -> None:
    """Raise InputError where building a surface through so many points needs more memory than
    there is."""
    need = _START + points * _CLOUD_EACH
    remedy = ", or thin the cloud evenly"
    _refuse_need(f"{name}: a surface through {points:,} points needs", need, need, remedy)


def refuse_large_photo(dots: int, name: str) -> None:
    """Raise InputError where reading a photo of so many dots needs more memory than there is."""
    need = _START + dots * _PHOTO_EACH
    _refuse_need(f"{name}: {dots:,} dots need", need, need, ", or save the photo smaller")


def refuse_too_large(size: int, name: str) -> None:
    """Raise InputError where reading a file of ``size`` bytes needs more memory than there is."""
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
    """Whether an error was caused by a lack of memory, whatever its type."""
    if isinstance(error, MemoryError) or getattr(error, "errno", None) == errno.ENOMEM:
        return True
    is_sign = isinstance(error, OSError | ImportError | RuntimeError)
    return is_sign and _SIGNS.search(str(error)) is not None


def ran_out(error: BaseException) -> str:
    """A sentence on an error that was caused by a lack of memory."""
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
    """A size of this process in bytes; 0 where the system doesn't say."""
    return _kilobytes(Path("/proc/self/status"), key) or 0


def _meminfo() -> float:
    """The memory that the system can still give, in bytes."""
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
