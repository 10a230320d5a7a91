"""Command lines: options missing, doubled, misspelt and with odd values."""

from pathlib import Path
from random import Random

from benchmarks.fuzzing.case import Case, Limits
from benchmarks.fuzzing.desk import FIXED, lay_box
from benchmarks.fuzzing.odd_values import NUMBERS, WORDS, toml_bytes
from benchmarks.fuzzing.planned import lay_plan

OPTIONS: dict[str, tuple[str, ...]] = {
    "plan": ("--out", "--seed", "--effort", "--prove", "--gap", "--unit", "--replace"),
    "check": ("--out", "--unit", "--replace"),
    "sawn": ("--out", "--effort", "--replace", "--example"),
    "order": ("--out",),
    "designs": ("--out", "--material", "--replace"),
    "look": (
        "--material", "--width", "--set", "--colour", "--towards", "--away", "--tilt", "--azimuth",
        "--offset", "--piece", "--zone", "--axis-to-table", "--light", "--rock", "--out",
    ),
}  # fmt: skip
OPERANDS: dict[str, tuple[str, ...]] = {
    "plan": ("rough.toml", "order.toml"), "check": ("rough.toml",), "sawn": ("plan", "sawn.toml"),
    "order": (), "designs": ("oval",), "look": ("oval",),
}  # fmt: skip
SOUND: dict[str, tuple[str, ...]] = {
    "--out": ("new", "new.png"), "--seed": ("1",),
    "--effort": ("quick",), "--gap": ("1",), "--unit": ("mm",), "--width": ("8",),
    "--material": ("quartz", "topaz"),
    "--set": ("crown=35", "pavilion=42", "table=0.5"), "--colour": ("7a4fb0@5", "705040/a08070@5"),
    "--towards": ("7a4fb0@5",), "--away": ("e8b83a@5",), "--tilt": ("10",), "--azimuth": ("20",),
    "--offset": ("0.2",), "--piece": ("rough.toml",), "--zone": ("split",),
    "--axis-to-table": ("30",), "--light": ("lamp", "open sky"),
}  # fmt: skip
MORE = ("--help", "--version", "--no-such", "-x", "--", "", "again", "--out=", "--seed=1", "-")

EAGER = {"--help", "--version", "--example"}  # answered at once: nothing is written


def case(desk: Path, chance: Random) -> Case:
    """A drawn command line. What it may write has a new name; all else on the desk stays."""
    lay_box(desk)
    lay_plan(desk)
    (desk / "order.toml").write_bytes(toml_bytes(FIXED))
    (desk / "sawn.toml").write_bytes(toml_bytes({"cut": 1}))
    call, out = _drawn(chance)
    return Case(tuple(call), out=out, limits=Limits(cpu_s=60.0))


def _drawn(chance: Random) -> tuple[list[str], str | None]:
    command = chance.choice(list(OPTIONS))
    operands = [_or_odd(word, 0.1, chance) for word in OPERANDS[command] if chance.random() < 0.95]
    call, out = [command, *operands], None
    for option in OPTIONS[command]:
        if chance.random() < (0.9 if option == "--out" and command in ("plan", "sawn") else 0.25):
            value = _value(option, chance)
            call += [option] if value is None else [option, value]
            if option == "--out":
                out = value if value and value.startswith(("new", "no-such", "plan")) else None
    if chance.random() < 0.2:
        call.insert(chance.randint(0, len(call)), chance.choice(MORE))
    if chance.random() < 0.1:
        call[0] = chance.choice((command[:-1], command.upper(), "", "cut", "\x1b[31m"))
    return call, None if EAGER & set(call) else out


def _value(option: str, chance: Random) -> str | None:
    if option not in SOUND:
        return None
    if option == "--out":  # no odd places: those are for the paths
        return chance.choice((*SOUND[option], "plan", "rough.toml", "", "no-such/new"))
    return _or_odd(chance.choice(SOUND[option]), 0.3, chance)


def _or_odd(word: str, share: float, chance: Random) -> str:
    if chance.random() >= share:
        return word
    odd = str(chance.choice((*NUMBERS[:-2], *WORDS)))
    whole = chance.choice((odd, odd, word + odd, word[:-1], f"crown={odd}", f"{odd}@5"))
    return whole.replace("\0", "")
