"""Little memory: an address space that ends a few megabytes further on."""

import mmap
import resource
from collections.abc import Callable
from pathlib import Path
from random import Random

from benchmarks.fuzzing.case import NEVER, Case
from benchmarks.fuzzing.signals import LIMITS, lay, sound

MEGABYTE = 1_000_000
RESERVED = 3000 * MEGABYTE  # so that it is no small address space, only one that is taken


def case(desk: Path, chance: Random) -> Case:
    """A sound command in an address space that ends soon, or is small from the beginning."""
    lay(desk)
    call, out = sound(chance)
    if chance.random() < 0.2:
        prepare = _small(round(chance.uniform(200.0, 3000.0)) * MEGABYTE)
        return Case(call, out, start="whole", prepare=prepare, limits=LIMITS)
    prepare = _room(round(10.0 ** chance.uniform(1.0, 2.7)) * MEGABYTE)
    return Case(call, out, reports=NEVER, prepare=prepare, limits=LIMITS)


def _small(room: int) -> Callable[[], None]:
    def prepare() -> None:
        resource.setrlimit(resource.RLIMIT_AS, (room, room))

    return prepare


def _room(more: int) -> Callable[[], None]:
    def prepare() -> None:
        held.append(mmap.mmap(-1, RESERVED, prot=0))
        pages = int(Path("/proc/self/statm").read_text().split()[0])
        room = pages * resource.getpagesize() + more
        resource.setrlimit(resource.RLIMIT_AS, (room, room))

    return prepare


held: list[mmap.mmap] = []
