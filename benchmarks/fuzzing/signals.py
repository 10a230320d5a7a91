"""Signals at random moments: to stop, to end, to hang up, to die in the middle of writing."""

import signal
from collections.abc import Callable
from pathlib import Path
from random import Random

from benchmarks.fuzzing.case import ENDED, NEVER, STATUSES, Case, Limits
from benchmarks.fuzzing.desk import FIXED, lay_box
from benchmarks.fuzzing.odd_values import toml_bytes
from benchmarks.fuzzing.planned import lay_plan
from benchmarks.fuzzing.sawn_files import CALL
from benchmarks.fuzzing.strikes import DIE, at_write, kill, unheard

LIMITS = Limits(cpu_s=60.0)
LONGEST_S = 3.0  # of processor time: a little more than the longest of these commands takes
STARTS_S = 0.1  # a fresh interpreter reads its own files first, and answers in its own way
WRITES = 60  # of files, at most, by one of these commands
SOFT = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)


def case(desk: Path, chance: Random) -> Case:
    """A sound command, disturbed."""
    lay(desk)
    call, out = sound(chance)
    how = chance.choice((_soft, _soft, _soft_at_write, _early, _dead, _dead, _unheard))
    return how(call, out, chance)


def lay(desk: Path) -> None:
    """All that the sound commands read."""
    lay_box(desk)
    lay_plan(desk)
    (desk / "order.toml").write_bytes(toml_bytes({**FIXED, "workshop": {"most_cuts": 2}}))
    (desk / "sawn.toml").write_bytes(toml_bytes({"cut": 1}))


def sound(chance: Random) -> tuple[tuple[str, ...], str]:
    """A command that writes a folder, and that folder."""
    plan = ("plan", "rough.toml", "order.toml", "--effort", "quick", "--out")
    return chance.choice((
        ((*plan, "new"), "new"), ((*plan, "plan", "--replace"), "plan"), (CALL, "after"),
        (("check", "rough.toml", "--out", "new"), "new"),
        (("check", "rough.toml", "--out", "plan", "--replace"), "plan"),
    ))  # fmt: skip


def _soft(call: tuple[str, ...], out: str, chance: Random) -> Case:
    """Once, twice or more, at any moment."""
    sent = sorted(
        (chance.uniform(0.03, LONGEST_S), chance.choice(SOFT))
        for _ in range(chance.choice((1, 1, 2, 3)))
    )
    return Case(
        call,
        out,
        reports=NEVER,
        signals=tuple(sent),
        mortal=True,
        statuses=STATUSES | ENDED,
        limits=LIMITS,
    )


def _soft_at_write(call: tuple[str, ...], out: str, chance: Random) -> Case:
    """In the middle of writing."""
    return _struck_at_write(call, out, chance, kill(chance.choice(SOFT)))


def _dead(call: tuple[str, ...], out: str, chance: Random) -> Case:
    """kill -9 in the middle of writing, then the same again."""
    return _struck_at_write(call, out, chance, DIE)


def _struck_at_write(
    call: tuple[str, ...], out: str, chance: Random, strike: Callable[[], None]
) -> Case:
    prepare = at_write(chance.randrange(WRITES), strike)
    return Case(
        call,
        out,
        reports=NEVER,
        prepare=prepare,
        mortal=True,
        statuses=STATUSES | ENDED,
        limits=LIMITS,
    )


def _early(call: tuple[str, ...], out: str, chance: Random) -> Case:
    """While a fresh interpreter still loads its libraries."""
    sent = ((chance.uniform(STARTS_S, 1.5), chance.choice(SOFT)),)
    return Case(
        call,
        out,
        reports=NEVER,
        start="whole",
        signals=sent,
        mortal=True,
        statuses=STATUSES | ENDED,
        limits=LIMITS,
    )


def _unheard(call: tuple[str, ...], out: str, chance: Random) -> Case:
    """Nobody reads what it says: the work is done all the same."""
    prepare = unheard(*chance.choice(((1,), (2,), (1, 2))))
    return Case(
        call, out, reports=NEVER, prepare=prepare, mute=True, statuses=frozenset({0, 3}),
        limits=LIMITS,
    )  # fmt: skip
