"""Whole plans with next to no search: the fuzz asks what the command does, not how heavy a stone
is."""

from contextlib import chdir, redirect_stderr, redirect_stdout
from io import StringIO
from pathlib import Path

CALLS = (
    ("check", "rough.toml", "--out", "marks"),
    ("plan", "rough.toml", "order.toml", "--effort", "quick", "--out", "new"),
    ("sawn", "plan", "sawn.toml", "--out", "after"),
    ("look", "oval"),
)


def shrink() -> None:
    """Make quick and normal effort small, in this process and in its forks."""
    from dataclasses import replace
    from functools import partial

    from optimizer.marking import picture
    from optimizer.offcuts import sizes
    from optimizer.offers import angle_advice
    from optimizer.placement.search import EFFORTS, Effort
    from optimizer.planning import looks, volume_bounds

    small = Effort(rotations=60, centres=8, coarse=12, fine=6, rounds=1, final=2, cells=300)
    EFFORTS["quick"] = small
    EFFORTS["normal"] = replace(small, rounds=2)
    EFFORTS["thorough"] = replace(small, rounds=3)
    EFFORTS["glance"] = replace(small, rotations=30, coarse=6, fine=3, rounds=0)
    volume_bounds.LEAST_CELLS = small.cells
    sizes.EFFORT = Effort(12, 2, 4, 2, 0, 1, 0)
    angle_advice.CROWNS = angle_advice.PAVILIONS = 2
    angle_advice.FINER = 1
    angle_advice.light_over = partial(angle_advice.light_over, places=100)
    looks._QUICK_ACROSS = looks.ACROSS = 48
    looks.rocked_strip = partial(looks.rocked_strip, across=16)
    picture._FINER = 1


def load(desk: Path) -> None:
    """Run each command once in this process, so that its forks have libraries and machine code."""
    import typer

    from optimizer.cli import app

    call = typer.main.get_command(app)
    with chdir(desk), redirect_stdout(StringIO()), redirect_stderr(StringIO()):
        for arguments in CALLS:
            call.main(arguments, standalone_mode=False)
