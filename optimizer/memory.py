"""Memory: what the program needs at least, and what is said where it runs out."""

import sys

from optimizer.errors import InputError

try:
    import resource
except ImportError:  # Windows has no such limits
    resource = None  # type: ignore[assignment]

# Of address space. With less the libraries themselves fail to load or end the process, each in its
# own way: measured, 1,000 MB were too few for a plan of a small piece and 1,200 MB enough.
LEAST_MB = 1500


def refuse_little_memory() -> None:
    """Raise InputError where the system lets this process have too little to begin with."""
    if resource is None:
        return
    most, _ = resource.getrlimit(resource.RLIMIT_AS)
    if most != resource.RLIM_INFINITY and most < LEAST_MB * 1e6:
        raise InputError(
            f"a program may take {most / 1e6:,.0f} MB of address space here, and kerfwise needs "
            f"{LEAST_MB:,} MB or more; allow it (ulimit -v unlimited)"
        )


def ran_out() -> str:
    """A sentence for a MemoryError."""
    return (
        f"memory ran out{_held()}, and nothing was written; close other programs, allow more "
        "(ulimit -v), or thin out the scan"
    )


def _held() -> str:
    """The most that this process ever held."""
    if resource is None:
        return ""
    unit = 1e6 if sys.platform == "darwin" else 1e3
    return f" after {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / unit:,.0f} MB"
