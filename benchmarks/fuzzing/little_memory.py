"""Little memory: an address space that ends a few megabytes further on."""

import resource
from collections.abc import Callable
from pathlib import Path
from random import Random

from benchmarks.fuzzing.case import NEVER, Case
from benchmarks.fuzzing.signals import LIMITS, lay, sound

MEGABYTE = 1_000_000


def case(desk: Path, chance: Random) -> Case:
    """A sound command in an address space that ends soon."""
    lay(desk)
    prepare = _room(round(10.0 ** chance.uniform(0.0, 3.0)) * MEGABYTE)
    return Case(*sound(chance), reports=NEVER, prepare=prepare, limits=LIMITS)


def _room(more: int) -> Callable[[], None]:
    def prepare() -> None:
        pages = int(Path("/proc/self/statm").read_text().split()[0])
        room = pages * resource.getpagesize() + more
        resource.setrlimit(resource.RLIMIT_AS, (room, room))

    return prepare
