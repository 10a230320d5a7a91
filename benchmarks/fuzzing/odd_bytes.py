"""Bytes cut short, changed, copied and nested, as broken disks and hostile hands leave them."""

import re
import struct
from random import Random

LEAST_NUMBERS = (0, 1, 255, 65535, 2**31 - 1, 2**31, 2**32 - 1)
HEAD = 400  # bytes in which counts and lengths stand


def damaged(data: bytes, chance: Random) -> bytes:
    """``data`` with one to four kinds of damage."""
    for _ in range(chance.choice((1, 1, 1, 2, 3, 4))):
        data = chance.choice(_DAMAGES)(data, chance)
    return data


def _cut(data: bytes, chance: Random) -> bytes:
    return data[: chance.randint(0, len(data))]


def _change(data: bytes, chance: Random) -> bytes:
    changed = bytearray(data)
    for _ in range(min(len(changed), chance.choice((1, 4, 64)))):
        changed[chance.randrange(len(changed))] = chance.randrange(256)
    return bytes(changed)


def _early_change(data: bytes, chance: Random) -> bytes:
    return _change(data[:HEAD], chance) + data[HEAD:]


def _copy(data: bytes, chance: Random) -> bytes:
    start, end = sorted(chance.randint(0, len(data)) for _ in range(2))
    place = chance.randint(0, len(data))
    return data[:place] + data[start:end] + data[place:]


def _absurd_binary(data: bytes, chance: Random) -> bytes:
    place = chance.randint(0, min(len(data), HEAD))
    return data[:place] + struct.pack("<I", chance.choice(LEAST_NUMBERS)) + data[place + 4 :]


def _absurd_text(data: bytes, chance: Random) -> bytes:
    """One of the first numbers in the text becomes absurd."""
    found = list(re.finditer(rb"-?\d+(\.\d+)?", data[:4000]))
    if not found:
        return data
    number = chance.choice(found)
    absurd = chance.choice((b"-1", b"0", b"1e999", b"nan", b"9" * 15, b"9" * 6000, b"2147483648"))
    return data[: number.start()] + absurd + data[number.end() :]


def _random_behind(data: bytes, chance: Random) -> bytes:
    return data[: chance.randint(0, HEAD)] + chance.randbytes(chance.randint(0, 4000))


def _nested(data: bytes, chance: Random) -> bytes:
    what = chance.choice((b"[", b"{", b"<a>", b"(", b'{"a":[', b"<x:a xmlns:x='y'>", b"[[a]]\n"))
    place = chance.randint(0, len(data))
    return data[:place] + what * chance.choice((100, 100_000)) + data[place:]


_DAMAGES = (
    _cut, _change, _early_change, _copy, _absurd_binary, _absurd_text, _random_behind, _nested,
)  # fmt: skip
