"""What a case of the fuzz is, and what became of it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Literal, TypeAlias

STATUSES = frozenset({0, 2, 3, 4, 130})  # as documented
ENDED = frozenset({129, 143})  # by SIGHUP and SIGTERM
AT_ONCE, NEVER = 0, None  # when the search is stopped

Start: TypeAlias = Literal["fork", "small", "whole"]


@dataclass(frozen=True)
class Limits:
    """What a run may take: seconds of processor time, and megabytes beside the program's code."""

    cpu_s: float = 20.0
    memory_mb: float = 1000.0


@dataclass(frozen=True)
class Case:
    """One run of the command on a desk.

    It is started as a fork of the fuzz, or in a fresh interpreter, where whole plans are small or
    whole. Paths in ``arguments`` and ``out`` are as seen from the desk. ``reports`` counts how
    often the search reports its progress before Ctrl-C stops it: ``AT_ONCE`` ends it where it would
    begin, ``NEVER`` lets it go on. ``prepare`` runs in the child just before the command.
    ``signals`` are sent from outside once the child has taken so many seconds of processor time.
    """

    arguments: tuple[str, ...]
    out: str | None = None  # the file or folder that may be written
    reports: int | None = AT_ONCE
    start: Start = "fork"
    environment: Mapping[str, str | None] = field(default_factory=dict)  # None: not set
    prepare: Callable[[], None] | None = None
    signals: tuple[tuple[float, int], ...] = ()
    mute: bool = False  # nobody hears what it says
    mortal: bool = False  # a signal may end it; the same command must then succeed
    statuses: frozenset[int] = STATUSES
    limits: Limits = Limits()


@dataclass(frozen=True)
class Outcome:
    """How a run ended: its exit status, or minus the signal that ended it."""

    status: int
    said: bytes  # on stdout
    told: bytes  # on stderr
    cpu_s: float
    memory_mb: float  # over what the child began with
    still: bool = False  # it waited for something for ever, and was killed


Subject: TypeAlias = Callable[[Path, Random], Case]
