"""Disks that are full, break or refuse, at any write."""

import errno
import os
import resource
import subprocess
from collections.abc import Callable
from pathlib import Path
from random import Random

from benchmarks.fuzzing.case import NEVER, Case
from benchmarks.fuzzing.signals import LIMITS, WRITES, lay, sound
from benchmarks.fuzzing.strikes import at_write, refuse

REFUSALS = (errno.ENOSPC, errno.EIO, errno.EACCES, errno.EROFS, errno.EDQUOT, errno.EMFILE)
DISK = "disk"  # on the desk, where this user may mount one


def case(desk: Path, chance: Random) -> Case:
    """A sound command that can't write all of its files."""
    lay(desk)
    how = chance.choice((_refused, _refused, _short_files, _small_disk))
    return how(*sound(chance), desk, chance)


def _case(arguments: tuple[str, ...], out: str, prepare: Callable[[], None] | None) -> Case:
    return Case(arguments, out, reports=NEVER, prepare=prepare, limits=LIMITS)


def _refused(arguments: tuple[str, ...], out: str, desk: Path, chance: Random) -> Case:
    prepare = at_write(chance.randrange(WRITES), refuse(chance.choice(REFUSALS)))
    return _case(arguments, out, prepare)


def _short_files(arguments: tuple[str, ...], out: str, desk: Path, chance: Random) -> Case:
    """No file may grow beyond so many bytes: to the program as if the disk were full."""
    most = round(10.0 ** chance.uniform(2.0, 6.5))

    def prepare() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))

    return _case(arguments, out, prepare)


def _small_disk(arguments: tuple[str, ...], out: str, desk: Path, chance: Random) -> Case:
    """A disk of its own with so many bytes; none where this user may not mount one."""
    most = round(10.0 ** chance.uniform(3.5, 6.5))
    (desk / DISK).mkdir()
    options = ("-t", "tmpfs", "-o", f"size={most},mode=777", "none", str(desk / DISK))
    if os.geteuid() or subprocess.run(("mount", *options), capture_output=True).returncode:
        return _short_files(arguments, out, desk, chance)
    new = f"{DISK}/new"
    moved = tuple(new if word == out else word for word in arguments if word != "--replace")
    return _case(moved, new, None)


def unmount(desk: Path) -> None:
    """Take the disk away again."""
    if (desk / DISK).is_mount():
        subprocess.run(("umount", "--lazy", str(desk / DISK)), check=True)
