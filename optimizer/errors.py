"""What can go wrong, as sentences a cutter can act on."""

from collections.abc import Iterable
from difflib import get_close_matches


class InputError(ValueError):
    """The input or the call is bad. The message is one line: what, where, what to do."""


class AuditError(RuntimeError):
    """The independent check refused the result; nothing may be written."""


def nearest(name: str, known: Iterable[str], also: Iterable[str] = ()) -> str:
    """A hint that names the nearest known word, or lists them all; words ``also`` known are named
    but not listed.

    >>> nearest("ovel", ["oval", "pear"])
    'did you mean "oval"?'
    """
    known = sorted(known)
    close = get_close_matches(name, [*known, *also], n=1, cutoff=0.65)
    if close:
        return f'did you mean "{close[0]}"?'
    return "known: " + ", ".join(known) if known else "none is defined"


def ordinal(position: int) -> str:
    """The place of what stands at ``position`` of a list, counted from 0.

    >>> ordinal(1), ordinal(10), ordinal(21)
    ('second', '11th', '22nd')
    """
    if position < len(_ORDINALS):
        return _ORDINALS[position]
    number = position + 1
    teens = 10 < number % 100 < 20
    return f"{number}{'th' if teens else _ENDINGS.get(number % 10, 'th')}"


_ORDINALS = (
    "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth",
)  # fmt: skip
_ENDINGS = {1: "st", 2: "nd", 3: "rd"}
