"""Odd numbers, words and trees of values for tables of keys, and such tables as TOML."""

import copy
import json
import math
from random import Random
from typing import Any

from benchmarks.fuzzing.odd_bytes import damaged

NUMBERS = (
    0, 1, -1, 2, 7, 360, 1e-9, -1e-9, 1e-300, 5e-324, 1e6, 1e12, 1e300, -1e300, 1.8e308, -0.0,
    math.nan, math.inf, -math.inf, 2**31, 2**63 - 1, 2**63, 2**64, -(2**63) - 1, 10**400, 0.1,
)  # fmt: skip
WORDS = (
    "", " ", "a" * 300, "a" * 100_000, "\x1b[31mred\x1b[0m", "\x07", "\x00", "\u202eder", "\x9b1m",
    "two\nlines", "two\u2028lines", "../../etc/passwd", "/dev/zero", "/etc/passwd", ".", "..", "/",
    "violet", "split", "oval", "no such design", "名前", "💎", "ﷺ" * 30, "%s%n{}", "<script>",
    "'\"\\", "nan", "1e999", "-1", "mm", "file://x", "http://[::1", "CON", "~", "$HOME", "a/b.toml",
)  # fmt: skip
WRITTEN_OUT = {  # what Python neither copies nor writes, put into the text in the end
    '"@nested@"': "[" * 5000 + "]" * 5000,
    '"@digits@"': "1" + "0" * 5000,
}
CHANGES = 3  # at most, in one table


def odd(chance: Random) -> Any:
    """A value that is hardly ever meant."""
    kind = chance.random()
    if kind < 0.5:
        return chance.choice(NUMBERS)
    if kind < 0.8:
        return chance.choice(WORDS)
    if kind < 0.95:
        return copy.deepcopy(chance.choice((True, False, [], {}, [[]], [{}], {"a": 1}, [1, "a"])))
    return chance.choice(list(WRITTEN_OUT)).strip('"')


def changed(table: dict[str, Any], chance: Random, most: int = CHANGES) -> dict[str, Any]:
    """A copy of ``table``, one to ``most`` of its values changed, moved, renamed or gone."""
    table = copy.deepcopy(table)
    for _ in range(chance.randint(1, most)):
        if places := _places(table):
            chance.choice(_CHANGES)(*chance.choice(places), table, chance)
    return table


def nudged(table: dict[str, Any], chance: Random, most: int = CHANGES) -> dict[str, Any]:
    """A copy of ``table`` in which one to ``most`` numbers are a little others: what is left is
    mostly of sound shape, and wrong or odd at a closer look."""
    table = copy.deepcopy(table)
    numbers = [(one, at) for one, at in _places(table) if type(one[at]) in (int, float)]
    for one, at in chance.sample(numbers, min(chance.randint(1, most), len(numbers))):
        if isinstance(one[at], int):
            one[at] += chance.choice((-3, -1, 1, 2, 10))
        else:
            one[at] = one[at] * chance.uniform(0.7, 1.4) + chance.choice((0.0, 0.1, -0.1))
    return table


def _places(value: Any) -> list[tuple[Any, Any]]:
    """Every list or table within, with each of its keys or positions."""
    found = []
    keys = list(value) if isinstance(value, dict) else range(len(value))
    for key in keys:
        found.append((value, key))
        if isinstance(value[key], dict | list):
            found += _places(value[key])
    return found


def _put_odd(holder: Any, key: Any, table: Any, chance: Random) -> None:
    holder[key] = odd(chance)


def _scale(holder: Any, key: Any, table: Any, chance: Random) -> None:
    """Any number of the table becomes one that may still be meant."""
    numbers = [(one, at) for one, at in _places(table) if type(one[at]) in (int, float)]
    if numbers:
        one, at = chance.choice(numbers)
        factor = chance.choice((-1.0, 0.001, 0.1, 0.5, 0.9, 1.0 + 1e-12, 1.1, 2.0, 10.0, 1000.0))
        made = one[at] * factor + chance.choice((0.0, 0.0, 1.0, -1.0))
        whole = isinstance(one[at], int) and math.isfinite(made)
        one[at] = int(made) if whole and chance.random() < 0.8 else made


def _drop(holder: Any, key: Any, table: Any, chance: Random) -> None:
    del holder[key]


def _rename(holder: Any, key: Any, table: Any, chance: Random) -> None:
    if isinstance(holder, dict):
        name = chance.choice((key[:-1] or "x", key + "s", key.upper(), chance.choice(WORDS)))
        holder[name] = holder.pop(key)


def _repeat(holder: Any, key: Any, table: Any, chance: Random) -> None:
    if isinstance(holder, list):
        holder.extend([copy.deepcopy(holder[key])] * chance.choice((1, 1, 5, 300)))
    elif isinstance(holder[key], list) and holder[key]:
        holder[key].append(copy.deepcopy(holder[key][-1]))


def _swap(holder: Any, key: Any, table: Any, chance: Random) -> None:
    """The value takes another's place as well."""
    other, at = chance.choice(_places(table))
    other[at] = copy.deepcopy(holder[key])


def _wrap(holder: Any, key: Any, table: Any, chance: Random) -> None:
    holder[key] = [holder[key]] if chance.random() < 0.5 else {"a": holder[key]}


_CHANGES = (
    _put_odd, _put_odd, _put_odd, _scale, _scale, _scale, _drop, _rename, _repeat, _swap, _wrap,
)  # fmt: skip


def toml_bytes(table: dict[str, Any]) -> bytes:
    """``table`` as a TOML file, inner tables in one line."""
    lines = [f"{json.dumps(key)} = {_toml(value)}" for key, value in table.items()]
    return written_out("\n".join(lines) + "\n")


def written_out(text: str) -> bytes:
    """The text in UTF-8, with what was too long to be written before."""
    for mark, whole in WRITTEN_OUT.items():
        text = text.replace(mark, whole)
    return text.encode("utf-8", "surrogatepass")


def _toml(value: Any) -> str:
    match value:
        case bool():
            return "true" if value else "false"
        case str():
            return json.dumps(value, ensure_ascii=False)
        case dict():
            inner = ", ".join(f"{json.dumps(key)} = {_toml(one)}" for key, one in value.items())
            return "{ " + inner + " }"
        case list():
            return "[" + ", ".join(map(_toml, value)) + "]"
    return repr(value)  # a number: nan and inf are written as TOML has them


def odd_toml(table: dict[str, Any], chance: Random) -> bytes:
    """``table`` changed or nudged, as a TOML file, whose bytes are damaged now and then."""
    change = nudged if chance.random() < 0.5 else changed
    text = toml_bytes(change(table, chance))
    return damaged(text, chance) if chance.random() < 0.05 else text
